"""A sheet of stickers: paper, columns, rows, margins and gaps, checked before it is printed."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from blendkit.foundation.errors import BadNumber, Problem, attempt, near_miss, quoted
from blendkit.foundation.units import show, to_si
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


@dataclass(frozen=True)
class Grid:
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
            for row in range(self.rows)
            for column in range(self.columns)
        )

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
    if paper not in PAPERS_MM:
        needed = "one of " + ", ".join(PAPERS_MM)
        raise BadNumber([Problem("paper", quoted(paper), needed, near_miss(paper, PAPERS_MM))])
    values = _read({key: text.strip() for key, text in (typed or {}).items()})
    across = _one_way(
        sticker.width_mm, PAPERS_MM[paper][0], values.get("columns"),
        values.get("left margin"), values.get("gap across", _GAP_MM),
    )  # fmt: skip
    down = _one_way(
        sticker.height_mm, PAPERS_MM[paper][1], values.get("rows"),
        values.get("top margin"), values.get("gap down", _GAP_MM),
    )  # fmt: skip
    problems = [
        Problem(
            name, f"{show(wide)} mm from edge to edge", f"at most {show(room)} mm of {paper}"
        )
        for name, wide, room in (
            ("columns", across.reach_mm, PAPERS_MM[paper][0]),
            ("rows", down.reach_mm, PAPERS_MM[paper][1]),
        )
        if wide > room + 1e-6
    ]
    if problems:
        raise BadNumber(problems)
    counted = (across.count, down.count, across.start_mm, down.start_mm)
    return Grid(paper, *counted, across.gap_mm, down.gap_mm, sticker)


@dataclass(frozen=True)
class _OneWay:
    count: int
    start_mm: float
    gap_mm: float
    reach_mm: float


def _one_way(
    side_mm: float, room_mm: float, count: float | None, start_mm: float | None, gap_mm: float
) -> _OneWay:
    if count is None:
        margin = _MARGIN_MM if start_mm is None else start_mm
        free = room_mm - margin - min(margin, _MARGIN_MM)
        count = max(1, math.floor((free + gap_mm) / (side_mm + gap_mm) + 1e-9))
    used = count * side_mm + (count - 1) * gap_mm
    start = max((room_mm - used) / 2, 0.0) if start_mm is None else start_mm
    return _OneWay(int(count), start, gap_mm, start + used)


def _read(typed: Mapping[str, str]) -> dict[str, float]:
    problems: list[Problem] = []
    values = {
        key: attempt(problems, _count if key in _COUNTS else _length_mm, key, text) or 0.0
        for key, text in typed.items()
        if text
    }
    if problems:
        raise BadNumber(problems)
    return values


def _count(key: str, text: str) -> float:
    if not (text.isascii() and text.isdigit() and 1 <= int(text) <= _MOST):
        raise BadNumber([Problem(key, quoted(text), f"a whole number from 1 to {_MOST}")])
    return int(text)


def _length_mm(key: str, text: str) -> float:
    length_mm = to_si(text, "m", name=key) * MM_PER_M
    if length_mm < 0:
        raise BadNumber([Problem(key, quoted(text), "a length of 0 mm or more")])
    return length_mm
