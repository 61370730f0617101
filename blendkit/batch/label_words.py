"""Words of a label: contents, short cautions, shelf life; and a seller's further duties."""

import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from functools import cache
from types import MappingProxyType
from typing import Any

from blendkit.batch.label_details import ENGLISH_ONLY, LabelDetails
from blendkit.blend.blend import Blend
from blendkit.blend.market import Market
from blendkit.foundation import data
from blendkit.foundation.locales import in_each, locale_of, month, number
from blendkit.foundation.units import ML_PER_M3, to_si
from blendkit.skin.cautions import Caution
from blendkit.skin.keeping_times import best_before, months_later

SELLER_NOTICE = (
    "Pointers to local law, not legal advice, and not complete: ask your authority. "
    "This workbook is no assessment; suppliers' certificates, local law and a qualified "
    "assessor decide."
)
LANGUAGES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "English": ENGLISH_ONLY,
        "Deutsch": ("de",),
        "Français": ("fr",),
        "English and French": ("en", "fr"),
    }
)
BY_LAW = {"Canada": ("en", "fr")}  # Cosmetic Regulations, section 18
_NUMERIC_DATES = ("EU", "UK")  # mm/yyyy, as the Irish and Finnish authorities restate Annex VII
_IN_BRACKETS = re.compile(r" \([^)]*\)")
_MOST_MONTHS_WITH_DATE = 30  # Art. 19(1)(c): beyond, months after opening instead of a date


@cache
def _texts() -> Mapping[str, dict[str, str]]:
    return {row["key"]: row for row in data.rows("label_words")}


def say(key: str, language: str, **values: object) -> str:
    """A text of `data/label_words.csv` with its gaps filled."""
    return _texts()[key][language].format_map(values)


def say_in_each(key: str, languages: Iterable[str], **values: object) -> str:
    """A text of `data/label_words.csv` in several languages, one behind the other."""
    return in_each(languages, lambda one: say(key, one, **values))


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


def shelf_life(
    blend: Blend,
    typed: LabelDetails,
    region: str,
    languages: Sequence[str],
) -> tuple[str, int | None, list[str]]:
    """Best-before date; or months after opening, for what keeps longer than 30 months.

    Parameters
    ----------
    blend : Blend
    typed : LabelDetails
        Details from the maker.
    region : str
        As in `Market`: EU and UK law ask for figures, 11/2027.
    languages : sequence of str
        Of the text.

    Returns
    -------
    text : str
        "" where months after opening are needed and not known.
    after_opening_months : int or None
        For the open jar that replaces the date on the label.
    notes : list of str
        Basis of the figure.

    Notes
    -----
    Regulation (EC) No 1223/2009, Article 19(1)(c); the 30 months as restated by a trade
    association. "Before the end of" a month never reaches past the day: the last month that
    ends by it is named.
    """
    weakest, fresh = best_before(blend, typed.mixed_on, typed.opened_on, typed.stored)
    notes = [
        f"Shelf life: that of {weakest.name}, its weakest part, until "
        f"{weakest.use_by} ({weakest.grade}; that a blend keeps as long as its weakest part "
        "is common practice)."
    ]
    if fresh:
        notes.append(f"Counted as opened on mixing: {', '.join(fresh)}.")
    use_by = weakest.use_by
    if typed.keeps_months is not None:
        use_by = months_later(typed.mixed_on, typed.keeps_months)
        if use_by > weakest.use_by:
            notes.append(f"The time you typed, until {use_by}, is longer.")
    if use_by <= months_later(typed.mixed_on, _MOST_MONTHS_WITH_DATE):
        # the last day of the last month that ends by then
        last = (use_by + timedelta(days=1)).replace(day=1) - timedelta(days=1)
        end = in_each(languages, lambda one: _end_of(last, region, one))
        return end, None, notes
    months = typed.after_opening_months
    return f"{months}M" if months else "", months, notes


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
    groups: dict[str, list[tuple[dict[str, Any], Caution]]] = {
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
            text = row["words" if language == "en" else language]
            found.append(text.replace("{because}", because))
    return tuple(filter(None, found))


def full_cautions(cautions: Iterable[Caution], language: str) -> tuple[str, ...]:
    """Cautions for a card or a page: in full in English, in other languages in short words.

    Those of one topic for the same people are one; causes go without what is in brackets.
    """
    if language != "en":
        return short_cautions(cautions, language, on_card=True)
    merged: dict[tuple[str, str], Caution] = {}  # the strictest of each, with all its causes
    for caution in cautions:
        key, because = (caution.topic, caution.who), _IN_BRACKETS.sub("", caution.because_of)
        strictest = merged.get(key, caution._replace(because_of=""))
        causes = [*strictest.because_of.split(", "), *because.split(", ")]
        named = ", ".join(dict.fromkeys(filter(None, causes)))
        merged[key] = strictest._replace(because_of=named)
    found = []
    for caution in merged.values():
        who = "" if caution.who == "everyone" else f"{caution.who.capitalize()}: "
        because = f" ({caution.because_of})" if caution.because_of else ""
        found.append(f"{who}{caution.text}{because}")
    return (*found, say("patch_test", language))


def _in_a_sentence(names: Iterable[str], language: str) -> list[str]:
    """Names of oils and carriers in a language; English where it has none on record."""
    known = {row["en"].lower(): row[language] for row in _texts().values()}
    found = [known.get(name.lower(), name) for name in dict.fromkeys(names)]
    if language == "de":  # nouns keep their capitals
        return found
    return [name[:1].lower() + name[1:] for name in found]


@cache
def _short_rows() -> Mapping[tuple[str, ...], dict[str, Any]]:
    rows = data.rows("label_cautions")
    return {(row["topic"], row["who"], row["action"]): row for row in rows}


def duties(region: str) -> list[dict[str, Any]]:
    """Rows of `data/seller_duties.csv` on a seller in a region, in order.

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
    return [row for row in data.rows("seller_duties") if row["region"] == region]
