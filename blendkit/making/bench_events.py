"""Bench events, one frozen record each; nothing is ever rewritten.

A drop added, grams weighed in, a spill, a scale reading and an undo are all events. Amounts are
kept as typed ("0,35 g"), so that no rounding comes between the scale and the log;
`blendkit.making.bench_log` reads them.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from functools import lru_cache
from typing import Any, ClassVar, dataclass_transform

from blendkit.foundation.errors import BadNumber, Problem, check_known, quoted
from blendkit.foundation.units import to_si

MOST_DROPS_AT_ONCE = 10_000
LOST, LEFT = "lost", "left"
LONGEST_REMARK = 2000


@dataclass_transform(frozen_default=True)
@dataclass(frozen=True)
class Event:
    """An event; each kind of it is a class, under the word it is written with."""

    KIND: ClassVar[str]

    def __init_subclass__(cls, kind: str) -> None:
        cls.KIND, KINDS[kind] = kind, dataclass(frozen=True)(cls)


KINDS: dict[str, type[Event]] = {}


class Start(Event, kind="start"):
    """New bottle on the bench.

    Attributes
    ----------
    document : mapping
        Plan: a blend document, or one whose ``oils`` and ``note_parts`` are empty.
    """

    document: Mapping[str, Any]


class Drops(Event, kind="drops"):
    """Counted drops of one oil added."""

    material: str
    count: int


class AccidentalDrops(Drops, kind="fell"):
    """Drops added by accident, counted afterwards."""


class Measured(Event, kind="measured"):
    """Oil or carrier added by mass or volume.

    Attributes
    ----------
    material : str
    amount : str
        As typed, with its unit: "0.35 g" or "6 mL".
    """

    material: str
    amount: str


class Spilled(Event, kind="spilled"):
    """Loss of some of the mixture; the rest keeps its composition.

    Attributes
    ----------
    amount : str
        As typed, with its unit.
    means : str
        "lost", or "left" where the rest was measured.
    """

    amount: str
    means: str = LOST


class ScaleReading(Event, kind="scale"):
    """Scale reading that fixes a mass.

    Attributes
    ----------
    amount : str
        As typed: "3.42 g".
    material : str
        The oil or carrier that was weighed in alone; empty for the whole mixture.
    """

    amount: str
    material: str = ""


class MixedIn(Event, kind="mixed in"):
    """Mixture of another bottle added.

    Attributes
    ----------
    name : str
        Name of that bottle.
    mass_fractions : mapping of str to float
        Composition by material, as shares of mass. [-]
    amount : str
        As typed: "2 mL".
    """

    name: str
    mass_fractions: Mapping[str, float]
    amount: str


class Remark(Event, kind="remark"):
    """Free text: an impression, a doubt, the weather."""

    text: str


class SavedAs(Event, kind="saved"):
    """Bottle kept as a version of a blend."""

    name: str
    version: int


class Undo(Event, kind="undo"):
    """Undo of an earlier event, which remains in the log and no longer counts.

    Attributes
    ----------
    number : int
        Its place in the log, from 1.
    of : str
        Its id in the journal, which counts before the place; empty in older logs.
    """

    number: int
    of: str = ""


def as_document(event: Event) -> tuple[str, dict[str, Any]]:
    """Write an event as its kind and its fields, for JSON.

    Examples
    --------
    >>> as_document(Drops("lavender", 2))
    ('drops', {'material': 'lavender', 'count': 2})
    """
    return event.KIND, asdict(event)


def event_of(kind: str, document: Mapping[str, Any]) -> Event:
    """Read an event from its kind and fields.

    Raises
    ------
    BadNumber
        A kind or a field that this version does not know.

    Examples
    --------
    >>> event_of("drops", {"material": "lavender", "count": 2})
    Drops(material='lavender', count=2)
    """
    check_known("bench event", kind, KINDS)
    known = [field.name for field in fields(KINDS[kind])]
    try:
        return KINDS[kind](**{key: value for key, value in document.items() if key in known})
    except (TypeError, AttributeError) as error:
        got = quoted(str(document))
        raise BadNumber([Problem(f"bench event {kind}", got, ", ".join(known))]) from error


@lru_cache(maxsize=4096)
def parse_amount(amount: str, where: str = "amount") -> tuple[str, float]:
    """Read a typed amount.

    Parameters
    ----------
    amount : str
        A mass or a volume with its unit.
    where : str, optional
        Name of the value, for the message.

    Returns
    -------
    kind : str
        "mass" or "volume".
    number : float
        Above 0. [kg] or [m3]

    Raises
    ------
    BadNumber
        No mass and no volume, or not above 0.

    Examples
    --------
    >>> parse_amount("0.35 g")
    ('mass', 0.00035)
    >>> parse_amount("6 mL")
    ('volume', 6e-06)
    """
    needed = 'a mass or a volume above 0 with its unit, such as "0.35 g" or "6 mL"'
    for kind, unit in (("mass", "kg"), ("volume", "m**3")):
        try:
            number = to_si(amount, unit, name=where)
        except BadNumber:
            continue
        if number > 0:
            return kind, number
    raise BadNumber([Problem(where, quoted(amount), needed)])
