"""Font of the labels: widths and heights of its characters, and the font itself.

A label is set with this one font on every machine, because a label that fits with one font need
not fit with another. It is cut out of DejaVu Sans Condensed without kerning, so the width of a
line is the sum of its characters.
"""

import base64
import json
from functools import cache, lru_cache
from importlib.resources import files
from typing import Any

from blendkit.foundation.shipping import package_text

FAMILY = "blendkit label"
WEIGHTS = {"regular": 400, "bold": 700}
# of an em, for a character missing in the font, which the browser takes from another one
_MISSING_WIDTH = 1.5
_FOLDER = "showing/label/fonts"


@cache
def _faces() -> dict[str, Any]:
    text = package_text(f"{_FOLDER}/label_font.json")
    faces: dict[str, Any] = json.loads(text)
    return faces


@lru_cache(maxsize=8192)
def width_in_em(text: str, face: str = "regular") -> float:
    """Width of a text, in multiples of the type size. [-]"""
    em = float(_faces()[face]["units_per_em"])
    advances: dict[str, float] = _faces()[face]["advances"]
    return sum(advances.get(letter, _MISSING_WIDTH * em) for letter in text) / em


def missing_characters(text: str) -> str:
    """List the characters missing in the font, so that their width is a guess."""
    advances = _faces()["regular"]["advances"]
    return "".join(dict.fromkeys(letter for letter in text if letter not in advances))


@cache
def height_in_em(letter: str) -> float:
    """Height of a letter, in multiples of the type size; "em" is the size itself. [-]"""
    return 1.0 if letter == "em" else _in_em(_faces()["regular"]["heights"][letter])


@cache
def ascent_in_em() -> float:
    """Distance from the baseline to the top of the tallest letter. [-]"""
    return _in_em(_faces()["regular"]["ascent"])


@cache
def line_in_em() -> float:
    """Height of a line that holds every letter. [-]"""
    return ascent_in_em() + _in_em(_faces()["regular"]["descent"])


def _in_em(units: float) -> float:
    return float(units) / float(_faces()["regular"]["units_per_em"])


@cache
def style_sheet() -> str:
    """Write the font as CSS that needs no network."""
    rules = []
    for face, weight in WEIGHTS.items():
        packed = files("blendkit").joinpath(f"{_FOLDER}/label-{face}.woff2").read_bytes()
        coded = base64.b64encode(packed).decode("ascii")
        rules.append(
            f"@font-face {{ font-family: '{FAMILY}'; font-weight: {weight}; "
            f"src: url(data:font/woff2;base64,{coded}) format('woff2'); }}"
        )
    return "\n".join(rules)
