"""The words of the hand-outs in one language: texts, names of materials, numbers.

They are in `data/handout_words.csv` and `data/handout_names.csv`. A further language is a
further column in both (`data/tables.toml`) and a line in `LANGUAGES`. Cautions are looked up
by their English text, so that a caution without a translation fails a test and not a reader.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from blendkit.foundation import data
from blendkit.foundation.errors import check_known
from blendkit.foundation.units import show
from blendkit.materials import catalogue
from blendkit.materials.amounts import material
from blendkit.teaching.class_document import Seat
from blendkit.teaching.plan import DISLIKE, SUN

ENGLISH = "en"
LANGUAGES: Mapping[str, str] = MappingProxyType({ENGLISH: "English", "de": "Deutsch"})


@dataclass(frozen=True)
class Words:
    """All words of one language. Make one with `words_in`.

    Attributes
    ----------
    language : str
        As HTML and browsers call it.
    texts, names, by_english : mapping of str to str
        Texts by key, names by id of a material, and texts by their English text.
    """

    language: str
    texts: Mapping[str, str]
    names: Mapping[str, str]
    by_english: Mapping[str, str]

    def say(self, key: str, **values: object) -> str:
        """A text with its gaps filled."""
        return self.texts[key].format_map(values)

    def counted(self, count: int, noun: str) -> str:
        """A count of "drop" or "sun"."""
        return self.say(f"{noun}_one") if count == 1 else self.say(f"{noun}_many", n=count)

    def note(self, note: str) -> str:
        """A note's name."""
        return self.say(f"note_{note}")

    def room_seat(self, seat: Seat) -> str:
        """A seat's number: what the room sees of it."""
        return self.say("seat", n=seat.number)

    def text(self, english: str) -> str:
        """A caution or a kind of wearer, from its English text."""
        return self.by_english[english]

    def because(self, reason: str) -> str:
        """The reason for which a seat leaves an oil out."""
        own = {SUN: "because_sun", DISLIKE: "because_dislike"}
        return self.say(own[reason]) if reason in own else self.text(reason)

    def name(self, material_id: str) -> str:
        """The name of an oil, an own lot or a carrier."""
        if material_id.startswith(catalogue.OWN):
            return material(material_id).name
        base, mark, lot = material_id.partition(catalogue.OWN_MARK)
        return f"{self.names[base]}, {lot}" if mark else self.names[base]

    def listed(self, material_ids: Iterable[str]) -> str:
        """Names of materials, with commas between."""
        return ", ".join(self.name(each) for each in material_ids)

    def number(self, number: float, digits: int = 3) -> str:
        """A number as this language writes it."""
        text = show(number, digits)
        return text.replace(".", ",") if self.language == "de" else text


@cache
def words_in(language: str) -> Words:
    """The words of one language.

    Raises
    ------
    BadNumber
        An unknown language; the message lists the known ones.
    """
    check_known("language", language, LANGUAGES)
    texts = data.table("handout_words").set_index("key")
    names = data.table("handout_names").set_index("material")
    return Words(
        language,
        MappingProxyType(dict(texts[language])),
        MappingProxyType(dict(names[language])),
        MappingProxyType(dict(zip(texts[ENGLISH], texts[language], strict=True))),
    )
