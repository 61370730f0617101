"""Words of a label: contents, short cautions, shelf life; and a seller's further duties."""

import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from functools import cache
from types import MappingProxyType
from typing import Any, NamedTuple

from blendkit.blend.blend import Blend
from blendkit.blend.market import Market
from blendkit.foundation import data
from blendkit.foundation.locales import in_each, locale_of, month, number
from blendkit.foundation.units import ML_PER_M3, to_si
from blendkit.skin.cautions import Caution
from blendkit.skin.freshness import Storing
from blendkit.skin.keeping_times import NOT_STORED, best_before, months_later

SELLER_NOTICE = (
    "Pointers to local law, not legal advice, and not complete: ask your authority. "
    "This workbook is no assessment; suppliers' certificates, local law and a qualified "
    "assessor decide."
)
ENGLISH_ONLY = ("en",)
LANGUAGES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "English": ENGLISH_ONLY,
        "Deutsch": ("de",),
        "Français": ("fr",),
        "English and French": ("en", "fr"),
    }
)
_BOTH = {"Canada": ("en", "fr")}  # Cosmetic Regulations, section 18
_COLUMNS = {"en": "words"}
_NUMERIC_DATES = ("EU", "UK")  # mm/yyyy, as the Irish and Finnish authorities restate Annex VII
_IN_BRACKETS = re.compile(r" \([^)]*\)")
_MOST_MONTHS_WITH_DATE = 30  # Art. 19(1)(c): beyond, months after opening instead of a date


@cache
def _texts() -> Mapping[str, dict[str, str]]:
    rows = data.table("label_words").to_dict("records")
    return {str(row["key"]): {str(key): str(row[key]) for key in row} for row in rows}


def say(key: str, language: str, **values: object) -> str:
    """A text of `data/label_words.csv` with its gaps filled."""
    return _texts()[key][language].format_map(values)


def say_in_each(key: str, languages: Iterable[str], **values: object) -> str:
    """A text of `data/label_words.csv` in several languages, one behind the other."""
    return in_each(languages, lambda one: say(key, one, **values))


def languages_of(region: str, chosen: Sequence[str]) -> tuple[str, ...]:
    """Languages of a label: those the region's law asks for, else the ones chosen."""
    return _BOTH.get(region, tuple(chosen))


def contents_in_words(
    volume_m3: float, region: str, languages: Sequence[str] = ENGLISH_ONLY
) -> str:
    """Net contents as the region writes them.

    Fluid ounces are rounded down, so that the label never claims more than is there (idea of
    NIST Handbook 130, recalled).

    Examples
    --------
    >>> contents_in_words(10e-6, "EU"), contents_in_words(10e-6, "US")
    ('10 mL', '0.33 fl oz (10 mL)')
    >>> contents_in_words(7.5e-6, "Canada", ("en", "fr"))
    '7.5 mL / 7,5 mL'
    """
    volume_ml = volume_m3 * ML_PER_M3
    millilitres = in_each(
        languages, lambda language: f"{number(volume_ml, locale_of(language, region))} mL"
    )
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
    region: str = Market().region,
    languages: Sequence[str] = ENGLISH_ONLY,
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
    region : str, optional
        As in `Market`: EU and UK law ask for figures, 11/2027.
    languages : sequence of str, optional
        Of the text.
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
        # the last day of the last month that ends by then
        last = (use_by + timedelta(days=1)).replace(day=1) - timedelta(days=1)
        end = in_each(languages, lambda one: _end_of(last, region, one))
        return ShelfLife(end, None, tuple(notes))
    opened = f"{after_opening_months}M" if after_opening_months else ""
    return ShelfLife(opened, after_opening_months, tuple(notes))


def _end_of(last: date, region: str, language: str) -> str:
    if region in _NUMERIC_DATES:
        return say("best_before", language, month=f"{last:%m/%Y}")
    words = month(last, locale_of(language, region)).replace(" ", "\u00a0")
    return say("best_before", language, month=words)


def short_cautions(
    cautions: Iterable[Caution], language: str = "en", *, on_card: bool = False
) -> tuple[str, ...]:
    """Shorten cautions, the strictest of each kind, for a sticker or, in full number, a card.

    Some have room on a card only; `Label.cautions` has them all in full, in English.
    """
    groups: dict[str, list[tuple[dict[Any, Any], Caution]]] = {
        row["caution_group"]: [] for row in _short_rows().values()
    }
    for caution in cautions:
        if row := _short_rows().get((caution.topic, caution.who, caution.action)):
            groups[row["caution_group"]].append((row, caution))
    found = []
    for group in filter(None, groups.values()):
        row = max((row for row, _ in group), key=lambda row: row["rank"])
        if row["words"] or on_card:
            causes = (name for _, one in group for name in one.because_of.split(", ") if name)
            because = ", ".join(_in_a_sentence(causes, language))
            text = row[_COLUMNS.get(language, language)]
            found.append(text.replace("{because}", because))
    return tuple(filter(None, found))


def full_cautions(cautions: Iterable[Caution], language: str) -> tuple[str, ...]:
    """Cautions for a card or a page: in full in English, in other languages in short words."""
    if language != "en":
        return short_cautions(cautions, language, on_card=True)
    found = []
    for caution in merge_cautions(cautions):
        who = "" if caution.who == "everyone" else f"{caution.who.capitalize()}: "
        because = f" ({caution.because_of})" if caution.because_of else ""
        found.append(f"{who}{caution.text}{because}")
    return (*found, say("patch_test", language))


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


def _in_a_sentence(names: Iterable[str], language: str) -> list[str]:
    """Names of oils and carriers in a language; English where it has none on record."""
    known = {row["en"].lower(): row[language] for row in _texts().values()}
    found = [known.get(name.lower(), name) for name in dict.fromkeys(names)]
    if language == "de":  # nouns keep their capitals
        return found
    return [name[:1].lower() + name[1:] for name in found]


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
        As in `Market`.

    Raises
    ------
    BadNumber
        No such region.
    """
    region = Market(region).region
    rows = data.table("seller_duties")
    own = rows.loc[rows["region"] == region, list(Duty._fields)]
    return tuple(Duty._make(map(str, row)) for row in own.itertuples(index=False))
