/** hypot in either real type. */

import { Builder } from '../build.ts';
import type { Func, Real } from '../program.ts';
import { arithmetic } from './arithmetic.ts';

/** Beyond 2^±far the sides are brought back by 2^∓by, so that no square overflows or loses digits. */
const scales = { f32: { far: 60, by: 90 }, f64: { far: 500, by: 600 } } as const;

/** Root of the sum of two squares, each kept exactly as a pair. hypot(±∞, anything) = +∞, even of NaN. */
export function hypot(real: Real): Func {
  const b = new Builder(`hypot_${real}`, [real, real]);
  const m = arithmetic(b, real);
  const { number, add, mul, lt, eq, abs, sqrt, select } = m;
  const { far, by } = scales[real];
  const [x, y] = [abs(0), abs(1)];
  const larger = select(lt(x, y), y, x);
  const isHuge = lt(number(2 ** far), larger);
  const isTiny = lt(larger, number(2 ** -far));
  const [up, one, down] = [number(2 ** by), number(1), number(2 ** -by)];
  const scale = select(isHuge, down, select(isTiny, up, one));
  const back = select(isHuge, up, select(isTiny, down, one));
  const p = m.squareOf(mul(larger, scale));
  const q = m.squareOf(mul(select(lt(x, y), x, y), scale));
  const sum = m.sumOf(p.high, q.high);
  const root = sqrt(add(sum.high, add(sum.low, add(p.low, q.low))));
  const endless = m.infinity();
  const isEndless = m.either(eq(x, endless), eq(y, endless));
  return b.finish(select(isEndless, endless, mul(root, back)));
}
