"""What a maker owns: drop sizes, bottles bought, prices, opening dates and what is left.

Every entry is a new small file in the maker's folder; the newest word on each matter counts,
and nothing is overwritten: a slip is taken back by a further entry. Bottles bought and counts
are events; `blendkit.batch.stock` works out from them, and from the batches made, what is left.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from datetime import UTC, date, datetime, time
from typing import Any, NamedTuple

from blendkit.foundation import keep
from blendkit.foundation.errors import BadNumber, Problem, attempt, near_miss, quoted, text_of
from blendkit.foundation.money import currency_problem
from blendkit.foundation.units import ML_PER_M3, YEARS, is_positive_number
from blendkit.materials import catalogue
from blendkit.materials.amounts import as_volume, material, read_amount

KIND = "shelf"


@dataclass(frozen=True)
class Owned:
    """What is known of one material on the maker's shelf; None where nothing was entered.

    Attributes
    ----------
    drops_per_ml : float or None
        With the dropper it is used with. [1/mL]
    how_measured : str or None
        Counted or weighed.
    bottle_ml : float or None
        Size bought last. [mL]
    price : float or None
        Paid for one such bottle, in `currency`.
    currency : str or None
        A plain code such as "EUR".
    opened_on : date or None
    """

    drops_per_ml: float | None = None
    how_measured: str | None = None
    bottle_ml: float | None = None
    price: float | None = None
    currency: str | None = None
    opened_on: date | None = None


class Bought(NamedTuple):
    """Bottles of one size that were put on the shelf together.

    Attributes
    ----------
    entry : str
        Names the entry, for `take_back`.
    material : str
        Id; own lots stand with their oil.
    bottle_m3 : float
        Size of one bottle. [m3]
    bottles : int
    price : float or None
        Paid for one bottle, in `currency`.
    currency : str or None
    at : datetime
        When it came; where no day was given, when it was written down or opened.
    opened_on : date or None
    """

    entry: str
    material: str
    bottle_m3: float
    bottles: int
    price: float | None
    currency: str | None
    at: datetime
    opened_on: date | None

    @property
    def volume_m3(self) -> float:
        """Of all the bottles. [m3]"""
        return self.bottle_m3 * self.bottles


class Count(NamedTuple):
    """What was found on the shelf when somebody looked.

    Attributes
    ----------
    entry, material : str
        As for `Bought`.
    volume_m3 : float
        0 where the bottle was empty. [m3]
    at : datetime
        The end of the day, where only the day was given.
    """

    entry: str
    material: str
    volume_m3: float
    at: datetime


_NUMBERS = ("drops_per_ml", "bottle_ml", "price")
_DATES = ("opened_on", "bought_on")
_LONG_AGO = datetime(YEARS.start, 1, 1, tzinfo=UTC)
_MATTERS = (*(field.name for field in fields(Owned)), "bottles", "bought_on")


def enter(material_id: str, **matters: Any) -> str:
    """Write down something about an oil or a carrier on the shelf.

    Parameters
    ----------
    material_id : str
        Shipped or own.
    **matters
        Any of the attributes of `Owned`, and `bottles` and `bought_on`; dates as dates or
        "YYYY-MM-DD". With `bottle_ml` it is an entry of bottles bought: one where `bottles` is
        left out.

    Returns
    -------
    str
        The file written.

    Raises
    ------
    BadNumber
        Lists every matter that is no positive number, no date, no currency or not known.
    """
    held = material(material_id)
    problems = [
        Problem(key, quoted(value), "one of " + ", ".join(sorted(_MATTERS)))
        for key, value in matters.items()
        if key not in _MATTERS
    ]
    problems += _matter_problems(matters)
    if problems:
        raise BadNumber(problems)
    plain = {key: str(_date(v)) if key in _DATES else v for key, v in matters.items()}
    return _write(held.id, plain)


def buy(
    material_id: str,
    size: str,
    *,
    price: float | None = None,
    currency: str | None = None,
    bottles: int = 1,
    bought_on: date | str | None = None,
    opened_on: date | str | None = None,
) -> str:
    """Put bottles on the shelf, as `enter`, their size with its unit: "10 mL" or "100 g".

    Parameters
    ----------
    size : str
        Of one bottle.
    price : float, optional
        Of one bottle. Left out for a gift: no price is then on record.
    currency : str, optional
        Needed where a price is given.

    Raises
    ------
    BadNumber
        As `enter`, and where a price has no currency.
    """
    matters = {
        "price": price,
        "currency": currency,
        "bottles": bottles,
        "bought_on": bought_on,
        "opened_on": opened_on,
    }
    given = {key: value for key, value in matters.items() if value is not None}
    problems = _matter_problems(given)
    if price is not None and currency is None:
        problems.append(Problem("currency", "nothing", "the currency of the price"))
    volume_m3 = attempt(problems, read_amount, size, material_id, name="bottle")
    if problems or volume_m3 is None:
        raise BadNumber(problems)
    return enter(material_id, bottle_ml=volume_m3 * ML_PER_M3, **given)


def count(material_id: str, left: str, *, counted_on: date | str | None = None) -> str:
    """Write down how much is left; from here on, only later batches are taken off.

    Parameters
    ----------
    left : str
        All that there is of it, such as "6.5 mL" or "40 g"; "0 mL" where it is used up.
    counted_on : date or str, optional
        The day, at whose end the count holds; now where left out.

    Raises
    ------
    BadNumber
        Below nothing, no volume or mass, or no date.
    """
    held = material(material_id)
    problems: list[Problem] = []
    density = held.density_kg_per_m3
    volume_m3 = attempt(problems, as_volume, left, density, name="left") or 0.0
    if volume_m3 < 0:
        fix = "A bottle cannot hold less than nothing; an empty one is 0 mL."
        problems.append(Problem("left", quoted(left), "0 mL or more", fix))
    if counted_on is not None and _date(counted_on) is None:
        problems.append(_date_problem("counted_on", counted_on))
    if problems:
        raise BadNumber(problems)
    on = {} if counted_on is None else {"counted_on": str(_date(counted_on))}
    return _write(held.id, {"left_ml": volume_m3 * ML_PER_M3, **on})


def take_back(entry: str) -> str:
    """Strike out an entry of bottles bought or of a count; both files stay.

    Raises
    ------
    BadNumber
        No such entry, or taken back already.
    """
    known = {row["written"]: row for row in _entries()}
    if entry not in known:
        hint = near_miss(entry, known)
        raise BadNumber([Problem("entry", quoted(entry), "an entry that stands", hint)])
    return _write(known[entry]["oil"], {"takes_back": entry})


def owned() -> dict[str, Owned]:
    """Everything on the shelf, by material id; the newest word on each matter."""
    merged: dict[str, dict[str, Any]] = {}
    for entry in _entries():
        if "left_ml" not in entry:  # a count says nothing of what is known of the bottle
            merged.setdefault(entry["oil"], {}).update(_sound(entry))
    return {material_id: Owned(**matters) for material_id, matters in merged.items()}


def bought() -> tuple[Bought, ...]:
    """All bottles put on the shelf, in the order in which they came."""
    found = []
    for entry in _entries():
        sound, bottles = _sound(entry), entry.get("bottles", 1)
        if "bottle_ml" in sound and _is_count_of_bottles(bottles):
            days = [day for key in _DATES if (day := _date(entry.get(key)))]
            moments = [_written(entry), *(moment(day) for day in days)]
            found.append(
                Bought(
                    entry["written"], shelf_id(entry["oil"]),
                    sound["bottle_ml"] / ML_PER_M3, bottles,
                    sound.get("price"), sound.get("currency"), min(moments),
                    sound.get("opened_on"),
                )
            )  # fmt: skip
    return tuple(sorted(found, key=lambda row: row.at))


def counts() -> dict[str, Count]:
    """The newest count of each material that was ever counted."""
    newest: dict[str, Count] = {}
    for entry in _entries():
        left_ml: Any = entry.get("left_ml")
        if left_ml != 0 and not is_positive_number(left_ml):
            continue
        day = _date(entry.get("counted_on"))
        at = moment(day, time.max) if day else _written(entry)
        held = shelf_id(entry["oil"])
        if held not in newest or newest[held].at <= at:
            volume_m3 = float(left_ml) / ML_PER_M3
            newest[held] = Count(entry["written"], held, volume_m3, at)
    return newest


def shelf_id(material_id: str) -> str:
    """Under which id a material stands on the shelf: own lots are counted with their oil."""
    held = material(material_id)
    return held.based_on if isinstance(held, catalogue.Oil) else held.id


def moment(day: date | datetime, at: time = time.min) -> datetime:
    """A day at a time of the maker's clock, or a moment as it is, in universal time."""
    if not isinstance(day, datetime):
        day = datetime.combine(day, at)
    return day.astimezone(UTC)


def _matter_problems(matters: Mapping[str, Any]) -> list[Problem]:
    problems = [
        Problem(key, quoted(matters[key]), "a number above 0")
        for key in _NUMBERS
        if key in matters and not is_positive_number(matters[key])
    ]
    if "bottles" in matters and not _is_count_of_bottles(matters["bottles"]):
        needed = "a whole number of bottles, 1 or more"
        problems.append(Problem("bottles", quoted(matters["bottles"]), needed))
    problems += [
        _date_problem(key, matters[key])
        for key in _DATES
        if key in matters and _date(matters[key]) is None
    ]
    if "currency" in matters and (problem := currency_problem(matters["currency"])):
        problems.append(problem)
    return problems


def _date_problem(key: str, value: object) -> Problem:
    return Problem(key, quoted(value), f"a date from {YEARS.start} on, YYYY-MM-DD")


def _is_count_of_bottles(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= 1_000_000


def _write(material_id: str, matters: Mapping[str, Any]) -> str:
    written = datetime.now(UTC).isoformat(timespec="microseconds")
    return str(
        keep.save(KIND, material_id, {"oil": material_id, "written": written, **matters})
    )


def _entries() -> list[dict[str, Any]]:
    """Entries that stand, oldest first; "oil" is the key of carriers too."""
    known = {*catalogue.oil_ids(), *catalogue.carrier_ids()}
    entries = [
        {**entry, "written": str(entry.get("written", ""))}
        for entry in keep.readable(KIND)
        if isinstance(entry.get("oil"), str) and entry["oil"] in known
    ]
    struck = {entry["takes_back"] for entry in entries if _is_text(entry.get("takes_back"))}
    standing = [
        entry
        for entry in entries
        if entry["written"] not in struck and "takes_back" not in entry
    ]
    return sorted(standing, key=lambda entry: entry["written"])


def _sound(entry: Mapping[str, Any]) -> dict[str, Any]:
    """What of an entry can be used; a hand-edited file may hold anything."""
    return dict(_sound_matters(entry))


def _sound_matters(entry: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    for key in _NUMBERS:
        if is_positive_number(entry.get(key)):
            yield key, float(entry[key])
    for key in ("how_measured", "currency"):
        if _is_text(entry.get(key)):
            yield key, entry[key]
    if opened := _date(entry.get("opened_on")):
        yield "opened_on", opened


def _is_text(value: object) -> bool:
    return isinstance(value, str)


def _written(entry: Mapping[str, Any]) -> datetime:
    """When an entry was written; long ago where a hand-edited file does not say."""
    try:
        written = datetime.fromisoformat(entry["written"])
    except ValueError:
        return _LONG_AGO
    return written.astimezone(UTC) if written.year in YEARS else _LONG_AGO


def _date(value: object) -> date | None:
    try:
        day = value if isinstance(value, date) else date.fromisoformat(text_of(value))
    except ValueError:
        return None
    day = day.date() if isinstance(day, datetime) else day
    return day if day.year in YEARS else None
