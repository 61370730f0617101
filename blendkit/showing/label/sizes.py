"""Least heights of letters by rule, and sizes of stickers.

Lengths are millimetres of paper, as stickers are sold.
"""

import re
from typing import NamedTuple

from blendkit.foundation import data
from blendkit.foundation.errors import BadNumber, Problem, check_known, quoted
from blendkit.foundation.units import show, to_si
from blendkit.showing.label.font import height_in_em

SHAPES = ("rectangle", "round")
MM_PER_M = 1000.0
_SMALLEST_MM, _LARGEST_MM = 10.0, 250.0


class TypeSize(NamedTuple):
    """Least height of letters by one rule.

    Attributes
    ----------
    rule, letter, words, source, grade, remark : str
        `letter` is the letter measured: "x", "o", or "em" for the type size itself.
    height_mm : float
    """

    rule: str
    letter: str
    height_mm: float
    words: str
    source: str
    grade: str
    remark: str

    @property
    def size_mm(self) -> float:
        """Type size (em) for that height. [mm]"""
        return self.height_mm / height_in_em(self.letter)


class Sticker(NamedTuple):
    """A sticker; both sides are the diameter of a round one. [mm]

    `code_mm` is the side of the square kept free for a QR code, 0 for none.
    """

    shape: str
    width_mm: float
    height_mm: float
    code_mm: float = 0.0

    @property
    def words(self) -> str:
        """Description of its size."""
        if self.shape == "round":
            return f"round {show(self.width_mm)} mm"
        return f"{show(self.width_mm)} × {show(self.height_mm)} mm"


def type_size(rule: str) -> TypeSize:
    """Look up a rule for the size of letters by its name.

    Raises
    ------
    BadNumber
        No such rule.
    """
    sizes = {size.rule: size for size in type_sizes()}
    check_known("type size", rule, sizes)
    return sizes[rule]


def usual_type_size(region: str) -> TypeSize:
    """Size of letters by a region's own rule; the common measure where it has none."""
    return type_size("US cosmetics" if region == "US" else "common measure")


def type_sizes() -> tuple[TypeSize, ...]:
    """List every rule on record for the size of letters."""
    rows = data.table("type_sizes")[list(TypeSize._fields)]
    return tuple(TypeSize._make(row) for row in rows.itertuples(index=False))


def stickers() -> tuple[tuple[str, Sticker], ...]:
    """List the plain sizes on record, by name."""
    rows = data.table("sticker_sizes").to_dict("records")
    return tuple(
        (str(row["name"]), Sticker(str(row["shape"]), row["width_mm"], row["height_mm"]))
        for row in rows
    )


def read_sticker(text: str) -> Sticker:
    """Read a sticker as typed, such as "60 × 45 mm" or "round 40 mm".

    Raises
    ------
    BadNumber
        Not a size, or not within a sticker's range.
    """
    words = text.strip().lower()
    is_round = words.startswith("round")
    sides = re.split(r"[x×*]", words.removeprefix("round").strip())
    wanted = 1 if is_round else 2
    needed = 'a size such as "60 × 45 mm" or "round 40 mm"'
    if len(sides) != wanted:
        raise BadNumber([Problem("sticker", quoted(text), needed)])
    unit = sides[-1].strip().lstrip("0123456789.,+- ")
    with_unit = [side if any(map(str.isalpha, side)) else f"{side} {unit}" for side in sides]
    lengths = [to_si(side.strip(), "m", name="sticker") * MM_PER_M for side in with_unit]
    if not all(_SMALLEST_MM <= length <= _LARGEST_MM for length in lengths):
        fix = f"Each side lies between {_SMALLEST_MM:g} and {_LARGEST_MM:g} mm."
        raise BadNumber([Problem("sticker", quoted(text), needed, fix)])
    return Sticker(SHAPES[is_round], lengths[0], lengths[-1])
