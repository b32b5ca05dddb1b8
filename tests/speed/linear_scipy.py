"""The margins of `compiler/linear/margins.ts` with SciPy, step by step the same: reads JSON loops (A, B, C), writes figures and times."""

import json
import sys
import time

import numpy as np
from scipy import linalg, optimize, signal


def margins(A, B, C):
    n = len(A)
    poles = linalg.eigvals(A)
    pencil = np.block([[A, B], [C, np.zeros((1, 1))]])
    mass = np.zeros((n + 1, n + 1))
    mass[:n, :n] = np.eye(n)
    found = linalg.eigvals(pencil, mass)
    zeros = found[np.isfinite(found) & (np.abs(found) < 1e8 * np.max(np.abs(poles)))]
    s0 = 1j * np.max(np.abs(poles))
    value = (C @ np.linalg.solve(s0 * np.eye(n) - A, B))[0, 0]
    gain = np.real(value * np.prod(s0 - poles) / np.prod(s0 - zeros))

    def at(w):
        s = 1j * w
        return gain * np.prod(s - zeros) / np.prod(s - poles)

    # Sampled as finely as it turns, seen from 0 and from -1.
    both = np.concatenate([poles, zeros])
    sizes = np.abs(both)
    decades = np.log10(sizes.max() / sizes.min()) + 4
    w = np.logspace(np.log10(sizes.min()) - 2, np.log10(sizes.max()) + 2, int(20 * decades))
    around = [p.imag + d * abs(p.real) for p in both if p.imag > abs(p.real) for d in (-4, -2, -1, 0, 1, 2, 4)]
    w = np.unique(np.concatenate([[0.0], w, [x for x in around if x > 0]]))
    _, L = signal.freqs_zpk(zeros, poles, gain, w)
    while True:
        moved = np.abs(np.diff(L)) ** 2
        size = np.abs(L) ** 2
        critical = np.abs(1 + L) ** 2
        turns = moved > 0.2 * np.minimum(critical[1:], critical[:-1])
        turns |= (moved > 0.25 * np.minimum(size[1:], size[:-1])) & (np.maximum(size[1:], size[:-1]) > 1e-8)
        if not turns.any():
            break
        middle = (w[1:][turns] + w[:-1][turns]) / 2
        _, more = signal.freqs_zpk(zeros, poles, gain, middle)
        w = np.concatenate([w, middle])
        order = np.argsort(w)
        w, L = w[order], np.concatenate([L, more])[order]

    def crossings(values, exact, counts, touching):
        sign = np.sign(values)
        made = [
            optimize.brentq(exact, w[i], w[i + 1], xtol=1e-15, rtol=1e-14)
            for i in np.nonzero(sign[1:] * sign[:-1] < 0)[0]
            if counts[i] and counts[i + 1]
        ]
        height = np.abs(values)
        # Nearer to 0 than its neighbours, on the same side and close enough to reach it: looked at closely.
        low = (height[1:-1] <= height[:-2]) & (height[1:-1] <= height[2:]) & (sign[1:-1] == sign[:-2]) & (sign[1:-1] == sign[2:])
        steps = np.maximum(height[:-2], height[2:]) - height[1:-1]
        for i in np.nonzero(low & (height[1:-1] <= 2 * steps + 1e-9) & counts[1:-1])[0] + 1:
            side = sign[i]
            best = optimize.minimize_scalar(lambda x: side * exact(x), bounds=(w[i - 1], w[i + 1]), method="bounded",
                                            options={"xatol": 1e-6 * (w[i + 1] - w[i - 1])})
            if best.fun < -1e-13:
                made += [optimize.brentq(exact, w[i - 1], best.x), optimize.brentq(exact, best.x, w[i + 1])]
            elif touching and best.fun < 1e-13:
                made.append(best.x)
        return sorted(made)

    everywhere = np.ones(len(w), bool)
    crossovers = crossings(2 * np.log(np.abs(L)), lambda x: 2 * np.log(abs(at(x))), everywhere, True)
    phase_margins = [np.degrees(np.angle(-at(x))) for x in crossovers]
    # At 0 it is real but for rounding.
    from_minus = np.where(np.abs(L.imag) < 1e-14 * np.abs(L.real), 0.0, np.angle(-L))
    turned = crossings(from_minus, lambda x: np.angle(-at(x)), (L.real < 0) & (np.abs(L.imag) < 4 * np.abs(L.real)), False)

    def largest(measure, end):
        values = measure(L)
        best = max(float(values.max()), end)
        tops = np.nonzero((values[1:-1] >= values[:-2]) & (values[1:-1] >= values[2:]) & (values[1:-1] >= 0.4 * best))[0] + 1
        for low, high in [(w[0], w[1]), (w[-2], w[-1])] + [(w[i - 1], w[i + 1]) for i in tops]:
            peak = optimize.minimize_scalar(lambda x: -measure(at(x)), bounds=(low, high), method="bounded",
                                            options={"xatol": 1e-6 * (high - low)})
            best = max(best, -peak.fun)
        return best

    sensitivity = largest(lambda v: 1 / np.abs(1 + v), 1.0)
    complementary = largest(lambda v: np.abs(v) / np.abs(1 + v), 0.0)

    def encirclements(factor):
        angle = np.unwrap(np.angle(1 + factor * L))
        return -int(round((angle[-1] - angle[0]) / np.pi))

    open_unstable = int(np.sum(poles.real > 0))
    unstable = int(np.sum(linalg.eigvals(A - B @ C).real > 0))
    count = encirclements(1.0)
    interval = None
    if unstable == 0:
        gains = sorted(-1 / v for v in [at(x).real for x in turned] + [float(L[0].real)] if v < 0)
        above = [g for g in gains if g > 1]
        below = [g for g in reversed(gains) if g < 1]

        def limit(edges, beyond):
            for i, gain in enumerate(edges):
                middle = np.sqrt(gain * edges[i + 1]) if i + 1 < len(edges) else beyond(gain)
                if open_unstable + encirclements(middle) != 0:
                    return gain
            return None

        interval = [limit(below, lambda g: g / 2) or 0, limit(above, lambda g: 2 * g + 1)]
    delays = [np.radians(p % 360) / x for p, x in zip(phase_margins, crossovers)]
    return dict(crossovers=crossovers, phases=turned, sensitivity=sensitivity, complementary=complementary,
                unstable=unstable, count=count, interval=interval,
                delay=min(delays) if delays and unstable == 0 else None)


loops = [tuple(np.array(m, float) for m in loop) for loop in json.load(sys.stdin)]
for loop in loops[:5]:
    margins(*loop)
figures, times = [], []
for loop in loops:
    began = time.perf_counter()
    figures.append(margins(*loop))
    times.append(time.perf_counter() - began)
json.dump({"figures": figures, "seconds": float(np.median(times))}, sys.stdout)
