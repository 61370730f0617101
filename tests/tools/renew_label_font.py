"""Cuts the labels' font out of DejaVu Sans Condensed, and writes down how wide its letters are.

Only for whoever wants other letters on labels: `pip install fonttools brotli`, then
`python -m tests.renew_label_font FOLDER`, where FOLDER holds the two TrueType files.
`tests/browser/test_label_print.py` measures the result in a browser.
"""

import io
import json
import sys
from pathlib import Path

FONTS = Path(__file__).parents[2] / "blendkit" / "showing" / "label" / "fonts"
FACES = {"regular": "DejaVuSansCondensed.ttf", "bold": "DejaVuSansCondensed-Bold.ttf"}
# Latin, Greek and Cyrillic, with the signs that labels need
LETTERS = [
    *range(0x20, 0x7F),
    *range(0xA0, 0xAD),
    *range(0xAE, 0x180),  # the soft hyphen is not drawn
    *(0x218, 0x219, 0x21A, 0x21B, 0x1E9E),
    *range(0x384, 0x3D0),
    *range(0x400, 0x460),
    *(0x2013, 0x2014, 0x2018, 0x2019, 0x201A, 0x201C, 0x201D, 0x201E, 0x2020, 0x2022, 0x2026),
    *(0x20AC, 0x2122, 0x2260, 0x2264, 0x2265, 0x26A0),
]


def cut(file):
    """The font with its letters only, and without kerning, so that widths add up."""
    from fontTools.subset import Options, Subsetter
    from fontTools.ttLib import TTFont

    font = TTFont(file)
    options = Options(layout_features=[], hinting=False, desubroutinize=True)
    options.drop_tables += ["kern", "GPOS", "GSUB", "GDEF", "FFTM"]
    subsetter = Subsetter(options)
    subsetter.populate(unicodes=LETTERS)
    subsetter.subset(font)
    return font


def measured(font):
    """Widths and heights in units of the font, of which `units_per_em` make an em."""
    names, glyphs = font.getBestCmap(), font["glyf"]
    return {
        "units_per_em": font["head"].unitsPerEm,
        "ascent": font["hhea"].ascent,
        "descent": -font["hhea"].descent,
        "heights": {
            letter: glyphs[names[ord(letter)]].yMax - glyphs[names[ord(letter)]].yMin
            for letter in "xoH"
        },
        "advances": {chr(code): font["hmtx"][name][0] for code, name in sorted(names.items())},
    }


def main(folder):
    found = {}
    for face, name in FACES.items():
        font = cut(Path(folder) / name)
        found[face] = measured(font)
        font.flavor = "woff2"
        packed = io.BytesIO()
        font.save(packed)
        (FONTS / f"label-{face}.woff2").write_bytes(packed.getvalue())
    text = json.dumps(found, indent=0, sort_keys=True)
    (FONTS / "label_font.json").write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1])
