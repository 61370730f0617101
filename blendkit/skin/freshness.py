"""Freshness of a bottle: how much faster it ages by air, warmth and light, and its peroxides.

A keeping time is only ever shortened. The factors are rough, so each has a band; they are in
`data/storing.csv` with what each rests on.
"""

import re
from collections.abc import Iterator
from functools import cache
from math import ceil, prod
from typing import Any, NamedTuple

from blendkit.foundation import data
from blendkit.materials.amounts import material
from blendkit.materials.catalogue import Oil, parts_of
from blendkit.skin.contents import content_in
from blendkit.skin.limits import weakest
from blendkit.skin.published_limits import Limit, published

RICH = 0.1  # the standards speak of "rich in" without a figure; this one is chosen here
NO_PEROXIDE_LIMIT = "no peroxide limit on record"
_PEROXIDES = re.compile(r"peroxide value .*below (\d+) mmol/L")


class Storing(NamedTuple):
    """How a bottle is stored.

    Attributes
    ----------
    place : str
        One of `places()`; "" where not on record.
    in_daylight, has_antioxidant : bool
    headspace : float or None
        Share of the bottle that is air; None where the stock does not show it. [-]
    """

    place: str = ""
    in_daylight: bool = False
    has_antioxidant: bool = False
    headspace: float | None = None


class Ageing(NamedTuple):
    """How many times faster than in the handbook a bottle ages.

    Attributes
    ----------
    low, typical, high : float
        1 or more. [-]
    because : tuple of str
        What makes it so.
    grade, source : str
    """

    low: float
    typical: float
    high: float
    because: tuple[str, ...]
    grade: str
    source: str


def places() -> tuple[str, ...]:
    """Where a bottle can be stored, coolest first."""
    return tuple(name for kind, name in _speeds() if kind == "place")


@cache
def _speeds() -> dict[tuple[str, str], dict[str, Any]]:
    return {(row["kind"], row["condition"]): row for row in data.rows("storing")}


def ageing(storing: Storing) -> Ageing:
    """How many times faster a bottle ages than the handbook's keeping time supposes.

    Notes
    -----
    The speeds of place, daylight and air are multiplied; that of air rises in proportion to
    the headspace. The bottle is taken to have been as empty since it was opened, which errs
    on the early side. Where place or headspace is not on record it only widens the band.
    """
    share = 1.0 if storing.headspace is None else storing.headspace
    air = "empty, with antioxidant" if storing.has_antioxidant else "empty"
    used = [
        ("air", air, share, "" if storing.headspace is None else f"{share * 100:.0f} % air"),
        ("place", storing.place or places()[-1], 1.0, storing.place.partition(",")[0]),
        ("light", "daylight", float(storing.in_daylight), "daylight"),
    ]
    speeds, because, rows = [[1.0] * 3], [], []
    for kind, condition, part, words in used:
        row = _speeds()[kind, condition]
        ends = [1 + part * (row[f"speed_{end}"] - 1) for end in ("low", "typical", "high")]
        if ends[-1] > 1:
            speeds.append(ends if words else [1.0, 1.0, ends[-1]])
            rows.append(row)
            because.append(words or f"{kind} not on record")
    low, typical, high = (prod(each) for each in zip(*speeds, strict=True))
    grade = weakest(row["grade"] for row in rows) if rows else ""
    source = "; ".join(row["source"] for row in rows)
    return Ageing(low, typical, high, tuple(because), grade, source)


def headspace(left_m3: float, bottle_m3: float) -> float:
    """Share of air in the bottle in use, of several of one size of which one is open. [-]

    Examples
    --------
    >>> headspace(5e-6, 10e-6), headspace(14e-6, 10e-6), headspace(20e-6, 10e-6)
    (0.5, 0.6, 0.0)
    """
    bottles = max(round(left_m3 / bottle_m3, 9), 0.0)
    return round(max(ceil(bottles), 1) - bottles, 9)


class Peroxides(NamedTuple):
    """A peroxide test against the published limits.

    Attributes
    ----------
    over : bool or None
        None where no limit is on record, which is no pass.
    words : str
    """

    over: bool | None
    words: str


def judge_peroxides(material_id: str, peroxides_mol_per_m3: float) -> Peroxides:
    """Compare a peroxide value with the strictest limit on record for a material.

    Parameters
    ----------
    material_id : str
    peroxides_mol_per_m3 : float
        [mol/m3], which is the same number in mmol/L.

    Raises
    ------
    UnknownMaterial
    """
    limits = sorted(_peroxide_limits(material_id), key=lambda pair: pair[0])
    value = f"Peroxides {peroxides_mol_per_m3:g} mmol/L"
    if not limits:
        return Peroxides(None, f"{value}: {NO_PEROXIDE_LIMIT}")
    most, limit = limits[0]
    over = peroxides_mol_per_m3 >= most  # the texts say "less than"
    verdict = "at" if peroxides_mol_per_m3 == most else "over" if over else "under"
    text = f"{value}, {verdict} the limit of {most:g} for {limit.name} ({limit.rule_set}; "
    return Peroxides(over, f"{text}{limit.grade})")


def _peroxide_limits(material_id: str) -> Iterator[tuple[float, Limit]]:
    """Limits of an oil and of the constituents it is rich in, of all rule sets. [mol/m3]"""
    oils = [part for part, _ in parts_of(material(material_id)) if isinstance(part, Oil)]
    for limit in published():
        if limit.is_condition and (found := _PEROXIDES.search(limit.remark)):
            held = (content_in(oil, limit.members) for oil in oils if not limit.of_materials)
            is_rich = any(each and each.typical >= RICH for each in held)
            if is_rich or limit.members & {oil.based_on for oil in oils}:
                yield float(found[1]), limit
