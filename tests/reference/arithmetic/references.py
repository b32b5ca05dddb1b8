"""Makes one JSON file a function here: arguments and high-precision values for tests/arithmetic/accuracy.test.ts.

Run: /usr/bin/python3 tests/reference/arithmetic/references.py [COUNT [FOLDER]]
Needs python3-mpmath (the reference; 400 bits of working precision, more for huge angles).

A file holds, for f32 and f64, base64 of little-endian arrays: "x" (and "y"), the arguments; "value", the exact result
rounded to nearest even; "rest", a signed byte each: (exact - value) in units in the last place of value, times 254.
So the error of a function is known to about 1/500 of a unit in the last place. Results that are NaN or come from an
infinite argument are not here; they stand in the test as C99 Annex F states them.
"""
import base64
import json
import math
import os
import random
import struct
import sys

import mpmath as mp

mp.mp.prec = 400
FORMATS = {'f32': (24, -149, 128, 'f', 'I'), 'f64': (53, -1074, 1024, 'd', 'Q')}


def round_to(v, real):
    """(nearest value of the type, what is left over in its units in the last place)"""
    digits, least, top, _, _ = FORMATS[real]
    if v == 0:
        return 0.0, 0.0
    exponent = mp.frexp(v)[1] - 1
    q = max(exponent - digits + 1, least)
    scaled = mp.ldexp(v, -q)
    n = int(mp.nint(scaled))
    if abs(n) * mp.mpf(2) ** q >= mp.mpf(2) ** top:
        return math.copysign(math.inf, n), 0.0
    value = math.ldexp(n, q)
    return (math.copysign(value, -1.0) if v < 0 else value), float(scaled - n)


def nearest(x, real):
    if real == 'f64':
        return float(x)
    try:
        return struct.unpack('f', struct.pack('f', x))[0]
    except OverflowError:
        return math.copysign(math.inf, x)


def step(x, n, real):
    """The number n places on from x, away from 0 for positive n."""
    form, whole = FORMATS[real][3:]
    bits = struct.unpack(whole, struct.pack(form, x))[0]
    return struct.unpack(form, struct.pack(whole, bits + n))[0]


def any_pattern(rng, real):
    """A finite number with every bit pattern equally likely: all magnitudes, subnormals too."""
    while True:
        form, whole = FORMATS[real][3:]
        x = struct.unpack(form, struct.pack(whole, rng.getrandbits(32 if real == 'f32' else 64)))[0]
        if math.isfinite(x):
            return x


def spread(rng, low, high):
    """Log-uniform in size between two powers of two, either sign."""
    return math.ldexp(rng.uniform(1, 2), rng.randint(low, high - 1)) * rng.choice((-1, 1))


def near(rng, x, real):
    return step(nearest(x, real), rng.randint(-3, 3), real)


def closest_to_quarters(real):
    """For every exponent the significand that brings m 2^e nearest to a multiple of pi/2 (continued fractions)."""
    digits, least, top, _, _ = FORMATS[real]
    found = []
    with mp.workprec(2400):
        for e in range(-digits, top - digits + 1):
            ratio = mp.ldexp(2 / mp.pi, e)
            x, (h0, h1), (k0, k1) = ratio, (0, 1), (1, 0)
            while True:
                a = int(mp.floor(x))
                h0, h1 = h1, a * h1 + h0
                k0, k1 = k1, a * k1 + k0
                if k1 >= 2**digits:
                    break
                best = k1
                x = 1 / (x - a)
            if best > 2 and abs(mp.ldexp(best, e)) > 0.7:
                scale = 2 ** max(0, digits - 1 - (best.bit_length() - 1))
                found.append(math.ldexp(best, e))
                if scale > 1:
                    found.append(math.ldexp(best * (scale // 2), e))
    return [x for x in found if math.isfinite(nearest(x, real)) and x == nearest(x, real)]


def angles(rng, real, count):
    top = FORMATS[real][2]
    worst = closest_to_quarters(real)
    limit = 3000 if real == 'f32' else 1e6
    for _ in range(count):
        kind = rng.randrange(8)
        if kind == 0:
            yield any_pattern(rng, real)
        elif kind == 1:
            yield rng.uniform(-0.8, 0.8)
        elif kind == 2:
            yield rng.uniform(-10, 10)
        elif kind == 3:
            yield rng.uniform(-limit, limit)
        elif kind == 4:
            yield near(rng, rng.randint(1, 40) * math.pi / 4, real) * rng.choice((-1, 1))
        elif kind == 5:
            yield near(rng, rng.randint(1, int(limit * 2 / math.pi)) * math.pi / 2, real)
        elif kind == 6:
            yield rng.choice(worst) * rng.choice((-1, 1))
        else:
            yield rng.choice((spread(rng, -30, 2), near(rng, limit, real), spread(rng, 10, top)))


def arcs(rng, real, count):
    for _ in range(count):
        kind = rng.randrange(5)
        if kind == 0:
            yield rng.uniform(-1, 1)
        elif kind == 1:
            yield rng.choice((-1, 1)) * (1 - abs(spread(rng, -52, -1)))
        elif kind == 2:
            yield near(rng, 0.5, real) * rng.choice((-1, 1))
        elif kind == 3:
            yield rng.choice((-1, 1)) * rng.uniform(0.45, 0.75)
        else:
            yield rng.choice((spread(rng, -60, 0), spread(rng, FORMATS[real][1] + 30, 0)))


def tangents(rng, real, count):
    for _ in range(count):
        kind = rng.randrange(5)
        if kind == 0:
            yield any_pattern(rng, real)
        elif kind == 1:
            yield rng.uniform(-3, 3)
        elif kind == 2:
            yield near(rng, rng.choice((0.5, 1, 2, 0.4375, 0.6875, 1.1875, 2.4375)), real) * rng.choice((-1, 1))
        else:
            yield spread(rng, -30, 60)


def exponents(rng, real, count):
    top, bottom = (88.73, -104.0) if real == 'f32' else (709.79, -745.2)
    for _ in range(count):
        kind = rng.randrange(6)
        if kind == 0:
            yield rng.uniform(bottom, top)
        elif kind == 1:
            yield rng.uniform(-2, 2)
        elif kind == 2:
            yield near(rng, (rng.randint(-149, 127) + 0.5) * math.log(2), real)
        elif kind == 3:
            yield rng.choice((near(rng, top - 0.01, real), rng.uniform(bottom, 0.82 * bottom), spread(rng, -60, 0)))
        elif kind == 4:
            yield any_pattern(rng, real)
        else:
            yield rng.choice((0.34657359, -0.34657359, 88.722839, 709.782712893384, -745.1332, -103.97208)) * (
                1 + rng.uniform(-1, 1) * 1e-7)


def positives(rng, real, count):
    for _ in range(count):
        kind = rng.randrange(6)
        if kind == 0:
            yield abs(any_pattern(rng, real))
        elif kind == 1:
            yield rng.uniform(0.5, 2)
        elif kind == 2:
            yield 1 + spread(rng, -FORMATS[real][0], -1)
        elif kind == 3:
            yield near(rng, math.sqrt(0.5) * 2.0 ** rng.randint(-3, 3), real)
        elif kind == 4:
            yield near(rng, 2.0 ** rng.randint(-120, 120), real)
        else:
            yield rng.uniform(0.6, 1.6)


def directions(rng, real, count):
    top = FORMATS[real][2]
    for _ in range(count):
        kind = rng.randrange(7)
        if kind == 0:
            yield any_pattern(rng, real), any_pattern(rng, real)
        elif kind == 1:
            yield rng.uniform(-1, 1), rng.uniform(-1, 1)
        elif kind == 2:
            x = spread(rng, -top + 3, top - 1)
            yield x * rng.choice((0.5, 1, 2, -1, 0.4142, 0.9999999)) * (1 + rng.uniform(-1, 1) * 1e-7), x
        elif kind == 3:
            yield spread(rng, -40, 40), spread(rng, -40, 40)
        elif kind == 4:
            x = spread(rng, FORMATS[real][1] + 2, FORMATS[real][1] + 30)
            yield spread(rng, FORMATS[real][1] + 2, FORMATS[real][1] + 30), x
        elif kind == 5:
            x = spread(rng, top - 3, top - 1)
            yield spread(rng, top - 3, top - 1), x
        else:
            yield rng.uniform(0.3, 0.7) * rng.choice((-1, 1)), rng.choice((-1.0, 1.0))


def powers(rng, real, count):
    top, bottom = (128, -150) if real == 'f32' else (1024, -1075)
    for _ in range(count):
        kind = rng.randrange(7)
        if kind == 0:
            x = abs(any_pattern(rng, real)) or 1.5
            yield x, rng.uniform(bottom, top) / (abs(math.log2(x)) + 1e-9)
        elif kind == 1:
            yield rng.uniform(0.5, 2), rng.uniform(-20, 20)
        elif kind == 2:
            x = nearest(1 + spread(rng, -FORMATS[real][0] + 1, -3), real)
            if x == 1:
                x = 1.5
            yield x, rng.uniform(bottom, top) / math.log2(x)
        elif kind == 3:
            yield -rng.uniform(0.1, 30), float(rng.randint(-25, 25))
        elif kind == 4:
            yield float(rng.randint(2, 1000)), rng.choice((0.5, 1 / 3, -0.5, 1.5, 2.0, 3.0, -1.0, 0.25))
        elif kind == 5:
            x = rng.uniform(0.1, 10)
            yield x, rng.choice((top - 0.01, bottom + 1.5, bottom + 20)) / math.log2(x)
        else:
            yield abs(any_pattern(rng, real)) or 2.0, rng.choice((0.5, 2.0, -2.0, 1.0, 1 / 3, spread(rng, -60, 0)))


SETS = {
    'sin': (mp.sin, angles), 'cos': (mp.cos, angles), 'tan': (mp.tan, angles),
    'asin': (mp.asin, arcs), 'acos': (mp.acos, arcs), 'atan': (mp.atan, tangents), 'atan2': (mp.atan2, directions),
    'exp': (mp.exp, exponents), 'log': (mp.log, positives), 'pow': (mp.power, powers), 'hypot': (mp.hypot, directions),
}


def exact(f, name, arguments):
    if name in ('exp', 'pow') and abs(arguments[0] if name == 'exp' else arguments[1] * math.log(abs(arguments[0]))) > 2000:
        raise ValueError('beyond the range of the type by far')
    if name in ('sin', 'cos', 'tan'):
        with mp.workprec(400 + max(0, math.frexp(arguments[0])[1])):
            return f(mp.mpf(arguments[0]))
    if name == 'acos' and abs(arguments[0]) < 1e-60:
        return mp.pi / 2
    return f(*(mp.mpf(a) for a in arguments))


def main():
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 2300
    folder = sys.argv[2] if len(sys.argv) > 2 else os.path.dirname(os.path.abspath(__file__))
    only = sys.argv[3:] or list(SETS)
    for name in only:
        f, arguments = SETS[name]
        out = {'function': name, 'made by': 'tests/reference/arithmetic/references.py with mpmath ' + mp.__version__}
        for real in FORMATS:
            rng = random.Random(f'{name} {real} {count}')
            form = FORMATS[real][3]
            columns = {'x': [], 'y': [], 'value': [], 'rest': []}
            for given in arguments(rng, real, count):
                given = [nearest(a, real) for a in (given if isinstance(given, tuple) else (given,))]
                if not all(map(math.isfinite, given)) or (name in ('log', 'pow') and given[0] == 0):
                    continue
                if name in ('asin', 'acos') and abs(given[0]) > 1 or name in ('atan2', 'hypot') and given == [0, 0]:
                    continue
                try:
                    value, rest = round_to(mp.re(exact(f, name, given)), real)
                except (ValueError, OverflowError):
                    continue
                columns['x'].append(given[0])
                columns['y'] += given[1:]
                columns['value'].append(value)
                columns['rest'].append(round(rest * 254))
            out[real] = {
                key: base64.b64encode(struct.pack(f'<{len(v)}{"b" if key == "rest" else form}', *v)).decode()
                for key, v in columns.items() if v
            }
        with open(os.path.join(folder, f'{name}.json'), 'w') as file:
            json.dump(out, file, indent=0)
            file.write('\n')
        print(name, {real: len(base64.b64decode(out[real]['rest'])) for real in FORMATS})


main()
