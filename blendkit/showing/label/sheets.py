"""A sheet of stickers: paper, columns, rows, margins and gaps, checked before it is printed."""

import math
from collections.abc import Mapping
from itertools import product
from types import MappingProxyType
from typing import NamedTuple

from blendkit.foundation.errors import (
    BadNumber,
    Problem,
    attempt,
    check_known,
    quoted,
    refuse_any,
)
from blendkit.foundation.units import is_whole_number, show, to_si
from blendkit.showing.label.sizes import MM_PER_M, Sticker

PAPERS_MM: Mapping[str, tuple[float, float]] = MappingProxyType(
    {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}  # ISO 216; 8.5 by 11 inches
)
TYPED = ("columns", "rows", "left margin", "top margin", "gap across", "gap down")
_COUNTS = ("columns", "rows")
_MARGIN_MM = 8.0  # where nothing is typed; most printers leave about 4 mm blank (memory)
_GAP_MM = 3.0
_UNPRINTED_MM = 4.0
_MOST = 40


class Grid(NamedTuple):
    """Places of the stickers on their sheet. [mm]

    Attributes
    ----------
    paper : str
    columns, rows : int
    left_mm, top_mm : float
        Distance from the paper's edge to the first sticker.
    gap_across_mm, gap_down_mm : float
    sticker : Sticker
    """

    paper: str
    columns: int
    rows: int
    left_mm: float
    top_mm: float
    gap_across_mm: float
    gap_down_mm: float
    sticker: Sticker

    @property
    def places(self) -> tuple[tuple[float, float], ...]:
        """Upper left corner of every sticker, row by row. [mm]"""
        across = self.sticker.width_mm + self.gap_across_mm
        down = self.sticker.height_mm + self.gap_down_mm
        return tuple(
            (self.left_mm + column * across, self.top_mm + row * down)
            for row, column in product(range(self.rows), range(self.columns))
        )

    def check_place(self, first: object) -> int:
        """The place of a sheet's first sticker, counted from 1; `BadNumber` where none is."""
        most = len(self.places)
        if not is_whole_number(first, 1, most):
            needed = f"the place of the first sticker left on the sheet, 1 to {most}"
            raise BadNumber([Problem("first sticker", quoted(first), needed)])
        return first

    @property
    def bottom_mm(self) -> float:
        """Distance from the last row to the lower edge of the paper. [mm]"""
        return PAPERS_MM[self.paper][1] - self.places[-1][1] - self.sticker.height_mm

    @property
    def right_mm(self) -> float:
        """Distance from the last column to the right edge of the paper. [mm]"""
        return PAPERS_MM[self.paper][0] - self.places[-1][0] - self.sticker.width_mm

    @property
    def words(self) -> str:
        """Description of the sheet."""
        words = (
            f"{self.columns} × {self.rows} stickers of {self.sticker.words} on {self.paper}; "
            f"{show(self.left_mm)} mm from the left, {show(self.top_mm)} mm from the top, "
            f"gaps {show(self.gap_across_mm)} and {show(self.gap_down_mm)} mm."
        )
        least = min(self.left_mm, self.top_mm, self.right_mm, self.bottom_mm)
        if least < _UNPRINTED_MM:
            words += (
                " Many printers leave the outer 4 mm blank: print one sheet on plain paper."
            )
        return words


def read_grid(sticker: Sticker, paper: str, typed: Mapping[str, str] | None = None) -> Grid:
    """Read a sheet as typed; empty boxes are chosen for the most stickers.

    Parameters
    ----------
    sticker : Sticker
    paper : str
        "A4" or "Letter".
    typed : mapping of str to str, optional
        Any of `TYPED`: counts as whole numbers, lengths with their unit.

    Raises
    ------
    BadNumber
        Lists every value that is not a count or length, or leaves the paper.
    """
    check_known("paper", paper, PAPERS_MM)
    values = _read(typed or {})
    problems, found = [], []
    ways = (
        ("columns", "left margin", "gap across", sticker.width_mm),
        ("rows", "top margin", "gap down", sticker.height_mm),
    )
    for (name, margin, gap, side_mm), room_mm in zip(ways, PAPERS_MM[paper], strict=True):
        gap_mm = values.get(gap, _GAP_MM)
        edge_mm = values.get(margin, _MARGIN_MM)
        free_mm = room_mm - edge_mm - min(edge_mm, _MARGIN_MM)
        fitting = max(1, math.floor((free_mm + gap_mm) / (side_mm + gap_mm) + 1e-9))
        count = int(values.get(name, fitting))
        used_mm = count * side_mm + (count - 1) * gap_mm
        start_mm = values.get(margin, max((room_mm - used_mm) / 2, 0.0))
        if start_mm + used_mm > room_mm + 1e-6:
            got = f"{show(start_mm + used_mm)} mm from edge to edge"
            problems.append(Problem(name, got, f"at most {show(room_mm)} mm of {paper}"))
        found.append((count, start_mm, gap_mm))
    refuse_any(problems)
    (columns, left_mm, across_mm), (rows, top_mm, down_mm) = found
    return Grid(paper, columns, rows, left_mm, top_mm, across_mm, down_mm, sticker)


def _read(typed: Mapping[str, str]) -> dict[str, float]:
    problems: list[Problem] = []
    values = {
        key: attempt(problems, _count if key in _COUNTS else _length_mm, key, text.strip())
        for key, text in typed.items()
        if text.strip()
    }
    refuse_any(problems)
    return {key: value or 0.0 for key, value in values.items()}


def _count(key: str, text: str) -> float:
    if not (text.isascii() and text.isdigit() and 1 <= int(text) <= _MOST):
        raise BadNumber([Problem(key, quoted(text), f"a whole number from 1 to {_MOST}")])
    return int(text)


def _length_mm(key: str, text: str) -> float:
    length_mm = to_si(text, "m", name=key) * MM_PER_M
    if length_mm < 0:
        raise BadNumber([Problem(key, quoted(text), "a length of 0 mm or more")])
    return length_mm
