"""Nose logs as documents: what a maker smelt of one blend, when, and how it was worn."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from blendkit.blend.blend import Blend
from blendkit.evaporation.conditions import Conditions
from blendkit.foundation.errors import (
    BadNumber,
    Problem,
    attempt,
    near_miss,
    quoted,
    refuse_any,
)
from blendkit.foundation.schema import NOTES
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
    problems = [
        Problem(f"conditions, {key}", "unknown key", "a known key",
                near_miss(key, known))
        for key in given if key not in known
    ]  # fmt: skip
    groups = _groups_of(blend)
    smells = []
    for number, entry in enumerate(entries, start=1):
        smell = attempt(problems, _smell_of, f"smell {number}", entry, groups)
        smells += [smell] if smell else []
    refuse_any(problems)
    return NoseLog(blend, Conditions.read(**given), tuple(smells))


def _groups_of(blend: Blend) -> tuple[str, ...]:
    filling = blend.bottle
    oils = [h for h in filling.held if h.mass_kg > 0 and isinstance(h.material, Oil)]
    return (*dict.fromkeys(h.note for h in oils), *(h.material.id for h in oils), WHOLE)


def _smell_of(where: str, entry: object, groups: Sequence[str]) -> Smell:
    if not isinstance(entry, Mapping):
        example = '{"group": "top", "minutes": 25, "what": "gone"}'
        raise BadNumber([Problem(where, quoted(entry), f"an entry such as {example}")])
    problems = []
    values: list[Any] = [entry.get(key) for key in ("group", "minutes", "what")]
    group, minutes, what = values
    if group not in groups:
        needed = "a note, an oil of this blend, or whole"
        hint = near_miss(group, groups)
        problems.append(Problem(f"{where}, group", quoted(group), needed, hint))
    if not _is_number(minutes) or not 0 < minutes <= LATEST_MINUTES:
        needed = f"minutes since it was put on, above 0 and at most {LATEST_MINUTES:g}"
        problems.append(Problem(f"{where}, minutes", quoted(minutes), needed))
    if not (what in SMELLS or (_is_number(what) and 0 <= what <= 10)):
        needed = f"one of {', '.join(SMELLS)}, or a number from 0 to 10"
        hint = near_miss(what, SMELLS)
        problems.append(Problem(f"{where}, what", quoted(what), needed, hint))
    elif what == "strongest" and group not in NOTES:
        needed = "a note, since notes are what is called the strongest here"
        problems.append(Problem(f"{where}, group", quoted(group), needed))
    refuse_any(problems)
    return Smell(str(group), float(minutes), what if what in SMELLS else float(what))


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)
