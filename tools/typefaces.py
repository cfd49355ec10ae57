"""Makes the typefaces in `static/vendor/fonts` from the packages they come in. Run only to change or upgrade them:

    npm pack source-sans@3.52.0 @expo-google-fonts/libertinus-serif@0.4.0   # unpack each .tgz into a folder
    pip install fonttools brotli
    python tools/typefaces.py FOLDER-OF-SOURCE-SANS FOLDER-OF-LIBERTINUS

Each face is cut into a file with what our languages and the signs of harmony need, and a second one (other European
alphabets) that a browser fetches only for a name that needs it. Flat, sharp and natural are drawn in the regular
Libertinus Serif alone; they are set into every other face, so that no sign of a chord comes from the machine's fonts.
A changed font may not bear a reserved name: ours are called Topform Sans and Topform Serif.
"""

from __future__ import annotations

import sys
from pathlib import Path

from fontTools.pens.cu2quPen import Cu2QuPen
from fontTools.pens.transformPen import TransformPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont
from fontTools.varLib import instancer

TARGET = Path(__file__).resolve().parent.parent / "static" / "vendor" / "fonts"

SIGNS = "♭♮♯♩°øØ△ΔΔ∆▵▲○→←↑↓⟶⌫−×÷±≥½¼¾⅓⅔′″†‖…•·✓✗◀▶⁄∕∅⌀⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻ˢº˚"
LATIN = {
    *range(0x20, 0x7F),
    *range(0xA0, 0x180),
    0x192,
    *range(0x218, 0x21C),
    *range(0x2010, 0x2015),
    *map(ord, "‘’‚“”„‹›€‰™Ⅶ"),
}
MAIN = LATIN | set(map(ord, SIGNS))
MORE = {*range(0x180, 0x250), *range(0x1E00, 0x1F00), *range(0x370, 0x400), *range(0x400, 0x530)} - MAIN
GRAFTED = {0x266D: "flat", 0x266E: "natural", 0x266F: "sharp", 0x2669: "quarter"}

# File, package folder, file in it, weight range of a variable face, family
FACES = (
    ("sans", 0, "VF/SourceSans3VF-Upright.ttf", (400, 700), "Topform Sans"),
    ("sans-italic", 0, "VF/SourceSans3VF-Italic.ttf", (400, 700), "Topform Sans"),
    ("serif", 1, "400Regular/LibertinusSerif_400Regular.ttf", None, "Topform Serif"),
    ("serif-italic", 1, "400Regular_Italic/LibertinusSerif_400Regular_Italic.ttf", None, "Topform Serif"),
    ("serif-semibold", 1, "600SemiBold/LibertinusSerif_600SemiBold.ttf", None, "Topform Serif"),
)


def subset(font: TTFont, points: set[int]) -> None:
    """Keep these characters, and the features that text on our pages uses."""
    options = Options()
    options.layout_features = ["kern", "mark", "mkmk", "ccmp", "locl", "liga", "tnum", "lnum", "pnum", "onum", "case"]
    options.notdef_outline = True
    options.name_IDs = [0, 1, 2, 3, 4, 5, 6, 13, 14]
    options.hinting = False
    cutter = Subsetter(options)
    cutter.populate(unicodes=points)
    cutter.subset(font)


def graft(font: TTFont, signs: TTFont) -> None:
    """Set the signs that `font` lacks into it, as `signs` draws them."""
    have, order = font.getBestCmap(), font.getGlyphOrder()
    source, scale = signs.getGlyphSet(), font["head"].unitsPerEm / signs["head"].unitsPerEm
    for point, name in GRAFTED.items():
        drawn = signs.getBestCmap().get(point)
        if point in have or drawn is None:
            continue
        pen = TTGlyphPen(None)
        source[drawn].draw(TransformPen(Cu2QuPen(pen, 1.0), (scale, 0, 0, scale, 0, 0)))
        glyph = pen.glyph()
        order.append(name)
        font.setGlyphOrder(order)
        font["glyf"][name] = glyph
        glyph.recalcBounds(font["glyf"])
        font["hmtx"][name] = (round(signs["hmtx"][drawn][0] * scale), getattr(glyph, "xMin", 0))
        if "gvar" in font:
            font["gvar"].variations[name] = []
        for table in font["cmap"].tables:
            if table.isUnicode():
                table.cmap[point] = name
    for table in ("HVAR", "MVAR"):  # widths follow from the outlines; these two would count the new glyphs wrongly
        if table in font:
            del font[table]


def rename(font: TTFont, family: str) -> None:
    """Our own name in the place of a reserved one; copyright and licence stay as they are."""
    for record in list(font["name"].names):
        old = record.toUnicode()
        if record.nameID in (1, 3, 4, 6):
            new = family if record.nameID == 1 else f"{family} {font['OS/2'].usWeightClass}"
            font["name"].setName(
                new.replace(" ", "") if record.nameID == 6 else new,
                record.nameID,
                record.platformID,
                record.platEncID,
                record.langID,
            )
        elif record.nameID == 5:
            font["name"].setName(f"{old}; subset", 5, record.platformID, record.platEncID, record.langID)


def make(folders: list[Path]) -> None:
    """Write all faces."""
    signs = TTFont(folders[1] / "400Regular/LibertinusSerif_400Regular.ttf")
    for stem, package, path, weights, family in FACES:
        for part, points in (("", MAIN), ("-more", MORE)):
            font = TTFont(folders[package] / path)
            subset(font, points)
            if weights:
                instancer.instantiateVariableFont(font, {"wght": weights}, inplace=True)
            if not part:
                graft(font, signs)
            rename(font, family)
            font.flavor = "woff2"
            target = TARGET / f"{stem}{part}.woff2"
            font.save(target)
            print(f"{target.stat().st_size:7} {target.name}")


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    make([Path(name) for name in sys.argv[1:]])
