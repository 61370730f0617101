"""Bottles of mixed sizes, as people write them: "8 × 10 mL + 4 × 30 mL"."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from blendkit.blend.document import LARGEST_BOTTLE_M3
from blendkit.foundation.errors import BadNumber, Problem, attempt, quoted, refuse_any
from blendkit.foundation.units import show_ml, to_si

MOST_BOTTLES = 100_000
_NEEDED = 'bottles such as "8 × 10 mL + 4 × 30 mL"'
_BETWEEN = re.compile(r"\s*(?:\+|;|,(?!\d)|\band\b)\s*")
_COUNT_AND_SIZE = re.compile(r"(?:(?P<count>\d{1,9})\s*[x×*]\s*)?(?P<size>\d.*)", re.IGNORECASE)


@dataclass(frozen=True)
class Bottles:
    """Some bottles of one size.

    Attributes
    ----------
    count : int
    bottle_m3 : float
        Content of one, filled to its usual mark. [m3]
    """

    count: int
    bottle_m3: float

    def __str__(self) -> str:
        return f"{self.count} × {show_ml(self.bottle_m3, 4)}"


def read_bottles(text: str) -> tuple[Bottles, ...]:
    """Read counts and sizes of bottles.

    Parameters
    ----------
    text : str
        Such as "8 × 10 mL + 4 × 30 mL", also with x or * and commas; "30 mL" is one bottle.

    Returns
    -------
    tuple of Bottles
        In the order written; the same size twice is added up.

    Raises
    ------
    BadNumber
        Lists every part that is not a count and a volume.

    Examples
    --------
    >>> bottles_in_words(read_bottles("8 x 10 mL, 4 x 30 mL and 2 x 10 mL"))
    '10 × 10 mL + 4 × 30 mL'
    """
    parts = [part for part in _BETWEEN.split(str(text).strip()) if part]
    if not parts:
        raise BadNumber([Problem("bottles", quoted(text), _NEEDED)])
    problems: list[Problem] = []
    counts: dict[float, int] = {}
    for part in parts:
        if some := attempt(problems, _read_part, part):
            counts[some.bottle_m3] = counts.get(some.bottle_m3, 0) + some.count
    refuse_any(problems)
    return tuple(Bottles(count, bottle_m3) for bottle_m3, count in counts.items())


def _read_part(part: str) -> Bottles:
    found = _COUNT_AND_SIZE.fullmatch(part)
    if found is None:
        raise BadNumber([Problem("bottles", quoted(part), _NEEDED)])
    count = int(found["count"] or 1)
    bottle_m3 = to_si(found["size"], "m**3", name="bottles, size")
    if not 1 <= count <= MOST_BOTTLES:
        needed = f"a whole number of bottles from 1 to {MOST_BOTTLES}"
        raise BadNumber([Problem("bottles", quoted(part), needed)])
    if not 0 < bottle_m3 <= LARGEST_BOTTLE_M3:
        needed = f"bottles above 0 and up to {show_ml(LARGEST_BOTTLE_M3)}"
        raise BadNumber([Problem("bottles, size", quoted(part), needed)])
    return Bottles(count, bottle_m3)


def bottles_in_words(bottles: Iterable[Bottles]) -> str:
    """Write bottles as `read_bottles` reads them; empty where there is none."""
    return " + ".join(str(some) for some in bottles)
