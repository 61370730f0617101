"""Oils, carriers and their constituents, looked up by id.

This is where the tables' own units become SI; every later module takes its materials from
here and from nowhere else.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, TypeVar

import pandas as pd

from blendkit import data
from blendkit.errors import UnknownMaterial, near_miss, quoted
from blendkit.units import G_PER_KG, ML_PER_M3

_KG_PER_M3_FROM_G_PER_ML = ML_PER_M3 / G_PER_KG


@dataclass(frozen=True)
class Oil:
    """One essential oil, absolute, extract or resin.

    Attributes
    ----------
    id, name, latin_name, inci, process : str
    note : str
        Its usual note: "top", "middle" or "base".
    density_kg_per_m3 : float
        At 20 degrees Celsius; middle of the recorded range. [kg/m3]
    source, grade : str
        Where density and refractive index come from, and how honestly they are known.
    """

    id: str
    name: str
    latin_name: str
    inci: str
    process: str
    note: str
    density_kg_per_m3: float
    source: str
    grade: str


@dataclass(frozen=True)
class Carrier:
    """One carrier oil.

    Attributes
    ----------
    id, name, inci : str
    density_kg_per_m3 : float
        At 20 degrees Celsius; middle of the recorded range. [kg/m3]
    molar_mass_kg_per_mol : float
        Mean over its triglycerides or esters. [kg/mol]
    allergen_group : str
        A caution for people with allergies, in words.
    shelf_life_months : float
        The shorter of the recorded figures. [months]
    source, grade : str
    """

    id: str
    name: str
    inci: str
    density_kg_per_m3: float
    molar_mass_kg_per_mol: float
    allergen_group: str
    shelf_life_months: float
    source: str
    grade: str


def oils() -> pd.DataFrame:
    """Every oil on record, index = id."""
    return data.table("oils").set_index("id")


def carriers() -> pd.DataFrame:
    """Every carrier on record, index = id."""
    return data.table("carriers").set_index("id")


def constituents() -> pd.DataFrame:
    """Every constituent on record, index = id (its CAS number where it has one)."""
    return data.table("constituents").set_index("id")


@cache
def _oils_by_id() -> dict[str, Oil]:
    return {
        row["id"]: Oil(
            id=row["id"],
            name=row["name"],
            latin_name=row["latin_name"],
            inci=row["inci"],
            process=row["process"],
            note=row["note"],
            density_kg_per_m3=_middle_density(row),
            source=row["source"],
            grade=row["grade"],
        )
        for row in data.table("oils").to_dict("records")
    }


@cache
def _carriers_by_id() -> dict[str, Carrier]:
    return {
        row["id"]: Carrier(
            id=row["id"],
            name=row["name"],
            inci=row["inci"],
            density_kg_per_m3=_middle_density(row),
            molar_mass_kg_per_mol=row["mean_molar_mass_g_per_mol"] / G_PER_KG,
            allergen_group=row["allergen_group"],
            shelf_life_months=row["shelf_life_months_low"],
            source=row["source"],
            grade=row["grade"],
        )
        for row in data.table("carriers").to_dict("records")
    }


def _middle_density(row: Mapping[Hashable, Any]) -> float:
    middle: float = (row["density_low_g_per_ml"] + row["density_high_g_per_ml"]) / 2
    return middle * _KG_PER_M3_FROM_G_PER_ML


def oil(oil_id: str) -> Oil:
    """One oil by its id.

    Raises
    ------
    UnknownMaterial
        With the nearest known id.
    """
    return _look_up("oil", oil_id, _oils_by_id())


def oil_ids() -> tuple[str, ...]:
    """Ids of every oil on record."""
    return tuple(_oils_by_id())


def carrier_ids() -> tuple[str, ...]:
    """Ids of every carrier on record."""
    return tuple(_carriers_by_id())


def carrier(carrier_id: str) -> Carrier:
    """One carrier by its id.

    Raises
    ------
    UnknownMaterial
        With the nearest known id.
    """
    return _look_up("carrier", carrier_id, _carriers_by_id())


Material = TypeVar("Material", Oil, Carrier)


def _look_up(kind: str, name: str, known: Mapping[str, Material]) -> Material:
    try:
        return known[name]
    except (KeyError, TypeError):
        hint = near_miss(name, known)
        text = f"{kind}: got {quoted(name)}; needs the id of a {kind} on record."
        raise UnknownMaterial(f"{text} {hint or f'See bk.{kind}s().'}") from None
