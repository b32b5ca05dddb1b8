/**
 * Names in the emitted C. A dot of the sheet becomes `_`; a name that C, C++ or a usual header has taken gets a `_` at
 * its end, and a name that is there already gets a number.
 */

const taken = new Set(
  [
    // C99, C11, C23 and C++ keywords and the alternative spellings.
    'auto break case char const continue default do double else enum extern float for goto if inline int long register',
    'restrict return short signed sizeof static struct switch typedef union unsigned void volatile while',
    'alignas alignof bool constexpr false nullptr static_assert thread_local true typeof typeof_unqual',
    'and and_eq asm bitand bitor catch char8_t char16_t char32_t class co_await co_return co_yield compl concept',
    'consteval constinit const_cast decltype delete dynamic_cast explicit export friend mutable namespace new noexcept',
    'not not_eq operator or or_eq private protected public reinterpret_cast requires static_cast template this throw',
    'try typeid typename using virtual wchar_t xor xor_eq',
    // Macros and functions of the headers the C includes, and of compilers in their GNU mode.
    'NAN INFINITY HUGE_VAL HUGE_VALF NULL EOF errno assert offsetof memcpy linux unix i386 near far huge interrupt',
    'stdin stdout stderr signbit isnan isinf isfinite isnormal fpclassify FP_NAN FP_INFINITE FP_ZERO',
    'fabs fabsf sqrt sqrtf floor floorf trunc truncf M_PI M_E',
    // Macros of common board headers.
    'PI HALF_PI TWO_PI DEG_TO_RAD RAD_TO_DEG HIGH LOW INPUT OUTPUT F_CPU SP SREG PORTA PORTB PORTC PORTD',
  ]
    .join(' ')
    .split(' '),
);

/** The C spelling of a name of the sheet, whatever else is there. */
export function cName(name: string): string {
  const plain = name.replace(/[^A-Za-z0-9_]/g, '_').replace(/^(?=\d)/, 'n');
  const ours =
    plain.startsWith('lw_') ||
    plain.startsWith('_') ||
    /^(u?int\d+|size|ptrdiff|float|double)_t$/.test(plain) ||
    /^U?INT\d+_(C|MAX|MIN)$/.test(plain);
  return taken.has(plain) || ours ? `${plain.replace(/^_+/, 'n_')}_` : plain;
}

/** Files that stand beside the program's own, whatever it is called, and headers that a compiler may look for beside it. */
const takenFiles = new Set(
  [
    'selfcheck board channels channels_none run fmu makefile readme library',
    'assert complex ctype errno fenv float inttypes iso646 limits locale math setjmp signal stdarg stdbool stddef stdint',
    'stdio stdlib string strings tgmath time unistd wchar wctype',
  ]
    .join(' ')
    .split(' '),
);

/** The name of the program's files without their ending: the sheet's, where `make` and every file system can take it. */
export function fileName(name: string): string {
  const plain = name.replace(/[^A-Za-z0-9_.-]/g, '_').replace(/^[.-]/, '_');
  return takenFiles.has(plain.toLowerCase()) ? `${plain}_` : plain;
}

/** What everything exported begins with: the name of the files, as C can spell it. */
export function prefixOf(name: string): string {
  return cName(fileName(name));
}

/** Names that must differ from one another. */
export class Names {
  private readonly used: Set<string>;

  constructor(used: Iterable<string> = []) {
    this.used = new Set(used);
  }

  /** The wanted name, or the first of `NAME_2`, `NAME_3` … that is free. */
  take(wanted: string): string {
    const base = cName(wanted);
    let name = base;
    for (let number = 2; this.used.has(name); number++) name = `${base}_${number}`;
    this.used.add(name);
    return name;
  }

  /** The first of these that is free, else a numbered one. */
  takeFirst(wanted: readonly string[]): string {
    return this.take(wanted.find((name) => !this.used.has(name)) ?? wanted[0] ?? 'x');
  }

  /** A name whose scope has ended. */
  giveBack(name: string): void {
    this.used.delete(name);
  }
}
