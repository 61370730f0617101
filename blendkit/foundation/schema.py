"""Rules for the columns of a table: kinds, ranges and words allowed."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

GRADES = ("read", "part-read", "memory", "estimated", "common practice")
# basis of a limit: its text was read; a law names it; it is calculated from a published
# threshold, which bounds it from above; or none of these
CONFIRMED = ("read", "law", "upper bound", "not confirmed")
NOTES = ("top", "middle", "base")
LIMIT_KINDS = ("restriction", "prohibited", "phototoxicity", "specification", "no figure")


@dataclass(frozen=True)
class Column:
    """Rule of one column: numbers in a range, one of some words, or any text.

    Parameters
    ----------
    low, high : float, optional
        A number in this range is wanted where they are given.
    choices : tuple of str, optional
        One of these words is wanted.
    required : bool, optional
        Whether an empty cell is refused.
    basis : str, optional
        Prefix of the "source" and "grade" columns that say where the figure comes from, such
        as "density_"; empty for those of the whole row.
    """

    low: float = math.nan
    high: float = math.nan
    choices: tuple[str, ...] = ()
    required: bool = True
    basis: str = ""

    @property
    def is_number(self) -> bool:
        """True where the column holds numbers."""
        return not math.isnan(self.low)


@dataclass(frozen=True)
class Table:
    """Rule of one file: its key columns, and the rule of each column by heading."""

    key: tuple[str, ...]
    columns: Mapping[str, Column]
