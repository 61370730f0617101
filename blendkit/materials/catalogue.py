"""Oils and carriers, looked up by id; shipped ones and the maker's own lots.

This is where the tables' own units become SI; every later module takes its materials from
here and from nowhere else. An own lot goes by the id of the oil and the lot's name,
"lavender@A12": it takes everything from the shipped oil but what the maker's analysis says.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, TypeVar

import pandas as pd

from blendkit.foundation import data
from blendkit.foundation.errors import UnknownMaterial, near_miss, quoted
from blendkit.foundation.units import G_PER_KG, KG_PER_M3_PER_G_PER_ML
from blendkit.materials.constituents import constituent

OWN_MARK = "@"
_OIL_WORDS = (
    "id", "name", "latin_name", "inci", "inci_grade", "process", "family", "odour_words",
    "note",
)  # fmt: skip
_CARRIER_WORDS = ("id", "name", "inci", "inci_grade", "allergen_group", "source", "grade")


@dataclass(frozen=True)
class Share:
    """One constituent's share of an oil by mass.

    Attributes
    ----------
    constituent : str
        Its id.
    low, typical, high : float
        Mass fractions. [-]
    source, grade : str
    is_old_bound : bool
        Whether an old or coarse table gives the high end, which newer ones do not confirm.
    """

    constituent: str
    low: float
    typical: float
    high: float
    source: str
    grade: str
    is_old_bound: bool = False

    @property
    def settled(self) -> float:
        """Mass fraction beyond doubt; below an old bound nothing typical is known. [-]"""
        guessed = self.is_old_bound and self.grade == "estimated"
        return self.low if guessed else self.typical


@dataclass(frozen=True)
class Oil:
    """One essential oil, absolute, extract or resin.

    Attributes
    ----------
    id, name, latin_name, inci, process, family, odour_words : str
    inci_grade : str
        Grade of the INCI name; a label depends on it.
    note : str
        Its usual note: "top", "middle" or "base".
    density_kg_per_m3 : float
        At 20 degrees Celsius; middle of the recorded range. [kg/m3]
    composition_known : bool
        False where no usable analysis is on record.
    composition : tuple of Share
        Largest first. What it does not describe is `unidentified_fraction`.
    source, grade : str
        Of the density.
    based_on : str
        The shipped oil's id; its own id for a shipped oil.
    kind_unknown : bool
        Whether it represents several kinds, with the highest limit of them.
    reporting_limit : float or None
        For an own lot: below it, by mass, the analysis names nothing. None: not stated. [-]
    unmatched : tuple of str
        For an own lot: names in its analysis that nothing on record matches.
    recorded : frozenset of str
        For an own lot with a certificate of some constituents only: ids of the others, which
        stay as on record.
    """

    id: str
    name: str
    latin_name: str
    inci: str
    inci_grade: str
    process: str
    family: str
    odour_words: str
    note: str
    density_kg_per_m3: float
    composition_known: bool
    composition: tuple[Share, ...]
    source: str
    grade: str
    based_on: str
    kind_unknown: bool = False
    reporting_limit: float | None = None
    unmatched: tuple[str, ...] = ()
    recorded: frozenset[str] = frozenset()

    @property
    def unidentified_fraction(self) -> float:
        """Mass that no constituent on record describes; never taken for nothing. [-]"""
        return max(0.0, 1.0 - sum(share.typical for share in self.composition))

    @property
    def analysed(self) -> frozenset[str]:
        """Ids of the constituents that an own lot's analysis found, or sets a bound to."""
        if self.id == self.based_on:
            return frozenset()
        named = (share.constituent for share in self.composition if share.high > 0)
        return frozenset(named) - self.recorded


@dataclass(frozen=True)
class Carrier:
    """One carrier oil.

    Attributes
    ----------
    id, name, inci : str
    inci_grade : str
        Grade of the INCI name; a label depends on it.
    density_kg_per_m3 : float
        At 20 degrees Celsius; middle of the recorded range. [kg/m3]
    molar_mass_kg_per_mol : float
        Mean over its triglycerides or esters. [kg/mol]
    allergen_group : str
        A caution for people with allergies, in words.
    shelf_life_months : float
        The shorter of the recorded figures. [months]
    source, grade : str
        Of shelf life and allergen group.
    """

    id: str
    name: str
    inci: str
    inci_grade: str
    density_kg_per_m3: float
    molar_mass_kg_per_mol: float
    allergen_group: str
    shelf_life_months: float
    source: str
    grade: str


def oils() -> pd.DataFrame:
    """Every oil on record: the shipped ones, then the maker's own lots.

    Returns
    -------
    DataFrame
        Index = id; an own lot has its oil's row with its own name. Densities at 20 °C [g/mL].
    """
    shipped, own = shipped_oils(), _own_oils()
    rows = shipped.loc[[oil.based_on for oil in own.values()]]
    known = ["yes" if oil.composition_known else "no" for oil in own.values()]
    rows = rows.assign(name=[oil.name for oil in own.values()], composition_known=known)
    return pd.concat([shipped, rows.set_axis(list(own)).rename_axis("id")])


def shipped_oils() -> pd.DataFrame:
    """Every shipped oil, index = id."""
    return data.table("oils").set_index("id")


def carriers() -> pd.DataFrame:
    """Every shipped carrier, index = id."""
    return data.table("carriers").set_index("id")


def oil_ids() -> tuple[str, ...]:
    """Ids of every oil on record: the shipped ones, then the maker's own lots."""
    return (*_shipped_oils(), *_own_oils())


def carrier_ids() -> tuple[str, ...]:
    """Ids of every carrier on record."""
    return tuple(_carriers())


def oil(oil_id: str) -> Oil:
    """One oil by its id.

    Raises
    ------
    UnknownMaterial
        With the nearest known id.
    """
    known = _shipped_oils()
    return known.get(oil_id) or _look_up("oil", oil_id, {**known, **_own_oils()})


def shipped_oil(oil_id: str) -> Oil:
    """One shipped oil by its id.

    Raises
    ------
    UnknownMaterial
        With the nearest known id; for an own lot too.
    """
    return _look_up("oil", oil_id, _shipped_oils())


def carrier(carrier_id: str) -> Carrier:
    """One carrier by its id.

    Raises
    ------
    UnknownMaterial
        With the nearest known id.
    """
    return _look_up("carrier", carrier_id, _carriers())


Material = TypeVar("Material", Oil, Carrier)


def _look_up(kind: str, name: str, known: Mapping[str, Material]) -> Material:
    try:
        return known[name]
    except (KeyError, TypeError):
        hint = _hint(kind, name, known)
        got = f"{kind}: got {quoted(name)}; needs an id of the {kind}s on record."
        raise UnknownMaterial(f"{got} {hint}") from None


def _hint(kind: str, name: object, known: Mapping[str, Any]) -> str:
    if isinstance(name, str) and OWN_MARK in name:
        # never the shipped oil: what it may be used up to can differ
        near = near_miss(name, [own for own in known if OWN_MARK in own])
        return near or "Import an export of the store that holds this lot, or keep the lot."
    return near_miss(name, known) or f"See bk.{kind}s()."


def mean_vapour_pressure_pa(oil: Oil) -> float:
    """Geometric mean over an oil's volatile constituents, weighted by mass, at 25 °C. [Pa]

    Used for what the analyses do not describe. 0 where nothing volatile is on record.
    """
    weights = logs = 0.0
    for share in oil.composition:
        known = constituent(share.constituent)
        if known.is_volatile and known.vapour_pressure_pa > 0:
            weights += share.typical
            logs += share.typical * math.log(known.vapour_pressure_pa)
    return math.exp(logs / weights) if weights else 0.0


@cache
def _shipped_oils() -> dict[str, Oil]:
    shares: dict[str, list[Share]] = {}
    for row in data.table("compositions").to_dict("records"):
        shares.setdefault(row["oil"], []).append(
            Share(
                constituent=row["constituent"],
                low=row["low_percent"] / 100,
                typical=row["typical_percent"] / 100,
                high=row["high_percent"] / 100,
                source=row["source"],
                grade=row["grade"],
                is_old_bound=str(row["remark"]).startswith("old bound"),
            )
        )
    with_kinds = set(data.table("oil_kinds")["oil"])
    return {
        row["id"]: Oil(
            **{name: row[name] for name in _OIL_WORDS},
            density_kg_per_m3=_middle_density(row),
            composition_known=row["composition_known"] == "yes",
            composition=tuple(largest_first(shares.get(row["id"], []))),
            source=row["density_source"],
            grade=row["density_grade"],
            based_on=row["id"],
            kind_unknown=row["id"] in with_kinds,
        )
        for row in data.table("oils").to_dict("records")
    }


@cache
def _carriers() -> dict[str, Carrier]:
    return {
        row["id"]: Carrier(
            **{name: row[name] for name in _CARRIER_WORDS},
            density_kg_per_m3=_middle_density(row),
            molar_mass_kg_per_mol=row["mean_molar_mass_g_per_mol"] / G_PER_KG,
            shelf_life_months=row["shelf_life_months_low"],
        )
        for row in data.table("carriers").to_dict("records")
    }


def _middle_density(row: Mapping[Hashable, Any]) -> float:
    middle: float = (row["density_low_g_per_ml"] + row["density_high_g_per_ml"]) / 2
    return middle * KG_PER_M3_PER_G_PER_ML


def largest_first(shares: list[Share]) -> list[Share]:
    """Shares of an oil as they are listed."""
    return sorted(shares, key=lambda share: -share.typical)


_own: list[Callable[[], dict[str, Oil]]] = [dict]


def use_own_materials(read: Callable[[], dict[str, Oil]]) -> None:
    """Take the maker's own oils from here on from a reader of whatever holds them.

    Parameters
    ----------
    read : callable
        Returns the own oils by id; called at each look-up, so it has to be quick.
    """
    _own[:] = [read]


def _own_oils() -> dict[str, Oil]:
    return _own[0]()
