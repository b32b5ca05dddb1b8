/** Random syntax for the property tests: what people could write, and nothing the parser would spell otherwise. */

import fc from 'fast-check';
import type {
  BinaryOperator,
  BlockText,
  Expression,
  TypeExpression,
  UnitExpression,
} from '../../compiler/language/syntax.ts';

const at = { line: 0, column: 0 };

const name = fc.constantFrom('a', 'b', 'u', 'y2', 'long_name', 'Gain', 'left', 'd');

const unit: fc.Arbitrary<UnitExpression> = fc.constantFrom(
  { factors: [{ symbol: 'ms', power: 1 }], text: 'ms' },
  {
    factors: [
      { symbol: 'N', power: 1 },
      { symbol: 'm', power: 1 },
      { symbol: 'rad', power: -1 },
    ],
    text: 'N m/rad',
  },
  {
    factors: [
      { symbol: 'kg', power: 1 },
      { symbol: 'm', power: 2 },
      { symbol: 's', power: -1 },
      { symbol: 'A', power: -1 },
    ],
    text: 'kg m^2/s A',
  },
);

/** SI values do not take part in the comparison: the unit tests hold those. */
const number: fc.Arbitrary<Expression> = fc
  .tuple(fc.constantFrom('0', '1', '2.5', '1e-3', '120', '0.05'), fc.option(unit, { nil: undefined }))
  .map(([text, its]) => ({ kind: 'number', value: 0, unit: its, text, at }));

const binaryOperators: readonly BinaryOperator[] = [
  ...(['+', '-', '*', '/', '\\', '^', '==', '!=', '<', '<=', '>', '>=', 'and', 'or'] as const),
];

export const expressions: fc.Arbitrary<Expression> = fc.letrec<{ expression: Expression }>((tie) => ({
  expression: fc.oneof(
    { maxDepth: 5, withCrossShrink: true },
    number,
    name.map((its): Expression => ({ kind: 'name', name: its, at })),
    fc.constantFrom('tustin', 'a "b" \\ c').map((word): Expression => ({ kind: 'word', word, at })),
    fc
      .tuple(fc.constantFrom('-' as const, 'not' as const), tie('expression'))
      .map(([op, arg]): Expression => ({ kind: 'unary', op, arg, at })),
    fc
      .tuple(fc.constantFrom(...binaryOperators), tie('expression'), tie('expression'))
      .map(([op, left, right]): Expression => ({ kind: 'binary', op, left, right, at })),
    fc
      .tuple(tie('expression'), tie('expression'), tie('expression'))
      .map(([condition, then, other]): Expression => ({ kind: 'choose', condition, then, else: other, at })),
    fc
      .tuple(name, fc.array(tie('expression'), { maxLength: 3 }))
      .map(([its, args]): Expression => ({ kind: 'call', name: its, args, at })),
    fc
      .tuple(tie('expression'), fc.array(tie('expression'), { minLength: 1, maxLength: 2 }))
      .map(([base, indices]): Expression => ({ kind: 'index', base, indices, at })),
    fc.tuple(fc.integer({ min: 0, max: 3 }), fc.integer({ min: 1, max: 2 }), tie('expression')).map(
      ([rows, columns, entry]): Expression => ({
        kind: 'matrix',
        rows: Array.from({ length: rows }, () => Array.from({ length: columns }, () => entry)),
        at,
      }),
    ),
    fc
      .tuple(
        tie('expression'),
        name,
        fc.oneof(
          tie('expression').map((to) => ({ to })),
          name.map((its) => ({ in: its })),
        ),
      )
      .map(([body, variable, over]): Expression => ({ kind: 'each', body, variable, over, at })),
    fc.tuple(name, tie('expression'), name, name, tie('expression')).map(
      ([accumulator, start, variable, list, body]): Expression => ({
        kind: 'fold',
        accumulator,
        start,
        variable,
        list,
        body,
        at,
      }),
    ),
    fc.tuple(name, fc.constantFrom('+', '-')).map(([its, word]): Expression => ({ kind: 'is', name: its, word, at })),
  ),
})).expression;

const optional = <T>(arbitrary: fc.Arbitrary<T>): fc.Arbitrary<T | undefined> =>
  fc.option(arbitrary, { nil: undefined });

const type: fc.Arbitrary<TypeExpression> = fc
  .tuple(
    fc.constantFrom('real' as const, 'bool' as const, 'int' as const),
    fc.array(expressions, { maxLength: 2 }),
    optional(unit),
    fc.boolean(),
  )
  .map(([base, shape, its, each]) => ({
    base,
    shape,
    unit: base === 'real' && !each ? its : undefined,
    each: base === 'real' && each,
    at,
  }));

const words = optional(fc.constantFrom('what it is', 'a "quoted" word, with # and \\'));
const declaration = fc.record({ name, type, words, at: fc.constant(at) });
const bounds = fc.record({
  above: optional(expressions),
  below: optional(expressions),
  from: optional(expressions),
  to: optional(expressions),
});
const values = fc.array(fc.record({ name, value: expressions, about: fc.boolean() }), { minLength: 1, maxLength: 2 });
const some = <T>(arbitrary: fc.Arbitrary<T>): fc.Arbitrary<T[]> => fc.array(arbitrary, { maxLength: 2 });

export const blocks: fc.Arbitrary<BlockText> = fc
  .record({
    name,
    purpose: fc.constantFrom('Does "this" and that.', 'Sums.'),
    label: words,
    source: words,
    inputs: some(fc.tuple(declaration, optional(expressions)).map(([its, fallback]) => ({ ...its, fallback }))),
    openInputs: some(fc.tuple(declaration, some(fc.constantFrom('+', '-'))).map(([its, kinds]) => ({ ...its, kinds }))),
    outputs: some(declaration),
    openOutputs: some(declaration),
    settings: some(
      fc.tuple(declaration, expressions, bounds).map(([its, value, own]) => ({ ...its, value, bounds: own })),
    ),
    builds: some(
      fc
        .tuple(name, fc.constantFrom('int' as const, 'word' as const, 'texts' as const), expressions, bounds, words)
        .map(([its, kind, value, own, purpose]) => ({
          name: its,
          type: kind,
          words: kind === 'word' ? ['tustin', 'zoh'] : [],
          value,
          bounds: own,
          purpose,
          at,
        })),
    ),
    memories: some(
      fc
        .tuple(declaration, fc.constantFrom('mem' as const, 'line' as const, 'state' as const), expressions)
        .map(([its, kind, start]) => ({ ...its, kind, start, length: kind === 'line' ? start : undefined })),
    ),
    channels: some(
      fc
        .tuple(
          fc.constantFrom('in' as const, 'out' as const),
          name,
          fc.constantFrom('real' as const, 'int' as const),
          optional(expressions),
        )
        .map(([direction, its, kind, start]) => ({
          direction,
          name: its,
          type: kind,
          start: direction === 'out' ? start : undefined,
          at,
        })),
    ),
    equations: some(
      fc.record({
        kind: fc.constantFrom('plain' as const, 'next' as const, 'rate' as const, 'let' as const, 'law' as const),
        name,
        value: expressions,
        at: fc.constant(at),
      }),
    ),
    modes: some(name),
    transitions: some(
      fc.record({
        from: fc.array(name, { minLength: 1, maxLength: 2 }),
        to: name,
        when: expressions,
        at: fc.constant(at),
      }),
    ),
    needs: some(
      fc.record({ condition: expressions, words: fc.constant('more poles than zeros'), at: fc.constant(at) }),
    ),
    sayings: some(
      fc.record({
        condition: expressions,
        words: fc.constant('because {u}'),
        left: optional(expressions),
        at: fc.constant(at),
      }),
    ),
    examples: some(
      fc.record({
        settings: fc.oneof(fc.constant([]), values),
        every: optional(expressions),
        inputs: some(fc.record({ name, kind: fc.constantFrom('+', '-') })),
        steps: fc.array(
          fc.record({
            inputs: fc.oneof(fc.constant([]), values),
            ticks: fc.constantFrom(1, 20),
            outputs: values,
          }),
          { minLength: 1, maxLength: 2 },
        ),
        at: fc.constant(at),
      }),
    ),
    guards: fc.boolean(),
    harmless: fc.boolean(),
    analysedIn: fc.constantFrom('running', undefined),
    side: fc.constantFrom('plant' as const, 'controller' as const, undefined),
    drawnAs: fc.constantFrom('circle', undefined),
  })
  .map((one) => {
    const named = one.transitions.flatMap(({ from, to }) => [...from, to]);
    return {
      ...one,
      modes: [...new Set([...one.modes, ...named, ...(one.analysedIn === undefined ? [] : [one.analysedIn])])],
    };
  });

/** The same syntax without its spots and SI values, which a printed text need not keep. */
export function withoutSpots(syntax: unknown): unknown {
  return JSON.parse(
    JSON.stringify(syntax, (key, value: unknown) => {
      if (key === 'at') return undefined;
      return key === 'value' && typeof value === 'number' ? undefined : value;
    }),
  );
}
