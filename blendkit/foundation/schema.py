"""Rules for the columns of a table: kinds, ranges and words allowed."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

GRADES = ("read", "part-read", "memory", "estimated", "common practice")
NOTES = ("top", "middle", "base")


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
