"""Makes compiler/ir/functions/coefficients.ts: minimax polynomials for the elementary functions, by Remez exchange.

Run: /usr/bin/python3 tests/reference/arithmetic/coefficients.py > compiler/ir/functions/coefficients.ts
Then format it with biome. Needs python3-mpmath. Every polynomial is in z over [0, top]; its error is weighted so that it is the relative error of
the whole function, and what is printed beside it is that of the coefficients as rounded to their type.
"""
import struct
import mpmath as mp

mp.mp.prec = 400


def fit(g, weight, low, high, terms):
    """Coefficients (constant first) of the polynomial with the smallest largest |weight * (p - g)|."""
    n = terms + 1
    nodes = [low + (high - low) * (1 - mp.cos(mp.pi * (2 * i + 1) / (2 * n))) / 2 for i in range(n)]
    for _ in range(12):
        rows = mp.matrix(n, n)
        right = mp.matrix(n, 1)
        for i, z in enumerate(nodes):
            for k in range(terms):
                rows[i, k] = z**k
            rows[i, terms] = (-1) ** i / weight(z)
            right[i] = g(z)
        solved = mp.lu_solve(rows, right)
        coefficients = [solved[k] for k in range(terms)]
        error = lambda z: weight(z) * (mp.polyval(coefficients[::-1], z) - g(z))
        grid = [low + (high - low) * (1 - mp.cos(mp.pi * i / (20 * n))) / 2 for i in range(20 * n + 1)]
        values = [error(z) for z in grid]
        extremes = []
        for z, e in zip(grid, values):
            if extremes and (e > 0) == (extremes[-1][1] > 0):
                if abs(e) > abs(extremes[-1][1]):
                    extremes[-1] = (z, e)
            else:
                extremes.append((z, e))
        while len(extremes) > n:
            extremes.pop(0 if abs(extremes[0][1]) < abs(extremes[-1][1]) else -1)
        if len(extremes) < n:
            break
        nodes = [z for z, _ in extremes]
    return coefficients


def rounded(x, real):
    form = 'f' if real == 'f32' else 'd'
    return mp.mpf(struct.unpack(form, struct.pack(form, float(x)))[0])


def minimax(g, weight, top, terms, real):
    """The best of: all coefficients rounded at once, or the first few rounded one by one with the rest fitted anew."""
    top = mp.mpf(top)
    grid = [top * mp.mpf(i) / 400 for i in range(1, 401)]

    def worst(found):
        return max(abs(weight(z) * (mp.polyval(found[::-1], z) - g(z))) for z in grid)

    best = None
    head = []
    for k in range(min(4, terms)):
        rest = lambda z: (g(z) - (mp.polyval(head[::-1], z) if head else 0)) / z**k
        tail = [rounded(c, real) for c in fit(rest, lambda z: weight(z) * z**k, top / 10**3, top, terms - k)]
        if best is None or worst(head + tail) < worst(best):
            best = head + tail
        head = head + tail[:1]
    return best, mp.log(worst(best), 2)


def root(f):
    return lambda z: f(mp.sqrt(z))


def log_kernel(s):
    return (2 * mp.atanh(s) - 2 * s) / s


families = {
    # name: (what, g(z), weight(z), top, terms in f32, terms in f64)
    'sin': ('sin r = r + r z P(z), z = r²', root(lambda r: (mp.sin(r) / r - 1) / r**2),
            root(lambda r: r**3 / mp.sin(r)), mp.mpf('0.786') ** 2, 3, 6),
    'cos': ('cos r = 1 − z/2 + z² P(z), z = r²', root(lambda r: (mp.cos(r) - 1 + r * r / 2) / r**4),
            root(lambda r: r**4 / mp.cos(r)), mp.mpf('0.786') ** 2, 3, 6),
    'exp': ('r coth(r/2) = 2 + z P(z), z = r²; e^r = 1 + r + r c/(2 − c), c = r − z P(z)',
            root(lambda r: (r * mp.coth(r / 2) - 2) / r**2),
            root(lambda r: r**3 / 2), mp.mpf('0.3475') ** 2, 2, 5),
    'log': ('log(1 + f) = 2 s + s z P(z), s = f/(2 + f), z = s²', root(lambda s: log_kernel(s) / s**2),
            root(lambda s: s**2 / 2), mp.mpf('0.17158') ** 2, 3, 7),
    'pow': ('log(a/b) = (2/3) s (3 + z + z² P(z)), s = (a − b)/(a + b), z = s²',
            root(lambda s: (3 * mp.atanh(s) / s - 3 - s**2) / s**4),
            root(lambda s: s**4 / 3), mp.mpf('0.1011') ** 2, 2, 6),
    'asin': ('asin x = x + x z P(z), z = x²', root(lambda x: (mp.asin(x) / x - 1) / x**2),
             root(lambda x: x**3 / mp.asin(x)), mp.mpf('0.25'), 5, 13),
    'atan': ('atan t = t + t z P(z), z = t²', root(lambda t: (mp.atan(t) / t - 1) / t**2),
             root(lambda t: t**3 / mp.atan(t)), mp.mpf('0.25'), 5, 12),
}


def pieces(x, bits, count, real):
    """x as a sum: count pieces of so many bits each (cut, not rounded), then the rest rounded to the type."""
    found = []
    for _ in range(count):
        scale = mp.mpf(2) ** (bits - 1 - mp.floor(mp.log(abs(x), 2)))
        piece = mp.floor(x * scale) / scale
        found.append(piece)
        x -= piece
    return found + [rounded(x, real)]


def pair(x, real):
    """x rounded to its type, and the rest rounded too."""
    high = rounded(x, real)
    return [high, rounded(x - high, real)]


def text(x):
    return repr(float(x))


def main():
    print('/** Numbers of the elementary functions. Made by tests/reference/arithmetic/coefficients.py: change them there. */\n')
    print("import type { Real } from '../program.ts';\n")
    print('type Both = Readonly<Record<Real, readonly number[]>>;\n')
    print('/** Minimax polynomials, constant term first. */')
    print('export const polynomials = {')
    for name, (what, g, weight, top, few, many) in families.items():
        lines = []
        sizes = []
        for real, terms in (('f32', few), ('f64', many)):
            coefficients, size = minimax(g, weight, top, terms, real)
            sizes.append(f'{real} 2^{mp.nstr(size, 3)}')
            lines.append(f"    {real}: [{', '.join(text(c) for c in coefficients)}],")
        print(f"  /** {what}. Largest relative error: {', '.join(sizes)}. */")
        print(f'  {name}: {{')
        print('\n'.join(lines))
        print('  },')
    print('} as const satisfies Record<string, Both>;\n')
    print('/** Constants cut into pieces whose products with a small whole number are exact; the last piece is the rest. */')
    print('export const pieces = {')
    for name, what, x, cuts in (
        ('halfPi', 'π/2', mp.pi / 2, {'f32': (13, 3), 'f64': (33, 3)}),
        ('quarterPi', 'π/4', mp.pi / 4, {'f32': (22, 1), 'f64': (51, 1)}),
        ('log2', 'log 2', mp.log(2), {'f32': (15, 1), 'f64': (41, 1)}),
        ('logThreeHalves', 'log 1.5', mp.log(mp.mpf(3) / 2), {'f32': (14, 1), 'f64': (40, 1)}),
    ):
        print(f'  /** {what}. */')
        print(f'  {name}: {{')
        for real, (bits, count) in cuts.items():
            print(f"    {real}: [{', '.join(text(p) for p in pieces(x, bits, count, real))}],")
        print('  },')
    print('  /** π/4 rounded, and the rest. */')
    print('  quarterPiRounded: {')
    for real in ('f32', 'f64'):
        print(f"    {real}: [{', '.join(text(p) for p in pair(mp.pi / 4, real))}],")
    print('  },')
    print('} as const satisfies Record<string, Both>;\n')
    with mp.workprec(1400):
        whole = int(mp.floor(2 / mp.pi * mp.mpf(2) ** (37 * 32)))
    words = [(whole >> (32 * (36 - i))) & 0xFFFFFFFF for i in range(37)]
    print('/** The bits of 2/π after the binary point, 32 a word, highest first. */')
    print('export const twoOverPi: readonly number[] = [')
    for i in range(0, 37, 8):
        print('  ' + ' '.join(f'0x{w:08x},' for w in words[i:i + 8]))
    print('];')


main()
