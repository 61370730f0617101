"""Nose logs as documents: what a maker smelt of one blend, when, and how it was worn."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from blendkit.blend.blend import Blend
from blendkit.evaporation.conditions import Conditions
from blendkit.foundation.errors import BadNumber, Problem, quoted, refuse_any
from blendkit.foundation.field_reader import FieldReader
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import is_positive_number
from blendkit.materials.catalogue import Oil

SMELLS = ("gone", "weak", "strongest")
LATEST_MINUTES = 48 * 60.0
WHOLE = "whole"


@dataclass(frozen=True)
class Smell:
    """One entry of a nose log.

    Attributes
    ----------
    group : str
        A note, an oil's id or "whole".
    minutes : float
        Since it was put on.
    what : str or float
        "gone", "weak", "strongest" (a note that leads), or a number from 0 to 10, where 10 is
        as strong as at the start.
    """

    group: str
    minutes: float
    what: str | float


@dataclass(frozen=True)
class NoseLog:
    """Smells of one wearing, and its conditions.

    Attributes
    ----------
    blend : Blend
    conditions : Conditions
    smells : tuple of Smell
    """

    blend: Blend
    conditions: Conditions
    smells: tuple[Smell, ...]


def read_log(document: Mapping[str, Any]) -> NoseLog:
    """A nose log from its document.

    Parameters
    ----------
    document : mapping
        ``blend`` (a blend document), ``smells`` (a list of mappings with ``group``,
        ``minutes``, ``what``) and, optionally, ``conditions`` (keywords of
        `blendkit.evaporation.conditions.Conditions.read`).

    Raises
    ------
    BadBlend
        The blend document is broken.
    BadNumber
        Lists every other problem.
    """
    needed = "a document with blend and smells"
    if not isinstance(document, Mapping) or not {"blend", "smells"} <= document.keys():
        raise BadNumber([Problem("nose log", quoted(document), needed)])
    blend = Blend.from_dict(document["blend"])
    given, entries = document.get("conditions", {}), document["smells"]
    if not isinstance(given, Mapping) or not isinstance(entries, list | tuple):
        needed = "conditions by their names, and a list of smells"
        raise BadNumber([Problem("nose log", quoted([given, entries]), needed)])
    known = ("skin_temperature", "film", "air_speed", "surface", "clock_factor", "nose")
    reader = FieldReader(document)
    reader.check_keys("conditions, ", given, dict.fromkeys(known, False))
    for number, entry in enumerate(entries, start=1):
        _check_smell(reader, f"smell {number}", entry, _groups_of(blend))
    refuse_any(reader.problems)
    smells = [Smell(each["group"], float(each["minutes"]), each["what"]) for each in entries]
    return NoseLog(blend, Conditions.read(**given), tuple(smells))


def _groups_of(blend: Blend) -> tuple[str, ...]:
    filling = blend.bottle
    oils = [h for h in filling.held if h.mass_kg > 0 and isinstance(h.material, Oil)]
    return (*dict.fromkeys(h.note for h in oils), *(h.material.id for h in oils), WHOLE)


def _check_smell(reader: FieldReader, where: str, entry: object, groups: Sequence[str]) -> None:
    if not isinstance(entry, Mapping):
        example = '{"group": "top", "minutes": 25, "what": "gone"}'
        reader.add(where, quoted(entry), f"an entry such as {example}")
        return
    group, minutes, what = (entry.get(key) for key in ("group", "minutes", "what"))
    needed = "a note, an oil of this blend, or whole"
    reader.choice(f"{where}, group", group, groups, needed)
    if not is_positive_number(minutes) or minutes > LATEST_MINUTES:
        needed = f"minutes since it was put on, above 0 and at most {LATEST_MINUTES:g}"
        reader.add(f"{where}, minutes", quoted(minutes), needed)
    if what == "strongest" and group not in NOTES:
        needed = "a note, since notes are what is called the strongest here"
        reader.add(f"{where}, group", quoted(group), needed)
    elif (
        isinstance(what, bool | str) or not isinstance(what, int | float) or not 0 <= what <= 10
    ):
        needed = f"one of {', '.join(SMELLS)}, or a number from 0 to 10"
        reader.choice(f"{where}, what", what, SMELLS, needed)
