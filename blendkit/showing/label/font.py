"""The font of the labels: how wide and tall its letters are, and the font itself.

A label is set with this one font on every machine, because a label that fits with one font need
not fit with another. It is cut out of DejaVu Sans Condensed without kerning, so the width of a
line is the sum of its letters.
"""

from __future__ import annotations

import base64
import json
from functools import cache, lru_cache
from importlib.resources import files
from typing import Any

FAMILY = "blendkit label"
WEIGHTS = {"regular": 400, "bold": 700}
# of an em, for a letter that the font lacks and the browser takes from elsewhere
_STRANGE_WIDTH = 1.5
_FOLDER = "showing/label/fonts"


@cache
def _faces() -> dict[str, Any]:
    text = files("blendkit").joinpath(f"{_FOLDER}/label_font.json").read_text(encoding="utf-8")
    faces: dict[str, Any] = json.loads(text)
    return faces


@lru_cache(maxsize=8192)
def width_in_em(text: str, face: str = "regular") -> float:
    """How wide a text is, in multiples of the type size. [-]"""
    known = _faces()[face]
    em = float(known["units_per_em"])
    advances: dict[str, float] = known["advances"]
    return sum(advances.get(letter, _STRANGE_WIDTH * em) for letter in text) / em


def strange_letters(text: str) -> str:
    """The letters of a text that the font lacks, so that their width is a guess."""
    known = _faces()["regular"]["advances"]
    return "".join(dict.fromkeys(letter for letter in text if letter not in known))


@cache
def height_in_em(letter: str) -> float:
    """How tall a letter is, in multiples of the type size; "em" is the size itself. [-]"""
    if letter == "em":
        return 1.0
    known = _faces()["regular"]
    return float(known["heights"][letter]) / float(known["units_per_em"])


@cache
def ascent_in_em() -> float:
    """From the baseline to the top of the tallest letter. [-]"""
    return float(_faces()["regular"]["ascent"]) / float(_faces()["regular"]["units_per_em"])


@cache
def line_in_em() -> float:
    """Height of a line that no letter leaves. [-]"""
    known = _faces()["regular"]
    return (float(known["ascent"]) + float(known["descent"])) / float(known["units_per_em"])


@cache
def style_sheet() -> str:
    """The font as CSS that needs no network."""
    rules = []
    for face, weight in WEIGHTS.items():
        packed = files("blendkit").joinpath(f"{_FOLDER}/label-{face}.woff2").read_bytes()
        coded = base64.b64encode(packed).decode("ascii")
        rules.append(
            f"@font-face {{ font-family: '{FAMILY}'; font-weight: {weight}; "
            f"src: url(data:font/woff2;base64,{coded}) format('woff2'); }}"
        )
    return "\n".join(rules)
