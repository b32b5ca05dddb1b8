/** What an emitted file demands of its compiler, and the start-up check that the machine really computes so. */

import type { Real } from '../ir/program.ts';
import { literal } from './literals.ts';

/** Guards for the top of the source; `reals` are the types the program computes with. */
export function guards(reals: readonly Real[]): string {
  const digits = { f32: 'FLT', f64: 'DBL' } as const;
  const expected = { f32: [24, 128], f64: [53, 1024] } as const;
  const widths = reals.map(
    (
      real,
    ) => `#if defined(${digits[real]}_MANT_DIG) && defined(${digits[real]}_MAX_EXP) && ((${digits[real]}_MANT_DIG != ${expected[real][0]}) || (${digits[real]}_MAX_EXP != ${expected[real][1]}))
#error "${real === 'f32' ? 'float' : 'double'} must be the IEEE 754 ${real === 'f32' ? 'single' : 'double'} format"
#endif`,
  );
  return `/* The same bits everywhere: one rounding an operation, nothing reordered, nothing assumed away. */
#if defined(__FAST_MATH__) || defined(__ASSOCIATIVE_MATH__) || defined(__RECIPROCAL_MATH__) || defined(__NO_SIGNED_ZEROS__)
#error "compile without -ffast-math and its parts"
#endif
#if defined(__FINITE_MATH_ONLY__) && (__FINITE_MATH_ONLY__ > 0)
#error "compile without -ffinite-math-only: not-a-number must be seen"
#endif
#if defined(FLT_EVAL_METHOD) && (FLT_EVAL_METHOD != 0)
#error "every operation must round to its own type (FLT_EVAL_METHOD 0; on 32-bit x86: -msse2 -mfpmath=sse)"
#endif
#if defined(CHAR_BIT) && (CHAR_BIT != 8)
#error "a byte must have 8 bits"
#endif
${widths.join('\n')}
#if defined(__clang__)
#pragma STDC FP_CONTRACT OFF
#elif defined(__GNUC__)
#pragma GCC optimize ("fp-contract=off")
#else
/* Switch contraction (fused multiply-add) off in the build; the start-up check sees it if it is on. */
#endif`;
}

/** What the start-up check has to look at. */
export interface Checked {
  readonly reals: readonly Real[];
  /** How the program divides two f32; undefined if it never does. */
  readonly divide: ((a: string, b: string) => string) | undefined;
}

/** The probes and `NAME_arithmetic_ok`. Operands are volatile, so that nothing is worked out beforehand. */
export function arithmeticCheck(name: string, { reals, divide }: Checked): string {
  const calls = reals.map((real) => `(probe_${real}() != 0)`).join(' && ') || 'true';
  return `/* The start-up check. Its operands are volatile, so that no compiler works anything out beforehand. */
${reals.map((real) => probe(real, divide)).join('\n\n')}

int ${name}_arithmetic_ok(void)
{
    return ${reals.length > 1 ? `(${calls})` : calls} ? 1 : 0;
}`;
}

function probe(real: Real, divide: Checked['divide']): string {
  const type = real === 'f32' ? 'float' : 'double';
  const number = (value: number): string => literal(real, value);
  const [bits, tiniest, smallest] = real === 'f32' ? [23, 2 ** -149, 2 ** -126] : [52, 2 ** -1074, 2 ** -1022];
  const half = (bits + 3) >> 1;
  const operand = (label: string, value: number): string => `    volatile ${type} ${label} = ${number(value)};`;
  return `static int probe_${real}(void)
{
    volatile uint32_t any_pattern = 0xffffffffU;
${operand('any_one', 1)}
${operand('any_zero', 0)}
${operand('any_part', 2 ** -half)}
${operand('any_square', 1 + 2 ** (1 - half))}
${operand('any_ulp', 2 ** -bits)}
${operand('any_smallest', smallest)}
${operand('any_tiniest', tiniest)}
${operand('any_third', real === 'f32' ? Math.fround(1 / 3) : 1 / 3)}
    const ${type} one = any_one;
    const ${type} part = one + any_part;
    const ${type} square = any_square;
    const ${type} ulp = any_ulp;
    const ${type} smallest = any_smallest;
    const ${type} tiniest = any_tiniest;
    const ${type} third = any_third;
    const ${type} zero = any_zero;
    const ${type} nothing = zero / (one - one);
    int ok = 1;
    if (((part * part) - square) != ${number(0)}) {
        ok = 0; /* a product was not rounded before the sum: contraction */
    }
    if (((one + (ulp / ${number(2)})) != one) || ((one + (ulp * ${number(1.5)})) != (one + (ulp * ${number(2)})))) {
        ok = 0; /* not rounded to nearest even, or kept wider than its type */
    }
    if (((smallest * ${number(0.5)}) * ${number(2)}) != smallest) {
        ok = 0; /* a subnormal result was flushed to zero */
    }
    if ((tiniest * ${number(2 ** bits)}) != smallest) {
        ok = 0; /* a subnormal operand was taken as zero */
    }
${real === 'f64' ? doubleLiterals : ''}    if (!isnan(nothing) || !((one / (zero * -one)) < zero)) {
        ok = 0; /* not-a-number or the sign of zero is not kept */
    }
    if ((int32_t)any_pattern != -1) {
        ok = 0; /* a signed number is not the one with the same pattern */
    }
    if ((one / ${number(3)}) != third) {
        ok = 0; /* division does not round correctly */
    }
${real === 'f32' && divide !== undefined ? subnormalQuotient(divide) : ''}    return ok;
}`;
}

/** A quotient that avr-gcc 5.4's library gives one unit too low (measured on 11 of 1500 subnormal quotients). */
function subnormalQuotient(divide: (a: string, b: string) => string): string {
  const [over, under, quotient] = [0x0c819113, 0x4c374d98, 0x002d3cef].map((bits) =>
    literal('f32', new Float32Array(Uint32Array.of(bits).buffer)[0] ?? 0),
  );
  return `    {
        volatile float any_over = ${over};
        volatile float any_under = ${under};
        const float over = any_over;
        const float under = any_under;
        if ((${divide('over', 'under')}) != ${quotient}) {
            ok = 0; /* a subnormal quotient does not round correctly: emit with own division */
        }
    }
`;
}

const doubleLiterals = `    if ((double)(float)third == third) {
        ok = 0; /* literals are read in single precision */
    }
`;
