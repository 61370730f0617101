"""Oils and carriers, looked up by id; shipped ones, the maker's own lots and own materials.

This is where the tables' own units become SI; every later module takes its materials from
here and from nowhere else. An own lot goes by the id of the oil and the lot's name,
"lavender@A12": it takes everything from the shipped oil but what the maker's analysis says. An
own material's id begins with "my-"; behind a further "@" it names one version of it.
"""

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from functools import cache
from types import MappingProxyType
from typing import Any, NamedTuple, TypeVar

import pandas as pd

from blendkit.foundation import data
from blendkit.foundation.errors import UnknownMaterial, near_miss, quoted
from blendkit.foundation.units import G_PER_KG, KG_PER_M3_PER_G_PER_ML
from blendkit.materials.constituents import constituent
from blendkit.materials.kinds import (
    ALLERGY_GROUPS,
    TRADE_DROPS_PER_ML,
    Carrier,
    MixedMaterial,
    Oil,
    Share,
    parts_of,
    steeped_in,
)

__all__ = [  # what is looked up here is also taken from here
    "ALLERGY_GROUPS", "TRADE_DROPS_PER_ML", "Carrier", "MixedMaterial", "Oil", "Share",
    "parts_of", "steeped_in",
]  # fmt: skip
OWN_MARK = "@"
OWN = "my-"  # begins the id of an own material; no shipped id begins so
_OIL_WORDS = (
    "id", "name", "latin_name", "inci", "inci_grade", "process", "family", "odour_words",
    "note",
)  # fmt: skip
_CARRIER_WORDS = ("id", "name", "inci", "inci_grade", "allergen_group", "source", "grade")


class Own(NamedTuple):
    """The maker's own materials.

    Attributes
    ----------
    known : mapping of str to Oil or Carrier
        By id: own lots, the newest of each own material, and every version of it.
    ids : tuple of str
        Ids to choose from, without the versions.
    newest : mapping of str to str
        By id of an own material: the id of its newest version.
    """

    known: Mapping[str, Oil | Carrier] = MappingProxyType({})
    ids: tuple[str, ...] = ()
    newest: Mapping[str, str] = MappingProxyType({})


def pinned(material_id: str) -> str:
    """The id of the version that an own material's id means now; any other id stays."""
    return _own[0]().newest.get(material_id, material_id)


def unfold(amounts: Mapping[str, float]) -> dict[str, float]:
    """Masses, or mass fractions, by id with each mixture replaced by its parts."""
    found = defaultdict[str, float](float)
    for name, amount in amounts.items():
        for part, share in _parts(name):
            found[part] += amount * share
    return dict(found)


def fold(weights: Mapping[str, float], material_id: str) -> float:
    """Weight of a unit of mass of a material, where `weights` may name its parts only."""
    parts = [(material_id, 1.0)] if material_id in weights else _parts(material_id)
    return sum(share * weights.get(part, 0.0) for part, share in parts)


def _parts(material_id: str) -> list[tuple[str, float]]:
    """Ids of the oils and carriers in an own material with mass fractions; itself if none."""
    own = find_own(material_id) if material_id.startswith(OWN) else None
    return [(part.id, share) for part, share in parts_of(own)] if own else [(material_id, 1.0)]


def oils() -> pd.DataFrame:
    """Every oil on record: the shipped ones, then the maker's own lots and own materials.

    Returns
    -------
    DataFrame
        Index = id; an own lot has its oil's row with its own name. Densities at 20 °C [g/mL].
    """
    return _with_own(shipped_oils(), _own_ids("oil"))


def shipped_oils() -> pd.DataFrame:
    """Every shipped oil, index = id."""
    return data.table("oils").set_index("id")


def carriers() -> pd.DataFrame:
    """Every carrier on record: the shipped ones, then the maker's own; index = id."""
    return _with_own(data.table("carriers").set_index("id"), _own_ids("carrier"))


def _with_own(shipped: pd.DataFrame, own: Iterable[str]) -> pd.DataFrame:
    texts, rows = shipped.select_dtypes(exclude="number").columns, dict[str, dict[str, Any]]()
    for name in own:
        item, base = _own[0]().known[name], name.partition(OWN_MARK)[0]
        if base in shipped.index:
            row = dict(shipped.loc[base])
        else:
            gap = {key: "" if key in texts else math.nan for key in shipped.columns}
            row = {key: getattr(item, key, nothing) for key, nothing in gap.items()}
            density = item.density_kg_per_m3 / KG_PER_M3_PER_G_PER_ML
            row |= dict.fromkeys(("density_low_g_per_ml", "density_high_g_per_ml"), density)
        if isinstance(item, Oil):
            row["composition_known"] = "yes" if item.composition_known else "no"
        rows[name] = {**row, "name": item.name}
    table = pd.DataFrame.from_dict(rows, orient="index", columns=shipped.columns)
    return pd.concat([shipped, table.rename_axis("id")]) if rows else shipped


def oil_ids() -> tuple[str, ...]:
    """Ids of every oil on record: the shipped ones, then the maker's own."""
    return (*_shipped_oils(), *_own_ids("oil"))


def carrier_ids() -> tuple[str, ...]:
    """Ids of every carrier on record: the shipped ones, then the maker's own."""
    return (*_carriers(), *_own_ids("carrier"))


def known_ids() -> set[str]:
    """Every id that a material goes by, versions of own materials among them."""
    return {*shipped_materials(), *_own[0]().known}


def _own_ids(kind: str) -> list[str]:
    """Ids of own materials to choose from; a mixture is listed by the note it usually plays."""
    known, ids, _ = _own[0]()
    return [name for name in ids if (kind == "carrier") == is_carrier(known[name])]


def is_carrier(item: Oil | Carrier) -> bool:
    """True for a material that is poured to fill up rather than counted."""
    return not isinstance(item, Oil) or item.note == "carrier"


def find_own(material_id: str) -> Oil | Carrier | None:
    """An own material or own lot by its id; None where there is no such one."""
    is_own = isinstance(material_id, str) and (
        material_id.startswith(OWN) or OWN_MARK in material_id
    )
    return _own[0]().known.get(material_id) if is_own else None


def oil(oil_id: str) -> Oil:
    """One oil by its id.

    Raises
    ------
    UnknownMaterial
        With the nearest known id.
    """
    return _find("oil", oil_id, _shipped_oils(), Oil)


def shipped_oil(oil_id: str) -> Oil:
    """One shipped oil by its id.

    Raises
    ------
    UnknownMaterial
        With the nearest known id; for an own lot too.
    """
    return _find("oil", oil_id, _shipped_oils())


@cache
def shipped_materials() -> dict[str, Oil | Carrier]:
    """Every shipped oil and carrier, by id."""
    return {**_shipped_oils(), **_carriers()}


def shipped_material(material_id: str) -> Oil | Carrier:
    """One shipped oil or carrier by its id.

    Raises
    ------
    UnknownMaterial
        With the nearest known id; for an own material too.
    """
    return _find("material", material_id, shipped_materials())


def carrier(carrier_id: str) -> Carrier:
    """One carrier by its id.

    Raises
    ------
    UnknownMaterial
        With the nearest known id.
    """
    return _find("carrier", carrier_id, _carriers(), Carrier)


Material = TypeVar("Material", bound=Oil | Carrier)


def _find(
    kind: str, name: str, shipped: Mapping[str, Material], of: type[Material] | None = None
) -> Material:
    """A shipped material, or one of the maker's own of a kind."""
    if isinstance(name, str) and name in shipped:
        return shipped[name]
    found = find_own(name)
    if of and isinstance(found, of):
        return found
    known = _own[0]().known if of else {}  # a shipped one is looked up to read own ones
    own = [key for key, each in known.items() if of and isinstance(each, of)]
    if isinstance(name, str) and OWN_MARK in name:
        # never the shipped oil: what it may be used up to can differ
        hint = near_miss(name, [key for key in own if OWN_MARK in key])
        hint = hint or "Import an export of the store that holds this lot, or keep the lot."
    else:
        hint = near_miss(name, [*shipped, *own]) or f"See bk.{kind}s()."
    got = f"{kind}: got {quoted(name)}; needs an id of the {kind}s on record."
    raise UnknownMaterial(f"{got} {hint}")


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
    for row in data.rows("compositions"):
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
            composition=largest_first(shares.get(row["id"], [])),
            source=row["density_source"],
            grade=row["density_grade"],
            based_on=row["id"],
            kind_unknown=row["id"] in with_kinds,
        )
        for row in data.rows("oils")
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
        for row in data.rows("carriers")
    }


def _middle_density(row: Mapping[str, Any]) -> float:
    middle: float = (row["density_low_g_per_ml"] + row["density_high_g_per_ml"]) / 2
    return middle * KG_PER_M3_PER_G_PER_ML


def largest_first(shares: Iterable[Share]) -> tuple[Share, ...]:
    """Shares of an oil as they are listed."""
    return tuple(sorted(shares, key=lambda share: -share.typical))


_own: list[Callable[[], Own]] = [Own]


def use_own_materials(read: Callable[[], Own]) -> None:
    """Take the maker's own materials from here on from a reader of whatever holds them.

    Parameters
    ----------
    read : callable
        Called at each look-up, so it has to be quick.
    """
    _own[:] = [read]
