/** The frequency response of systems with their dead time, and loops made of them. */

import { closedPoles, closedPolesOf, partsOf, withoutTwins } from './closed_poles.ts';
import { factored } from './factored.ts';
import { valueAt } from './polynomial.ts';
import type { Complex, Factored, OpenLoop, TransferFunction } from './system.ts';

/** Where ω rad/s is in the plane of a system: jω, or exp(jω·dt). */
export function pointAt(w: number, dt: number): Complex {
  return dt === 0 ? { re: 0, im: w } : { re: Math.cos(w * dt), im: Math.sin(w * dt) };
}

/** a / b without needless overflow; infinite where b is 0 and a is not. */
export function quotient(a: Complex, b: Complex): Complex {
  const size = Math.max(Math.abs(b.re), Math.abs(b.im));
  if (size === 0) return { re: Number.POSITIVE_INFINITY, im: 0 };
  const re = b.re / size;
  const im = b.im / size;
  const square = (re * re + im * im) * size;
  return { re: (a.re * re + a.im * im) / square, im: (a.im * re - a.re * im) / square };
}

/** Response at ω rad/s, dead time included; infinite exactly on a pole. */
export function response(system: TransferFunction | Factored, w: number): Complex {
  if ('poles' in system) return openLoop(system).at(w);
  const { re, im } = pointAt(w, system.dt);
  const plain = quotient(valueAt(system.num, re, im), valueAt(system.den, re, im));
  return system.delay === 0 ? plain : turned(plain, -w * system.delay);
}

function turned({ re, im }: Complex, angle: number): Complex {
  const c = Math.cos(angle);
  const s = Math.sin(angle);
  return { re: re * c - im * s, im: re * s + im * c };
}

/** A loop that consists of a system; a transfer function is factored first. */
export function openLoop(system: TransferFunction | Factored): OpenLoop {
  const given = 'poles' in system ? undefined : system;
  const whole = 'poles' in system ? system : factored(system);
  const { dt, delay, gain, zeros, poles } = withDelaysAsPoles(whole);
  const away = withoutTwins(zeros, poles);
  const at = factoredResponse({ ...away, gain, dt, delay });
  return {
    dt,
    delay,
    at,
    poles,
    zeros,
    direct: zeros.length === poles.length ? gain : 0,
    closed: (factor) => {
      if (delay > 0) return undefined;
      if (given !== undefined && given.delay === 0) return closedPolesOf(given, factor);
      return closedPoles({ zeros, poles, gain }, factor);
    },
  };
}

/** In z, a dead time of whole periods is that many poles at 0. */
function withDelaysAsPoles(system: Factored): Factored {
  const periods = Math.round(system.delay / system.dt);
  const isWhole = system.dt > 0 && Math.abs(system.delay - periods * system.dt) <= 1e-9 * system.dt;
  if (!isWhole || periods === 0) return system;
  const added = Array.from({ length: periods }, () => ({ re: 0, im: 0 }));
  return { ...system, poles: [...system.poles, ...added], delay: 0 };
}

/** The response as a function of ω, ready to be asked often. */
function factoredResponse({ zeros, poles, gain, dt, delay }: Factored): (w: number) => Complex {
  // In z everything is counted from 1, where slow poles gather: z − p = (z − 1) − (p − 1).
  const from = dt === 0 ? 0 : 1;
  const { re: zr, im: zi } = partsOf(zeros, from);
  const { re: pr, im: pi } = partsOf(poles, from);
  const most = Math.max(zr.length, pr.length);
  // One after the other, so that nothing leaves the range of numbers.
  const inTurn = (x: number, y: number): Complex => {
    let re = gain;
    let im = 0;
    for (let i = 0; i < most; i++) {
      if (i < zr.length) {
        const a = x - (zr[i] as number);
        const b = y - (zi[i] as number);
        const t = re * a - im * b;
        im = re * b + im * a;
        re = t;
      }
      if (i < pr.length) {
        const a = x - (pr[i] as number);
        const b = y - (pi[i] as number);
        const square = a * a + b * b;
        if (square === 0) return { re: Number.POSITIVE_INFINITY, im: 0 };
        const t = (re * a + im * b) / square;
        im = (im * a - re * b) / square;
        re = t;
      }
    }
    return { re, im };
  };
  return (w) => {
    let x = 0;
    let y = w;
    if (dt !== 0) {
      const half = Math.sin((w * dt) / 2);
      x = -2 * half * half;
      y = Math.sin(w * dt);
    }
    let nr = gain;
    let ni = 0;
    for (let i = 0; i < zr.length; i++) {
      const a = x - (zr[i] as number);
      const b = y - (zi[i] as number);
      const t = nr * a - ni * b;
      ni = nr * b + ni * a;
      nr = t;
    }
    let dr = 1;
    let di = 0;
    for (let i = 0; i < pr.length; i++) {
      const a = x - (pr[i] as number);
      const b = y - (pi[i] as number);
      const t = dr * a - di * b;
      di = dr * b + di * a;
      dr = t;
    }
    const square = dr * dr + di * di;
    const size = nr * nr + ni * ni;
    let re = (nr * dr + ni * di) / square;
    let im = (ni * dr - nr * di) / square;
    if (!(square > LEAST && square < MOST && size < MOST && (size > LEAST || size === 0))) ({ re, im } = inTurn(x, y));
    return delay === 0 ? { re, im } : turned({ re, im }, -w * delay);
  };
}

/** Between these, squares of products are as good as any number. */
const LEAST = 1e-250;
const MOST = 1e250;
