"""What can happen at the bench, one frozen record each; nothing is ever rewritten.

A drop that went in, grams off the scale, a spill, a scale's reading, and that something is
taken back are all events. Amounts are kept as the person wrote them ("0,35 g"), so that no
rounding of ours comes between the scale and the log; `blendkit.making.mixture` reads them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, fields
from functools import lru_cache
from typing import Any

from blendkit.foundation.errors import BadNumber, Problem, near_miss, quoted
from blendkit.foundation.units import is_whole_number, to_si

MOST_DROPS_AT_ONCE = 10_000
LOST, LEFT = "lost", "left"
LONGEST_REMARK = 2000


@dataclass(frozen=True)
class Start:
    """A bottle was put on the bench.

    Attributes
    ----------
    document : mapping
        What is planned: a blend document, or one whose ``oils`` and ``note_parts`` are empty.
    """

    document: Mapping[str, Any]


@dataclass(frozen=True)
class Drops:
    """Whole drops of one oil went in, counted."""

    material: str
    count: int


@dataclass(frozen=True)
class Fell(Drops):
    """Drops that nobody meant fell in, and were counted afterwards."""


@dataclass(frozen=True)
class Measured:
    """An oil or a carrier went in by mass or by volume.

    Attributes
    ----------
    material : str
    amount : str
        As written, with its unit: "0.35 g" or "6 mL".
    """

    material: str
    amount: str


@dataclass(frozen=True)
class Spilled:
    """Some of the mixture was lost; what is left is made as before.

    Attributes
    ----------
    amount : str
        As written, with its unit.
    means : str
        "lost", or "left" where only what remains could be weighed.
    """

    amount: str
    means: str = LOST


@dataclass(frozen=True)
class ScaleSays:
    """A reading that fixes a mass.

    Attributes
    ----------
    amount : str
        As written: "3.42 g".
    material : str
        The oil or carrier that was weighed in alone; empty for all that is in the bottle.
    """

    amount: str
    material: str = ""


@dataclass(frozen=True)
class MixedIn:
    """Some of another bottle went in.

    Attributes
    ----------
    name : str
        What that bottle is called.
    mass_fractions : mapping of str to float
        Its content by material, as shares of its mass. [-]
    amount : str
        How much of it, as written: "2 mL".
    """

    name: str
    mass_fractions: Mapping[str, float]
    amount: str


@dataclass(frozen=True)
class Remark:
    """Something to remember: an impression, a doubt, a weather."""

    text: str


@dataclass(frozen=True)
class SavedAs:
    """The bottle was kept as a version of a blend."""

    name: str
    version: int


@dataclass(frozen=True)
class Undo:
    """An earlier event is taken back; it stays in the log and no longer counts.

    Attributes
    ----------
    number : int
        Its place in the log, from 1.
    """

    number: int


Event = (
    Start | Drops | Fell | Measured | Spilled | ScaleSays | MixedIn | Remark | SavedAs | Undo
)
KINDS: Mapping[str, Callable[..., Event]] = {
    "start": Start,
    "drops": Drops,
    "fell": Fell,
    "measured": Measured,
    "spilled": Spilled,
    "scale": ScaleSays,
    "mixed in": MixedIn,
    "remark": Remark,
    "saved": SavedAs,
    "undo": Undo,
}
_KIND_OF = {made: kind for kind, made in KINDS.items()}


def as_document(event: Event) -> tuple[str, dict[str, Any]]:
    """The kind of an event and its fields, as JSON can hold them.

    Examples
    --------
    >>> as_document(Drops("lavender", 2))
    ('drops', {'material': 'lavender', 'count': 2})
    """
    return _KIND_OF[type(event)], asdict(event)


def event_of(kind: str, document: Mapping[str, Any]) -> Event:
    """An event from its kind and fields.

    Raises
    ------
    BadNumber
        A kind or a field that this version does not know.

    Examples
    --------
    >>> event_of("drops", {"material": "lavender", "count": 2})
    Drops(material='lavender', count=2)
    """
    if kind not in KINDS:
        needed = "one of " + ", ".join(KINDS)
        raise BadNumber([Problem("bench event", quoted(kind), needed, near_miss(kind, KINDS))])
    made = KINDS[kind]
    known = {field.name for field in fields(made)}  # type: ignore[arg-type]
    try:
        event = made(**{key: value for key, value in document.items() if key in known})
    except (TypeError, AttributeError) as error:
        got = quoted(str(document))
        raise BadNumber([Problem(f"bench event {kind}", got, ", ".join(known))]) from error
    return event


@lru_cache(maxsize=4096)
def amount_of(amount: str, where: str = "amount") -> tuple[str, float]:
    """What a written amount is.

    Parameters
    ----------
    amount : str
        A mass or a volume with its unit.
    where : str, optional
        What it is, for the message.

    Returns
    -------
    kind : str
        "mass" or "volume".
    number : float
        Above 0. [kg] or [m3]

    Raises
    ------
    BadNumber
        No mass and no volume, or nothing of it.

    Examples
    --------
    >>> amount_of("0.35 g")
    ('mass', 0.00035)
    >>> amount_of("6 mL")
    ('volume', 6e-06)
    """
    needed = 'a mass or a volume above nothing with its unit, such as "0.35 g" or "6 mL"'
    for kind, unit in (("mass", "kg"), ("volume", "m**3")):
        try:
            number = to_si(amount, unit, name=where)
        except BadNumber:
            continue
        if number > 0:
            return kind, number
    raise BadNumber([Problem(where, quoted(amount), needed)])


def drops_of(count: object) -> int:
    """A count of drops, checked.

    Raises
    ------
    BadNumber
        No whole number from 1 to ten thousand.
    """
    if not is_whole_number(count, 1, MOST_DROPS_AT_ONCE):
        needed = f"a whole number of drops from 1 to {MOST_DROPS_AT_ONCE}"
        raise BadNumber([Problem("drops", quoted(count), needed)])
    return count
