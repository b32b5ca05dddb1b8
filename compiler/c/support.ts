/** The small static functions an emitted file brings along, each only where it is used. */

/** Text of each function by name; a function may use those listed before it. */
const functions: ReadonlyMap<string, string> = new Map([
  [
    'lw_i32_of_u32',
    `/* The signed number with the same pattern. C leaves this conversion to the compiler; the start-up check looks. */
static int32_t lw_i32_of_u32(uint32_t x)
{
    return (int32_t)x;
}`,
  ],
  ...(
    [
      ['add', '+', 'Wraps at 32 bits.'],
      ['sub', '-', 'Wraps at 32 bits.'],
      ['mul', '*', 'Wraps at 32 bits.'],
      ['and', '&', 'Bit by bit.'],
      ['or', '|', 'Bit by bit.'],
      ['xor', '^', 'Bit by bit.'],
    ] as const
  ).map(([name, sign, says]): [string, string] => [
    `lw_${name}_i32`,
    `/* ${says} */
static int32_t lw_${name}_i32(int32_t a, int32_t b)
{
    return lw_i32_of_u32((uint32_t)a ${sign} (uint32_t)b);
}`,
  ]),
  [
    'lw_i32_from_bool',
    `static int32_t lw_i32_from_bool(bool x)
{
    int32_t whole = 0;
    if (x) {
        whole = 1;
    }
    return whole;
}`,
  ],
  [
    'lw_shl_i32',
    `static int32_t lw_shl_i32(int32_t a, int32_t b)
{
    return lw_i32_of_u32((uint32_t)a << ((uint32_t)b & 31U));
}`,
  ],
  [
    'lw_ushr_i32',
    `static int32_t lw_ushr_i32(int32_t a, int32_t b)
{
    return lw_i32_of_u32((uint32_t)a >> ((uint32_t)b & 31U));
}`,
  ],
  [
    'lw_shr_i32',
    `/* Keeps the sign; what is shifted is never negative, and compilers take it for the one instruction it is. */
static int32_t lw_shr_i32(int32_t a, int32_t b)
{
    const uint32_t by = (uint32_t)b & 31U;
    return (a < 0) ? ~(~a >> by) : (a >> by);
}`,
  ],
  [
    'lw_div_i32',
    `/* Truncates; x / 0 is 0; the one quotient that does not fit wraps. */
static int32_t lw_div_i32(int32_t a, int32_t b)
{
    int32_t quotient = 0;
    if (b == -1) {
        quotient = lw_i32_of_u32(0U - (uint32_t)a);
    } else if (b != 0) {
        quotient = a / b;
    } else {
        /* stays 0 */
    }
    return quotient;
}`,
  ],
  [
    'lw_rem_i32',
    `/* Has the sign of a; x rem 0 is 0. */
static int32_t lw_rem_i32(int32_t a, int32_t b)
{
    return ((b == 0) || (b == -1)) ? 0 : (a % b);
}`,
  ],
  [
    'lw_i32_from_f32',
    `/* Truncates; stops at the ends of the range; not-a-number is 0. */
static int32_t lw_i32_from_f32(float x)
{
    int32_t whole = 0;
    if (x >= 2147483648.0f) {
        whole = INT32_MAX;
    } else if (x < -2147483648.0f) {
        whole = (-2147483647 - 1);
    } else if (!isnan(x)) {
        whole = (int32_t)x;
    } else {
        /* stays 0 */
    }
    return whole;
}`,
  ],
  [
    'lw_i32_from_f64',
    `/* Truncates; stops at the ends of the range; not-a-number is 0. */
static int32_t lw_i32_from_f64(double x)
{
    int32_t whole = 0;
    if (x >= 2147483648.0) {
        whole = INT32_MAX;
    } else if (x <= -2147483649.0) {
        whole = (-2147483647 - 1);
    } else if (!isnan(x)) {
        whole = (int32_t)x;
    } else {
        /* stays 0 */
    }
    return whole;
}`,
  ],
  [
    'lw_bits_f32',
    `/* The IEEE 754 pattern; one for every not-a-number. */
static int32_t lw_bits_f32(float x)
{
    uint32_t bits = 0x7fc00000U;
    if (!isnan(x)) {
        (void)memcpy(&bits, &x, sizeof bits);
    }
    return lw_i32_of_u32(bits);
}`,
  ],
  [
    'lw_f32_of_bits',
    `static float lw_f32_of_bits(int32_t bits)
{
    float x = 0.0f;
    (void)memcpy(&x, &bits, sizeof x);
    return x;
}`,
  ],
  [
    'lw_pattern_f64',
    `/* The IEEE 754 pattern; one for every not-a-number. */
static uint64_t lw_pattern_f64(double x)
{
    uint64_t bits = UINT64_C(0x7ff8000000000000);
    if (!isnan(x)) {
        (void)memcpy(&bits, &x, sizeof bits);
    }
    return bits;
}`,
  ],
  [
    'lw_high_f64',
    `static int32_t lw_high_f64(double x)
{
    return lw_i32_of_u32((uint32_t)(lw_pattern_f64(x) >> 32U));
}`,
  ],
  [
    'lw_low_f64',
    `static int32_t lw_low_f64(double x)
{
    return lw_i32_of_u32((uint32_t)(lw_pattern_f64(x) & 0xffffffffU));
}`,
  ],
  [
    'lw_f64_of_words',
    `static double lw_f64_of_words(int32_t high, int32_t low)
{
    const uint64_t bits = ((uint64_t)(uint32_t)high << 32U) | (uint64_t)(uint32_t)low;
    double x = 0.0;
    (void)memcpy(&x, &bits, sizeof x);
    return x;
}`,
  ],
  [
    'lw_index',
    `/* Brings an index into an array of this length. */
static int32_t lw_index(int32_t index, int32_t length)
{
    int32_t inside = index;
    if (index < 0) {
        inside = 0;
    } else if (index >= length) {
        inside = length - 1;
    } else {
        /* it is inside */
    }
    return inside;
}`,
  ],
  [
    'lw_ago',
    `/* Where a delay line of this length keeps what was pushed \`ago\` pushes ago. */
static int32_t lw_ago(int32_t head, int32_t ago, int32_t length)
{
    int32_t back = ago;
    if ((ago < 1) || (ago > length)) {
        back = (ago < 1) ? 1 : length;
    }
    int32_t place = head - back;
    if (place < 0) {
        place += length;
    }
    return place;
}`,
  ],
  [
    'lw_after',
    `/* The place after this one in a delay line of this length. */
static int32_t lw_after(int32_t head, int32_t length)
{
    int32_t place = head + 1;
    if (place >= length) {
        place = 0;
    }
    return place;
}`,
  ],
  [
    'lw_div_f32',
    `/*
 * A quotient rounded to nearest even, where the compiler's own division rounds subnormal quotients otherwise:
 * long division of the two whole-number parts, then the rest decides.
 */
static float lw_div_f32(float a, float b)
{
    float quotient = a / b;
    const float size = (quotient < 0.0f) ? -quotient : quotient;
    if ((size < 2.3509887e-38f) && (a != 0.0f) && ((b - b) == 0.0f)) {
        uint32_t x = 0;
        uint32_t y = 0;
        uint32_t whole = 0;
        int16_t x_exponent = 0;
        int16_t y_exponent = 0;
        int16_t steps = 0;
        (void)memcpy(&x, &a, sizeof x);
        (void)memcpy(&y, &b, sizeof y);
        const uint32_t sign = (x ^ y) & 0x80000000U;
        const uint32_t x_field = (x >> 23U) & 0xffU;
        const uint32_t y_field = (y >> 23U) & 0xffU;
        x_exponent = (int16_t)x_field;
        y_exponent = (int16_t)y_field;
        x &= 0x7fffffU;
        y &= 0x7fffffU;
        if (x_exponent > 0) {
            x |= 0x800000U;
        } else {
            x_exponent = 1;
        }
        if (y_exponent > 0) {
            y |= 0x800000U;
        } else {
            y_exponent = 1;
        }
        while (x < 0x800000U) {
            x <<= 1U;
            x_exponent--;
        }
        while (y < 0x800000U) {
            y <<= 1U;
            y_exponent--;
        }
        for (steps = (int16_t)(x_exponent - y_exponent + 149); steps >= 0; steps--) {
            whole <<= 1U;
            if (x >= y) {
                x -= y;
                whole |= 1U;
            }
            x <<= 1U;
        }
        if ((steps == -1) && ((x > y) || ((x == y) && ((whole & 1U) != 0U)))) {
            whole++;
        }
        whole |= sign;
        (void)memcpy(&quotient, &whole, sizeof quotient);
    }
    return quotient;
}`,
  ],
]);

const use = /\blw_\w+(?=\()/g;

/** The functions that a text calls, with those they call in turn, in an order that needs no prototypes. */
export function supportFor(text: string): string[] {
  const wanted = new Set(text.match(use));
  const chosen: string[] = [];
  for (const [name, body] of [...functions].reverse()) {
    if (!wanted.has(name)) continue;
    for (const used of body.match(use) ?? []) wanted.add(used);
    chosen.unshift(body);
  }
  return chosen;
}
