"""Entries on a label that its maker types, checked where they are made."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from blendkit.batch.ingredients import SCENTS
from blendkit.foundation.errors import Problem, attempt, quoted, refuse_any
from blendkit.foundation.units import is_whole_number, read_day
from blendkit.skin.freshness import Storing

ENGLISH_ONLY = ("en",)
_LONGEST_PAGE = 150  # characters: a QR code of 49 modules
# characters that an address holds as it is (RFC 3986)
_PAGE = re.compile(
    r"https://[a-zA-Z0-9-]+(\.[a-zA-Z0-9-]+)+(:\d{1,5})?([/?#][!#-;=?-\[\]_a-z~]*)?"
)


@dataclass(frozen=True)
class LabelDetails:
    """Details from the maker.

    Parameters
    ----------
    maker : str, optional
        Name and address, in one line.
    lot : str, optional
    contact : str, optional
        Telephone, mail or page; US law asks for one.
    identity : str, optional
        Name of the product's kind.
    mixed_on : date, optional
    opened_on : mapping of str to date, optional
        Opening days of the bottles it is mixed from, by id.
    stored : mapping of str to Storing, optional
        How those bottles were stored, by id.
    keeps_months : int, optional
        Shelf life, as the maker knows it; that of its weakest part where left out.
    after_opening_months : int, optional
        Shelf life after opening; for one longer than 30 months unopened.
    scent : str, optional
        One of `blendkit.batch.ingredients.SCENTS`.
    placed_on : date or str, optional
        Day on which the lot is placed on the market; today where left out.
    languages : sequence of str, optional
        Any of "en", "de", "fr", in the order of the label; Canada has English and French.
    page : str, optional
        Address of the maker's own page of the product, https; "" for none.
    """

    maker: str = ""
    lot: str = ""
    contact: str = ""
    identity: str = "Roll-on perfume oil"
    mixed_on: date = field(default_factory=date.today)
    opened_on: Mapping[str, date] = field(default_factory=dict)
    stored: Mapping[str, Storing] = field(default_factory=dict)
    keeps_months: int | None = None
    after_opening_months: int | None = None
    scent: str = SCENTS[0]
    placed_on: date | str | None = None
    languages: Sequence[str] = ENGLISH_ONLY
    page: str = ""

    def __post_init__(self) -> None:
        months = {
            "keeps, months": self.keeps_months,
            "after opening, months": self.after_opening_months,
        }
        problems = [
            Problem(name, quoted(number), "a whole number of months from 1 to 120")
            for name, number in months.items()
            if number is not None and not is_whole_number(number, 1, 120)
        ]
        page = self.page.strip()
        if page and (len(page) > _LONGEST_PAGE or not _PAGE.fullmatch(page)):
            needed = f"an https address of at most {_LONGEST_PAGE} plain characters"
            fix = "Copy it from your browser, such as https://example.org/quay-at-dusk."
            problems.append(Problem("page", quoted(self.page), needed, fix))
        if not self.languages or set(self.languages) - {"en", "de", "fr"}:
            problems.append(Problem("languages", quoted(self.languages), "any of en, de, fr"))
        attempt(problems, lambda: self.day)
        refuse_any(problems)

    @property
    def day(self) -> date:
        """Day on which the lot is placed on the market."""
        day = date.today() if self.placed_on is None else self.placed_on
        return read_day(day, "placed on the market")
