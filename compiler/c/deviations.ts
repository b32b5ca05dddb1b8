/** Where the emitted C departs from MISRA C:2012 as cppcheck checks it, and why; a test holds it to this list. */

export interface Deviation {
  /** cppcheck's name for the rule. */
  readonly rule: string;
  readonly reason: string;
}

export const deviations: readonly Deviation[] = [
  {
    rule: 'misra-c2012-10.1',
    reason:
      'What lw_shr_i32 shifts is signed but never negative, which C defines; written so, compilers take it for their one arithmetic shift.',
  },
  {
    rule: 'misra-c2012-21.15',
    reason:
      'memcpy between a real number and a whole number of its size is how C99 reads and makes a bit pattern; a union or a pointer cast is worse.',
  },
  {
    rule: 'misra-c2012-12.1',
    reason:
      'Every operand of a choice (?:) that is an operation stands in parentheses; the addon counts some of them all the same.',
  },
  {
    rule: 'misra-c2012-10.4',
    reason:
      'Two comparisons compared with one another are both essentially boolean; the addon takes one for a whole number.',
  },
  {
    rule: 'misra-c2012-10.6',
    reason:
      'A choice between two small constants has a narrower essential type than the int32_t it is put into; no value changes.',
  },
];
