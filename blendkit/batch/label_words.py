"""Words of a label: contents, short cautions, shelf life; and a seller's further duties."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import date, timedelta
from functools import cache
from types import MappingProxyType
from typing import Any, NamedTuple

from blendkit.blend.blend import Blend
from blendkit.blend.market import Market
from blendkit.foundation import data
from blendkit.foundation.units import show_ml, to_si
from blendkit.skin.cautions import Caution
from blendkit.skin.freshness import Storing
from blendkit.skin.keeping_times import NOT_STORED, best_before, months_later

SELLER_NOTICE = (
    "Pointers to local law, not legal advice, and not complete: ask your authority. "
    "This workbook is no assessment; suppliers' certificates, local law and a qualified "
    "assessor decide."
)
_IN_BRACKETS = re.compile(r" \([^)]*\)")
_MOST_MONTHS_WITH_DATE = 30  # Art. 19(1)(c): beyond, months after opening instead of a date


def contents_in_words(volume_m3: float, region: str) -> str:
    """Net contents as the region writes them.

    Fluid ounces are rounded down, so that the label never claims more than is there (idea of
    NIST Handbook 130, recalled).

    Examples
    --------
    >>> contents_in_words(10e-6, "EU"), contents_in_words(10e-6, "US")
    ('10 mL', '0.33 fl oz (10 mL)')
    """
    millilitres = show_ml(volume_m3)
    if region != "US":
        return millilitres
    # a little above, so that a whole hundredth is not lost to binary arithmetic
    hundredths = int(volume_m3 / to_si("1 floz", "m**3", name="fluid ounce") * 100 + 1e-6)
    return f"{hundredths / 100:g} fl oz ({millilitres})"


class ShelfLife(NamedTuple):
    """Shelf life of a product, as its label shows it.

    Attributes
    ----------
    text : str
        "" where months after opening are needed and not known.
    after_opening_months : int or None
        For the open jar that replaces the date on the label.
    notes : tuple of str
        Basis of the figure.
    """

    text: str
    after_opening_months: int | None
    notes: tuple[str, ...]


def shelf_life(
    blend: Blend,
    mixed_on: date,
    opened_on: Mapping[str, date],
    keeps_months: int | None = None,
    after_opening_months: int | None = None,
    stored: Mapping[str, Storing] = NOT_STORED,
) -> ShelfLife:
    """Best-before date; or months after opening, for what keeps longer than 30 months.

    Parameters
    ----------
    blend : Blend
    mixed_on : date
    opened_on : mapping of str to date
        Opening days of the bottles it is mixed from, by id.
    keeps_months : int, optional
        As the maker knows it; that of the weakest part where left out.
    after_opening_months : int, optional
        As the maker knows it.
    stored : mapping of str to Storing, optional
        How those bottles were stored, by id.

    Notes
    -----
    Regulation (EC) No 1223/2009, Article 19(1)(c); the 30 months as restated by a trade
    association. "Before the end of" a month never reaches past the day: the last month that
    ends by it is named.
    """
    weakest = best_before(blend, mixed_on, opened_on, stored)
    notes = [
        f"Shelf life: that of {weakest.weakest}, its weakest part, until "
        f"{weakest.use_by} ({weakest.grade}; that a blend keeps as long as its weakest part "
        "is common practice)."
    ]
    if weakest.assumed_fresh:
        notes.append(f"Counted as opened on mixing: {', '.join(weakest.assumed_fresh)}.")
    use_by = weakest.use_by
    if keeps_months is not None:
        use_by = months_later(mixed_on, keeps_months)
        if use_by > weakest.use_by:
            notes.append(f"The time you typed, until {use_by}, is longer.")
    if use_by <= months_later(mixed_on, _MOST_MONTHS_WITH_DATE):
        end = f"Best used before the end of {_last_whole_month(use_by)}"
        return ShelfLife(end, None, tuple(notes))
    opened = f"{after_opening_months}M" if after_opening_months else ""
    return ShelfLife(opened, after_opening_months, tuple(notes))


def _last_whole_month(use_by: date) -> str:
    """Last month that ends by that day, such as "11/2027"."""
    tomorrow = use_by + timedelta(days=1)
    end = tomorrow.replace(day=1) - timedelta(days=1)
    return f"{end.month:02}/{end.year}"


def short_cautions(cautions: Iterable[Caution]) -> tuple[str, ...]:
    """Shorten cautions for a sticker, the strictest of each kind.

    Some have room on a card only; `Label.cautions` has them all in full.
    """
    strictest: dict[str, tuple[float, str, list[str]]] = {}
    for caution in cautions:
        row = _short_rows().get((caution.topic, caution.who, caution.action))
        if row is None:
            continue
        group = row["caution_group"]
        rank, words, because = strictest.get(group, (0, "", []))
        because = [*because, *(caution.because_of.split(", ") if caution.because_of else [])]
        if row["rank"] > rank:
            rank, words = row["rank"], row["words"]
        strictest[group] = (rank, words, because)
    order = list(dict.fromkeys(row["caution_group"] for row in _short_rows().values()))
    return tuple(
        words.replace("{because}", ", ".join(_in_a_sentence(because)))
        for _, words, because in (strictest[group] for group in order if group in strictest)
        if words
    )


def merge_cautions(cautions: Iterable[Caution]) -> tuple[Caution, ...]:
    """Merge cautions of one topic for the same people: the strictest, with all its causes.

    Causes are named without what their names have in brackets.
    """
    merged: dict[tuple[str, str], Caution] = {}
    for caution in cautions:
        key, because = (caution.topic, caution.who), _IN_BRACKETS.sub("", caution.because_of)
        strictest = merged.get(key, caution._replace(because_of=""))
        causes = [*strictest.because_of.split(", "), *because.split(", ")]
        named = ", ".join(dict.fromkeys(filter(None, causes)))
        merged[key] = strictest._replace(because_of=named)
    return tuple(merged.values())


def _in_a_sentence(names: Iterable[str]) -> list[str]:
    return [name[:1].lower() + name[1:] for name in dict.fromkeys(names)]


@cache
def _short_rows() -> Mapping[tuple[str, ...], dict[Any, Any]]:
    rows = data.table("label_cautions").to_dict("records")
    keys = ("topic", "who", "action")
    return MappingProxyType({tuple(row[key] for key in keys): row for row in rows})


class Duty(NamedTuple):
    """Legal duty of a seller in a region.

    Attributes
    ----------
    step, text, source, grade : str
    """

    step: str
    text: str
    source: str
    grade: str


def duties(region: str) -> tuple[Duty, ...]:
    """Duties of a seller in a region besides the label, in order.

    Parameters
    ----------
    region : str
        "EU", "UK", "US" or "other".

    Raises
    ------
    BadNumber
        No such region.
    """
    region = Market(region).region
    rows = data.table("seller_duties")
    own = rows.loc[rows["region"] == region, list(Duty._fields)]
    return tuple(Duty._make(map(str, row)) for row in own.itertuples(index=False))
