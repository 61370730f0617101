"""What a maker owns: drop sizes, bottles bought, prices, opening dates and what is left.

Every entry is a new small file in the maker's folder; the newest word on each matter counts,
and nothing is overwritten: a slip is taken back by a further entry. Bottles bought and counts
are events; `blendkit.batch.stock` works out from them, and from the batches made, what is left.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import UTC, date, datetime, time
from typing import Any, NamedTuple

from blendkit.foundation.errors import BadNumber, Problem, attempt, near_miss, quoted
from blendkit.foundation.units import ML_PER_M3, is_positive_number
from blendkit.materials import catalogue
from blendkit.materials.amounts import as_volume, material, read_amount
from blendkit.materials.shelf_entries import (
    DATES,
    date_problem,
    day_of,
    is_count_of_bottles,
    matter_problems,
    standing_entries,
    usable,
    write_entry,
    written_at,
)


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
    UnknownMaterial
        No such oil or carrier.
    CannotKeep
        The maker's folder cannot be written.
    """
    held = material(material_id)
    problems = [
        Problem(key, quoted(value), "one of " + ", ".join(sorted(_MATTERS)))
        for key, value in matters.items()
        if key not in _MATTERS
    ]
    problems += matter_problems(matters)
    if problems:
        raise BadNumber(problems)
    plain = {key: str(day_of(v)) if key in DATES else v for key, v in matters.items()}
    return write_entry(held.id, plain)


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
    """Put bottles on the shelf.

    Parameters
    ----------
    material_id : str
        Shipped or own.
    size : str
        Of one bottle, with its unit: "10 mL" or "100 g".
    price : float, optional
        Of one bottle. Left out for a gift: no price is then on record.
    currency : str, optional
        Needed where a price is given, as a plain code such as "EUR".
    bottles : int, optional
    bought_on, opened_on : date or str, optional
        Dates, or "YYYY-MM-DD".

    Returns
    -------
    str
        The file written.

    Raises
    ------
    BadNumber
        Lists everything that cannot be used, and a price without a currency.
    UnknownMaterial, CannotKeep
        As `enter`.
    """
    matters = {
        "price": price,
        "currency": currency,
        "bottles": bottles,
        "bought_on": bought_on,
        "opened_on": opened_on,
    }
    given = {key: value for key, value in matters.items() if value is not None}
    problems = matter_problems(given)
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
    material_id : str
        Shipped or own.
    left : str
        All that there is of it, such as "6.5 mL" or "40 g"; "0 mL" where it is used up.
    counted_on : date or str, optional
        The day, at whose end the count holds; now where left out.

    Returns
    -------
    str
        The file written.

    Raises
    ------
    BadNumber
        Below nothing, no volume or mass, or no date.
    UnknownMaterial, CannotKeep
        As `enter`.
    """
    held = material(material_id)
    problems: list[Problem] = []
    density = held.density_kg_per_m3
    volume_m3 = attempt(problems, as_volume, left, density, name="left") or 0.0
    if volume_m3 < 0:
        fix = "A bottle cannot hold less than nothing; an empty one is 0 mL."
        problems.append(Problem("left", quoted(left), "0 mL or more", fix))
    if counted_on is not None and day_of(counted_on) is None:
        problems.append(date_problem("counted_on", counted_on))
    if problems:
        raise BadNumber(problems)
    on = {} if counted_on is None else {"counted_on": str(day_of(counted_on))}
    return write_entry(held.id, {"left_ml": volume_m3 * ML_PER_M3, **on})


def take_back(entry: str) -> str:
    """Strike out an entry of bottles bought or of a count; both files stay.

    Raises
    ------
    BadNumber
        No such entry, or taken back already.
    """
    known = {row["written"]: row for row in standing_entries()}
    if entry not in known:
        hint = near_miss(entry, known)
        raise BadNumber([Problem("entry", quoted(entry), "an entry that stands", hint)])
    return write_entry(known[entry]["oil"], {"takes_back": entry})


def owned() -> dict[str, Owned]:
    """Everything on the shelf, by material id; the newest word on each matter."""
    merged: dict[str, dict[str, Any]] = {}
    for entry in standing_entries():
        if "left_ml" not in entry:  # a count says nothing of what is known of the bottle
            merged.setdefault(entry["oil"], {}).update(usable(entry))
    return {material_id: Owned(**matters) for material_id, matters in merged.items()}


def bought() -> tuple[Bought, ...]:
    """All bottles put on the shelf, in the order in which they came."""
    found = []
    for entry in standing_entries():
        known, bottles = usable(entry), entry.get("bottles", 1)
        if "bottle_ml" in known and is_count_of_bottles(bottles):
            days = [day for key in DATES if (day := day_of(entry.get(key)))]
            moments = [written_at(entry), *(moment(day) for day in days)]
            found.append(
                Bought(
                    entry["written"], shelf_id(entry["oil"]),
                    known["bottle_ml"] / ML_PER_M3, bottles,
                    known.get("price"), known.get("currency"), min(moments),
                    known.get("opened_on"),
                )
            )  # fmt: skip
    return tuple(sorted(found, key=lambda row: row.at))


def counts() -> dict[str, Count]:
    """The newest count of each material that was ever counted."""
    newest: dict[str, Count] = {}
    for entry in standing_entries():
        left_ml: Any = entry.get("left_ml")
        if left_ml != 0 and not is_positive_number(left_ml):
            continue
        day = day_of(entry.get("counted_on"))
        at = moment(day, time.max) if day else written_at(entry)
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
