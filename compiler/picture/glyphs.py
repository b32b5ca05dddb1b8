"""Makes the glyph table, the outlines and the subset fonts from STIX Two Math (OFL); run it when a character is missing.

    apt-get install -y python3-fonttools python3-brotli && npm ci && /usr/bin/python3 compiler/picture/glyphs.py

One font file a face, so that a page writes plain letters and says `font-style: italic` or `font-weight: bold`. The sizes
of stretched brackets and roots have no characters of their own and stand in the private use area from E000.
"""

import os
from fontTools import subset
from fontTools.pens.basePen import BasePen
from fontTools.pens.boundsPen import BoundsPen
from fontTools.ttLib import TTFont

HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = os.path.join(HERE, '..', '..')
PACKAGE = os.path.join(ROOT, 'node_modules', '@fontsource', 'stix-two-math')
SOURCE = os.path.join(PACKAGE, 'files', 'stix-two-math-latin-400-normal.woff2')
FONTS = os.path.join(ROOT, 'editor', 'fonts')

LATIN = [*range(0x41, 0x5B), *range(0x61, 0x7B)]
SMALL_GREEK = range(0x3B1, 0x3CA)
CAPITAL_GREEK = [code for code in range(0x391, 0x3AA) if code != 0x3A2]
SYMBOLS = '–—‘’“”…−·×÷±≤≥≠≈∞√∑∏∫∂∆→←↔°′″⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻₀₁₂₃₄₅₆₇₈₉⌊⌋⌈⌉‖∧∨¬∈ϑϕϵ˙µΩ'
BRACKETS = '()[]{}|⌊⌋⌈⌉√'
BRACKET_SIZES = [1, 2, 3, 4, 5, 7, 9, 12]
PLAIN = " 0123456789_-–.,:;()/+'"


def main():
    font = open_font()
    cmap = font.getBestCmap()
    faces = {
        'upright': upright(cmap),
        'italic': italic(cmap),
        'bold': bold(cmap),
    }
    sizes = bracket_sizes(font, cmap, faces['upright'])
    for face, characters in faces.items():
        write_font(face, characters)
    write_metrics(font, faces, sizes)
    write_outlines(font, faces)


def upright(cmap):
    codes = [*range(0x20, 0x7F), *range(0xA1, 0x100), *SMALL_GREEK, *CAPITAL_GREEK, *map(ord, SYMBOLS)]
    return {code: cmap[code] for code in codes if code in cmap and code != 0xAD}


def italic(cmap):
    table = {ord(c): cmap[ord(c)] for c in PLAIN}
    for code in LATIN:
        table[code] = cmap[0x1D434 + code - 0x41 if code < 0x61 else 0x1D44E + code - 0x61] if code != 0x68 else cmap[0x210E]
    for code in SMALL_GREEK:
        table[code] = cmap[0x1D6FC + code - 0x3B1]
    for code in CAPITAL_GREEK:
        table[code] = cmap[0x1D6E2 + code - 0x391]
    table[ord('ϑ')], table[ord('ϕ')], table[ord('ϵ')] = cmap[0x1D717], cmap[0x1D719], cmap[0x1D716]
    return table


def bold(cmap):
    table = {ord(c): cmap[ord(c)] for c in PLAIN}
    for code in LATIN:
        table[code] = cmap[0x1D400 + code - 0x41 if code < 0x61 else 0x1D41A + code - 0x61]
    for code in range(0x30, 0x3A):
        table[code] = cmap[0x1D7CE + code - 0x30]
    return table


def bracket_sizes(font, cmap, table):
    """Gives each size of a bracket a private character; returns bracket → [(character, height)]."""
    variants = font['MATH'].table.MathVariants
    sizes, code = {}, 0xE000
    for bracket in BRACKETS:
        glyph = cmap[ord(bracket)]
        records = variants.VertGlyphConstruction[variants.VertGlyphCoverage.glyphs.index(glyph)].MathGlyphVariantRecord
        sizes[bracket] = [(bracket, records[0].AdvanceMeasurement)]
        for index in BRACKET_SIZES:
            if index < len(records):
                table[code] = records[index].VariantGlyph
                sizes[bracket].append((chr(code), records[index].AdvanceMeasurement))
                code += 1
    return sizes


def open_font():
    """The source; its slanted f is spaced for single letters and would tear words such as `stiffness` apart."""
    font = TTFont(SOURCE, recalcTimestamp=False)
    f = font.getBestCmap()[0x1D453]
    width, bearing = font['hmtx'][f]
    font['hmtx'][f] = (width - 75, bearing)
    return font


def write_font(face, characters):
    font = open_font()
    options = subset.Options()
    options.layout_features = []
    options.hinting = False
    options.notdef_outline = True
    options.drop_tables += ['MATH', 'GSUB', 'GPOS', 'GDEF', 'gasp']
    options.name_IDs = [0, 13, 14]
    subsetter = subset.Subsetter(options)
    subsetter.populate(glyphs=list(characters.values()))
    # The subsetter keeps characters of kept glyphs only, so ours are put in afterwards.
    subsetter.subset(font)
    for table in font['cmap'].tables:
        if table.isUnicode():
            table.cmap = dict(characters) if table.format == 12 else {k: v for k, v in characters.items() if k < 0x10000}
    style = {'upright': 'Regular', 'italic': 'Italic', 'bold': 'Bold'}[face]
    for identifier, text in ((1, 'Loopwright Math'), (2, style), (4, f'Loopwright Math {style}'), (6, f'LoopwrightMath-{style}')):
        font['name'].setName(text, identifier, 3, 1, 0x409)
    font['post'].formatType = 3.0
    font.flavor = 'woff2'
    suffix = '' if face == 'upright' else f'_{face}'
    font.save(os.path.join(FONTS, f'loopwright_math{suffix}.woff2'))


def write_metrics(font, faces, sizes):
    glyphs, widths, math = font.getGlyphSet(), font['hmtx'], font['MATH'].table
    corrections = dict(zip(math.MathGlyphInfo.MathItalicsCorrectionInfo.Coverage.glyphs,
                           (value.Value for value in math.MathGlyphInfo.MathItalicsCorrectionInfo.ItalicsCorrection)))
    accents = dict(zip(math.MathGlyphInfo.MathTopAccentAttachment.TopAccentCoverage.glyphs,
                       (value.Value for value in math.MathGlyphInfo.MathTopAccentAttachment.TopAccentAttachment)))

    def numbers(glyph):
        pen = BoundsPen(glyphs)
        glyphs[glyph].draw(pen)
        bounds = pen.bounds or (0, 0, 0, 0)
        width = widths[glyph][0]
        return width, round(bounds[3]), round(-bounds[1]), corrections.get(glyph, 0), accents.get(glyph, width // 2)

    constants = math.MathConstants
    with open(os.path.join(HERE, 'glyphs.ts'), 'w') as out:
        out.write('/** Sizes of the glyphs of STIX Two Math (OFL), in thousandths of the font size; made by `glyphs.py`, not by hand. */\n\n')
        out.write('/** Glyphs parted by tabs and line ends: character, advance width, ascent, descent, italic correction, middle of an accent above. */\n')
        out.write('export const glyphTable = {\n')
        for face, characters in faces.items():
            out.write(f'  {face}: `\n')
            rows = [f'{escape(code)} {" ".join(map(str, numbers(characters[code])))}' for code in sorted(characters)]
            for start in range(0, len(rows), 4):
                out.write('\t'.join(rows[start:start + 4]) + '\n')
            out.write('`,\n')
        out.write('};\n\n/** The sizes of each bracket, smallest first: character and height. */\n')
        out.write('export const bracketSizes: Readonly<Record<string, readonly (readonly [string, number])[]>> = {\n')
        for bracket, list_ in sizes.items():
            rows = ', '.join(f"['{escape(ord(c))}', {height}]" for c, height in list_)
            out.write(f"  '{bracket}': [{rows}],\n")
        out.write('};\n\n/** From the font\'s MATH table. */\nexport const mathConstants = {\n')
        for name in ('AxisHeight', 'SubscriptShiftDown', 'SuperscriptShiftUp', 'FractionRuleThickness', 'FractionNumeratorShiftUp',
                     'FractionDenominatorShiftDown', 'FractionNumeratorGapMin', 'RadicalVerticalGap', 'RadicalRuleThickness',
                     'SpaceAfterScript', 'AccentBaseHeight'):
            value = getattr(constants, name).Value
            out.write(f'  {name[0].lower()}{name[1:]}: {value},\n')
        out.write(f'  scriptScale: {constants.ScriptPercentScaleDown},\n  scriptScriptScale: {constants.ScriptScriptPercentScaleDown},\n}};\n')


def write_outlines(font, faces):
    glyphs = font.getGlyphSet()
    with open(os.path.join(HERE, 'outlines.ts'), 'w') as out:
        out.write('/** Outlines of the glyphs of STIX Two Math (OFL) as path data, y down, 1000 to the font size; made by `glyphs.py`. */\n\n')
        out.write('/** A line a glyph: its character, then its path. */\nexport const outlineTable = {\n')
        for face, characters in faces.items():
            out.write(f'  {face}: `\n')
            for code in sorted(characters):
                pen = PathPen(glyphs)
                glyphs[characters[code]].draw(pen)
                out.write(f'{escape(code)} {pen.text}\n')
            out.write('`,\n')
        out.write('};\n')


def escape(code):
    """A character as it may stand in a TypeScript string or template."""
    if 0xE000 <= code < 0xF000:
        return f'\\u{code:04x}'
    return {0x5C: '\\\\', 0x60: '\\`', 0x24: '\\$', 0x27: "'"}.get(code, chr(code))


class PathPen(BasePen):
    """Relative path data in whole units."""

    def __init__(self, glyphs):
        super().__init__(glyphs)
        self.text, self.at = '', (0, 0)

    def offset(self, *points):
        numbers = ''
        for x, y in points:
            for value in (round(x) - self.at[0], self.at[1] - round(y)):
                numbers += str(value) if value < 0 or not numbers else f' {value}'
        self.at = (round(points[-1][0]), round(points[-1][1]))
        return numbers

    def _moveTo(self, point):
        self.text += 'm' + self.offset(point)
        self.start = self.at

    def _lineTo(self, point):
        self.text += 'l' + self.offset(point)

    def _qCurveToOne(self, control, point):
        self.text += 'q' + self.offset(control, point)

    def _curveToOne(self, first, second, point):
        self.text += 'c' + self.offset(first, second, point)

    def _closePath(self):
        self.text += 'z'
        self.at = self.start


if __name__ == '__main__':
    main()
