"""Cautions by oil, carrier and constituent, and by wearer.

General cautions always come along. Nothing here says that an oil may be used: an oil without a
caution on record has none on record, and no more.
"""

from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from types import MappingProxyType
from typing import Any, NamedTuple

from blendkit.blend.fields import Fields
from blendkit.foundation import data
from blendkit.foundation.errors import Problem, attempt, check_known, refuse_any
from blendkit.foundation.shipping import shipped_words
from blendkit.materials import catalogue
from blendkit.materials.amounts import material
from blendkit.materials.catalogue import Carrier, Oil
from blendkit.materials.constituents import constituent
from blendkit.skin.contents import content_in

EVERYONE = "everyone"
# by what a person can name: those whom a caution speaks of
WEARERS: Mapping[str, Sequence[str]] = MappingProxyType(shipped_words("wearers"))
_ACTIONS = ("exclude", "time limit", "warn")
_PATCH_TEST = "patch test"
_OWN_CAUTION, BY_MAKER = "supplier's caution", "the maker's own entry"


class Caution(NamedTuple):
    """One thing to mind.

    Attributes
    ----------
    topic, who : str
    action : str
        "exclude", "time limit" or "warn".
    text : str
    because_of : str
        The oils, carriers or constituents that call for it; "" for a general one.
    grade, source : str
    """

    topic: str
    who: str
    action: str
    text: str
    because_of: str
    grade: str
    source: str


def cautions_for(
    subject: Fields | Iterable[str], wearers: Iterable[str] = ()
) -> tuple[Caution, ...]:
    """Cautions for a blend, or for oils and carriers.

    Parameters
    ----------
    subject : Blend, Fields or iterable of str
        A blend or its fields, or ids of oils and carriers.
    wearers : iterable of str, optional
        Keys of `WEARERS`. Where nobody is named it is not known who wears it, so the cautions
        for everybody come along.

    Returns
    -------
    tuple of Caution
        Exclusions first, then time limits, then warnings.

    Raises
    ------
    BadNumber
        Lists every wearer that is not known, with the nearest that is.
    UnknownMaterial
        No such oil or carrier.
    """
    whom = _whom(wearers)
    held = materials_of(subject)
    found: dict[Caution, list[str]] = {}
    for row in data.rows("cautions"):
        if row["topic"] == _PATCH_TEST or (whom and row["who"] not in whom):
            continue
        reasons = _reasons(row, held)
        if row["trigger_kind"] == "any" or reasons:
            one = Caution(*(row.get(name, "") for name in Caution._fields))
            found.setdefault(one, []).extend(reasons)
    for item in held:
        if item.caution:
            own = (_OWN_CAUTION, EVERYONE, "warn", item.caution, "", "part-read", BY_MAKER)
            found.setdefault(Caution(*own), []).append(item.name)
    cautions = [
        one._replace(because_of=", ".join(dict.fromkeys(reasons)))
        for one, reasons in found.items()
    ]
    return tuple(sorted(cautions, key=lambda caution: _ACTIONS.index(caution.action)))


def _whom(wearers: Iterable[str]) -> frozenset[str]:
    """Whom a caution must speak of; empty where nobody is named."""
    named = [wearers] if isinstance(wearers, str) else list(wearers)
    problems: list[Problem] = []
    for name in named:
        attempt(problems, check_known, "wearer", name, WEARERS)
    refuse_any(problems)
    whom = {who for name in named for who in WEARERS[name]}
    return frozenset({EVERYONE, *whom}) if named else frozenset()


def materials_of(subject: Fields | Iterable[str]) -> tuple[Oil | Carrier, ...]:
    """Oils and carriers of a blend or of some ids, mixtures unfolded, each once."""
    if isinstance(subject, Fields):
        return subject.base
    held = (part for name in subject for part, _ in catalogue.parts_of(material(name)))
    return tuple({part.id: part for part in held}.values())


def _reasons(row: Mapping[str, Any], held: Iterable[Oil | Carrier]) -> list[str]:
    kind, trigger = row["trigger_kind"], row["trigger"]
    if kind == "carrier":
        # an own carrier shares the cautions of what it is like
        groups = catalogue.ALLERGY_GROUPS
        poured = [item for item in held if isinstance(item, Carrier)]
        return [
            item.name
            for item in poured
            if trigger in (item.id, item.like, groups.get(item.allergen_group, ""))
        ]
    oils = [item for item in held if isinstance(item, Oil)]
    if kind == "constituent":
        name, contents = (
            constituent(trigger).name,
            ((o, content_in(o, {trigger})) for o in oils),
        )
        return [f"{name} in {oil.name}" for oil, found in contents if found and found.fraction]
    if kind == "oil":
        return [oil.name for oil in oils if trigger in (oil.based_on, keeping_trigger(oil))]
    return []


def keeping_trigger(oil: Oil) -> str:
    """The trigger of an oil's keeping time: its own, or "*" for all others."""
    return oil.based_on if oil.based_on in time_limits() else "*"


@cache
def time_limits() -> dict[str, dict[str, Any]]:
    """Rows on how long an oil keeps, by trigger."""
    rows = data.rows("cautions")
    return {row["trigger"]: row for row in rows if row["action"] == "time limit"}


def excluded_for(wearers: Iterable[str]) -> tuple[str, ...]:
    """Ids of the oils, own lots and carriers that some wearer should go without.

    Parameters
    ----------
    wearers : iterable of str
        Keys of `WEARERS`, such as everybody in a class or the person a gift is for.

    Returns
    -------
    tuple of str
        What is not named here is not cleared: see `cautions_for`.

    Raises
    ------
    BadNumber
        Lists every wearer that is not known, with the nearest that is.
    """
    whom = _whom(wearers)
    rows = [
        row
        for row in data.rows("cautions")
        if row["action"] == "exclude" and row["who"] in whom
    ]
    everything = any(row["trigger_kind"] == "any" for row in rows)
    ids = (*catalogue.oil_ids(), *catalogue.carrier_ids(), *sorted(catalogue.known_ids()))
    return tuple(
        name
        for name in dict.fromkeys(ids)
        if everything or any(_reasons(row, materials_of([name])) for row in rows)
    )


def patch_test_steps() -> tuple[str, ...]:
    """The steps of a patch test, in order."""
    return tuple(row["text"] for row in data.rows("cautions") if row["topic"] == _PATCH_TEST)
