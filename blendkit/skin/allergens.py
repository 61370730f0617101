"""Label allergens: the names the law wants on a label, and which oils bring them.

On a product that stays on the skin a listed substance is named when it is more than 0.001 % of
it. A natural extract that is an entry of its own is named as well, and its constituents still
count. The high end of every range counts: a name too many harms nobody. Which part of the list
is law or a guide in a region, and from which day, is in `data/allergen_lists.csv`.
"""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from functools import cache, lru_cache
from types import MappingProxyType
from typing import Any, NamedTuple

import pandas as pd

from blendkit.blend.blend import Blend, BlendLike, as_blend
from blendkit.foundation import data
from blendkit.foundation.units import read_day, show
from blendkit.materials.catalogue import Oil
from blendkit.skin.contents import content_in
from blendkit.skin.limits import brought_by, weakest
from blendkit.skin.rules import oils_in_words

COLUMNS = [
    "label_name", "percent", "must_be_named", "from_oils", "dates", "list_used", "entry",
    "natural_extract", "figure_basis", "source", "status", "on_label",
]  # fmt: skip
LAW, GUIDE, NOT_YET = "law", "guide", "not yet"
_PARTS = {"original": "older", "longer": "newer"}
_WORDS = {LAW: "by law", GUIDE: "as a guide", NOT_YET: "not due yet"}


class List(NamedTuple):
    """One part of the list of names, as one region uses it.

    Attributes
    ----------
    part_of_list : str
        "original" for the names of 2003, "longer" for those added in 2023.
    basis : str
        "law" or "guide".
    new_from, all_from : str
        ISO days from which lots placed on the market, and all that is on sale, must carry the
        names; "" for a guide.
    list_used, source, grade, remark : str
    """

    part_of_list: str
    basis: str
    new_from: str
    all_from: str
    list_used: str
    source: str
    grade: str
    remark: str

    def status(self, placed_on: date) -> str:
        """Status for a lot placed on the market that day: "law", "guide" or "not yet"."""
        return NOT_YET if self.new_from > placed_on.isoformat() else self.basis

    @property
    def dates(self) -> str:
        """Days from which it is law, in words."""
        if self.basis == GUIDE:
            return "as a guide, without a date"
        return f"placed on the market from {self.new_from}; all on sale from {self.all_from}"


@cache
def lists_of(region: str) -> Mapping[str, List]:
    """Both parts of the list of names in a region, by `part_of_list`."""
    own = [row for row in data.rows("allergen_lists") if row["region"] == region]
    found = [List(*(row[name] for name in List._fields)) for row in own]
    return MappingProxyType({one.part_of_list: one for one in found})


class Named(NamedTuple):
    """One entry of the list, as it counts in one product.

    Attributes
    ----------
    label_name : str
        As the regulation spells it.
    amount : float
        Mass fraction of the product. [-]
    must_be_named : bool
        Whether `amount` is above the threshold; `on_label` asks for region and day too.
    from_oils : tuple of (str, float)
        Oil ids with what each brings, largest first.
    figure_basis : str
        The weakest grade among the entry and the figures added up.
    entry : dict
        Its row of `data/label_allergens.csv`, with the weakest grade of its members.
    """

    label_name: str
    amount: float
    must_be_named: bool
    from_oils: tuple[tuple[str, float], ...]
    figure_basis: str
    entry: dict[str, Any]

    @property
    def is_extract(self) -> bool:
        """True for a natural extract that is an entry of its own."""
        return bool(self.entry["natural_extract"] == "yes")


@lru_cache(maxsize=256)
def _weighed(
    oils: tuple[Oil, ...],
) -> tuple[tuple[dict[str, Any], Mapping[str, float], str], ...]:
    """Entries that some oils bring: the row, the weight of each oil, and the weakest grade."""
    found = []
    for row in data.rows("label_allergens"):
        own = [m for m in data.rows("label_members") if m["label_name"] == row["label_name"]]
        constituents, extracts = (
            frozenset(m["member"] for m in own if m["member_kind"] == kind)
            for kind in ("constituent", "material")
        )
        entry = {**row, "grade": weakest(each["grade"] for each in (row, *own))}
        weights, grades = {}, [entry["grade"]]
        for oil in oils:
            if oil.based_on in extracts:
                weights[oil.id] = 1.0
            elif (held := content_in(oil, constituents)) and held.fraction > 0:
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
            passes = round(amount, 12) > entry["threshold_percent"] / 100
            found.append(Named(entry["label_name"], amount, passes, adding, grade, entry))
    return tuple(sorted(found, key=lambda named: -named.amount))


def on_label(named: Named, region: str, placed_on: date) -> bool:
    """True for a name above the threshold that is law, or a guide, for a lot of that day."""
    used = lists_of(region)[named.entry["part_of_list"]]
    return named.must_be_named and used.status(placed_on) != NOT_YET


def label_allergens(
    blend: BlendLike, region: str | None = None, placed_on: date | str | None = None
) -> pd.DataFrame:
    """The allergen names for a blend's label.

    Parameters
    ----------
    blend : Blend, document, or path
        As it is really filled; percents are by mass of the finished product.
    region : str, optional
        As in `Market`; the blend's own where left out.
    placed_on : date or str, optional
        Day on which the lot is placed on the market, a date or ISO text; today where left out.

    Returns
    -------
    DataFrame
        Largest first; columns as in `COLUMNS`. `must_be_named` is True above the threshold of a
        list that is law in the region for such a lot; `status` is "law", "guide" or "not yet";
        `on_label` is True for what is printed here, by law or as a guide. What `label_gaps`
        names may hold more.

    Raises
    ------
    BadNumber
        No such region, or no day.
    """
    blend = as_blend(blend)
    region = blend.market.with_(region).region
    day = date.today() if placed_on is None else read_day(placed_on, "placed on the market")
    oils = blend.base_oils
    rows = []
    for named in named_in(oils, blend.bottle.mass_fractions()):
        used = lists_of(region)[named.entry["part_of_list"]]
        status = used.status(day)
        rows.append(
            {
                **named.entry,
                **named._asdict(),
                "percent": named.amount * 100,
                "must_be_named": named.must_be_named and status == LAW,
                "from_oils": oils_in_words(named.from_oils),
                "dates": used.dates,
                "list_used": used.list_used,
                "entry": named.entry["entry"],
                "natural_extract": named.is_extract,
                "status": status,
                "on_label": on_label(named, region, day),
            }
        )
    return pd.DataFrame(rows, columns=COLUMNS)


def threshold_percent() -> float:
    """Percent of a leave-on product above which a listed substance is named."""
    return float(data.table("label_allergens")["threshold_percent"].min())


def list_notes(region: str, placed_on: date) -> tuple[str, ...]:
    """The lists that count for a lot placed on the market that day, in sentences."""
    sizes = data.table("label_allergens")["part_of_list"].value_counts()
    lists = lists_of(region)
    counts = [
        f"{sizes[part]} {_PARTS[part]} names {_WORDS[one.status(placed_on)]} ({one.grade})"
        for part, one in lists.items()
    ]
    dates = [
        f"The {_PARTS[part]} names are law on lots placed on the market from {one.new_from}; "
        f"what was placed earlier may be on sale without them until "
        f"{date.fromisoformat(one.all_from) - timedelta(days=1)}."
        for part, one in lists.items()
        if one.all_from > placed_on.isoformat()
    ]
    return (f"Allergens above {threshold_percent():g} %: {', '.join(counts)}.", *dates)


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
