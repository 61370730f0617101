"""Label allergens: the names the law wants on a label, and which oils bring them.

On a product that stays on the skin a listed substance is named when it is more than 0.001 % of
it. A natural extract that is an entry of its own is named as well, and its constituents still
count. The high end of every range counts: a name too many harms nobody.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache, lru_cache
from types import MappingProxyType
from typing import NamedTuple

import pandas as pd

from blendkit.blend.blend import Blend, BlendLike, as_blend
from blendkit.foundation import data
from blendkit.foundation.units import show
from blendkit.materials.catalogue import Oil
from blendkit.skin.contents import content_in
from blendkit.skin.limits import brought_by, weakest
from blendkit.skin.rules import oils_in_words

COLUMNS = [
    "label_name", "percent", "must_be_named", "from_oils", "dates", "list_used", "entry",
    "natural_extract", "figure_basis", "source",
]  # fmt: skip
_LAW = "EU Cosmetics Regulation, Annex III"
_GUIDE = "EU list as a guide"
LISTS: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {
        "EU": {
            "original": _LAW,
            "longer": f"{_LAW}, as lengthened by Regulation (EU) 2023/1545",
        },
        "UK": {
            "original": "UK Cosmetics Regulation, taken over from the EU list; not read itself",
            "longer": f"{_GUIDE}: whether the UK takes the longer list over was not seen",
        },
        "US": dict.fromkeys(("original", "longer"), f"{_GUIDE}: no final US list was seen"),
        "other": dict.fromkeys(
            ("original", "longer"), f"{_GUIDE}: no law of this region is on record"
        ),
    }
)


class _Entry(NamedTuple):
    name: str
    constituents: frozenset[str]
    extracts: frozenset[str]
    threshold: float
    part_of_list: str
    dates: str
    number: str
    is_extract: bool
    source: str
    grade: str


class Named(NamedTuple):
    """One entry of the list, as it counts in one product.

    Attributes
    ----------
    label_name : str
        As the regulation spells it.
    amount : float
        Mass fraction of the product. [-]
    must_be_named : bool
        Whether `amount` passes the threshold of the list used.
    from_oils : tuple of (str, float)
        Oil ids with what each brings, largest first.
    figure_basis : str
        The weakest grade among the entry and the figures added up.
    """

    label_name: str
    amount: float
    must_be_named: bool
    from_oils: tuple[tuple[str, float], ...]
    figure_basis: str
    entry: _Entry


@cache
def _entries() -> tuple[_Entry, ...]:
    members = data.table("label_members")
    found = []
    for row in data.table("label_allergens").to_dict("records"):
        own = members[members["label_name"] == row["label_name"]]
        of_kind = own.groupby("member_kind")["member"].agg(frozenset)
        entry = _Entry(
            name=row["label_name"],
            constituents=of_kind.get("constituent", frozenset()),
            extracts=of_kind.get("material", frozenset()),
            threshold=row["threshold_percent"] / 100,
            part_of_list=row["part_of_list"],
            dates=row["dates"],
            number=row["entry"],
            is_extract=row["natural_extract"] == "yes",
            source=row["source"],
            grade=weakest([row["grade"], *own["grade"]]),
        )
        found.append(entry)
    return tuple(found)


@lru_cache(maxsize=256)
def _weighed(
    oils: tuple[Oil, ...],
) -> tuple[tuple[_Entry, Mapping[str, float], str], ...]:
    found = []
    for entry in _entries():
        weights, grades = {}, [entry.grade]
        for oil in oils:
            if oil.based_on in entry.extracts:
                weights[oil.id] = 1.0
            elif (held := content_in(oil, entry.constituents)) and held.fraction > 0:
                weights[oil.id] = held.fraction
                grades.append(held.grade)
        if weights:
            found.append((entry, weights, weakest(grades)))
    return tuple(found)


def named_in(oils: Sequence[Oil], mass_fractions: Mapping[str, float]) -> tuple[Named, ...]:
    """The entries of the list that a product holds, largest first; plain tuples, for panels.

    Parameters
    ----------
    oils : sequence of Oil
    mass_fractions : mapping of str to float
        By oil id. [-]
    """
    found = []
    for entry, weights, grade in _weighed(tuple(oils)):
        adding = brought_by(weights, mass_fractions)
        amount = sum(part for _, part in adding)
        if amount > 0:
            # rounded, so that exactly at the threshold stays at it
            passes = round(amount, 12) > entry.threshold
            found.append(Named(entry.name, amount, passes, adding, grade, entry))
    return tuple(sorted(found, key=lambda named: -named.amount))


def label_allergens(blend: BlendLike, region: str | None = None) -> pd.DataFrame:
    """The allergen names for a blend's label.

    Parameters
    ----------
    blend : Blend, document, or path
        As it is really filled; percents are by mass of the finished product.
    region : str, optional
        As in `Market`; the blend's own where left out. `list_used` says which list gives each
        name, and whether it is law there or a guide.

    Returns
    -------
    DataFrame
        Largest first; columns as in `COLUMNS`. `must_be_named` is True above the threshold of
        the list used. What `label_gaps` names may hold more.
    """
    blend = as_blend(blend)
    region = blend.market.with_(region).region
    oils = blend.base_oils
    rows = []
    for named in named_in(oils, blend.bottle.mass_fractions()):
        entry = named.entry
        rows.append(
            (
                named.label_name,
                named.amount * 100,
                named.must_be_named,
                oils_in_words(named.from_oils),
                entry.dates,
                LISTS[region][entry.part_of_list],
                entry.number,
                entry.is_extract,
                named.figure_basis,
                entry.source,
            )
        )
    return pd.DataFrame(rows, columns=COLUMNS)


def label_gaps(blend: Blend) -> tuple[str, ...]:
    """Reasons why the list of names may be incomplete, in sentences."""
    oils = blend.base_oils
    told = []
    if unknown := [oil.name for oil in oils if not oil.composition_known]:
        told.append(f"Not complete, for want of an analysis: {', '.join(unknown)}.")
    parts = [
        f"{show(oil.unidentified_fraction * 100, 2)} % of {oil.name}"
        for oil in oils
        if oil.composition_known and oil.unidentified_fraction > 0
    ]
    if parts:
        told.append(f"Described by no figure, and perhaps holding more: {', '.join(parts)}.")
    return tuple(told)
