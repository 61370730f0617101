"""Numbers and dates as a reader's language writes them.

Output only: nothing that a person types is read with it. A language is "en", "de" or "fr"; a
region is one of `data/regions.csv`. The forms are those of the Unicode Common Locale Data
Repository, by way of Babel.
"""

from collections.abc import Callable, Iterable
from datetime import date
from decimal import Decimal

from babel.dates import format_date
from babel.numbers import format_decimal

from blendkit.foundation.units import show

_TERRITORIES = {"US": "US", "Canada": "CA"}
_OWN = ("en_GB", "en_US", "en_CA", "fr_CA")


def locale_of(language: str, region: str) -> str:
    """Name of the locale of a language in a region.

    Examples
    --------
    >>> locale_of("en", "EU"), locale_of("fr", "Canada"), locale_of("de", "US")
    ('en_GB', 'fr_CA', 'de')
    """
    exact = f"{language}_{_TERRITORIES.get(region, 'GB')}"
    return exact if exact in _OWN else language


def number(value: float, locale: str, digits: int = 3) -> str:
    """A number with `digits` significant digits, with the decimal sign of the locale.

    Examples
    --------
    >>> number(7.5, "en_CA"), number(7.5, "fr_CA")
    ('7.5', '7,5')
    """
    return format_decimal(Decimal(show(value, digits)), "0.#########", locale)


def long_date(day: date, locale: str) -> str:
    """A day with the name of its month.

    Examples
    --------
    >>> long_date(date(2026, 12, 1), "fr")
    '1 décembre 2026'
    """
    return format_date(day, "long", locale)


def month(day: date, locale: str) -> str:
    """A month and its year.

    Examples
    --------
    >>> month(date(2026, 12, 1), "en_US")
    'December 2026'
    """
    return format_date(day, "LLLL y", locale)


def in_each(languages: Iterable[str], text: Callable[[str], str], joint: str = " / ") -> str:
    """A text in several languages, one behind the other; what is the same in two shows once."""
    return joint.join(dict.fromkeys(filter(None, map(text, languages))))
