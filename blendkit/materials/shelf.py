"""What a maker owns: drop sizes, prices, bottles and opening dates, oil by oil.

Every entry is a new small file in the maker's folder; the newest word on each matter counts,
and nothing is overwritten.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import UTC, date, datetime
from typing import Any

from blendkit.foundation import keep
from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.units import is_positive_number
from blendkit.materials import catalogue

KIND = "shelf"


@dataclass(frozen=True)
class Owned:
    """What is known of one oil on the maker's shelf; None where nothing was entered.

    Attributes
    ----------
    drops_per_ml : float or None
        With the dropper it is used with. [1/mL]
    how_measured : str or None
        Counted or weighed.
    bottle_ml : float or None
        Size bought. [mL]
    price : float or None
        Paid for that bottle, in `currency`.
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


_NUMBERS = ("drops_per_ml", "bottle_ml", "price")


def enter(oil_id: str, **matters: Any) -> str:
    """Write down something about an oil on the shelf.

    Parameters
    ----------
    oil_id : str
        Shipped or own.
    **matters
        Any of the attributes of `Owned`; `opened_on` as a date or "YYYY-MM-DD".

    Returns
    -------
    str
        The file written.

    Raises
    ------
    BadNumber
        Lists every matter that is no positive number, no date or not known.
    """
    oil = catalogue.oil(oil_id)
    known = {field.name for field in fields(Owned)}
    problems = [
        Problem(key, quoted(value), "one of " + ", ".join(sorted(known)))
        for key, value in matters.items()
        if key not in known
    ]
    problems += [
        Problem(key, quoted(matters[key]), "a number above 0")
        for key in _NUMBERS
        if key in matters and not is_positive_number(matters[key])
    ]
    if "opened_on" in matters and _date(matters["opened_on"]) is None:
        problems.append(
            Problem("opened_on", quoted(matters["opened_on"]), "a date, YYYY-MM-DD")
        )
    if problems:
        raise BadNumber(problems)
    plain = {key: str(value) if key == "opened_on" else value for key, value in matters.items()}
    written = datetime.now(UTC).isoformat()
    return str(keep.save(KIND, oil.id, {"oil": oil.id, "written": written, **plain}))


def owned() -> dict[str, Owned]:
    """Everything on the shelf, by oil id; the newest word on each matter."""
    entries = sorted(keep.readable(KIND), key=lambda entry: str(entry.get("written", "")))
    merged: dict[str, dict[str, Any]] = {}
    for entry in entries:
        if entry.get("oil") in catalogue.oil_ids():
            merged.setdefault(entry["oil"], {}).update(_sound(entry))
    return {oil_id: Owned(**matters) for oil_id, matters in merged.items()}


def _sound(entry: Mapping[str, Any]) -> dict[str, Any]:
    """What of an entry can be used; a hand-edited file may hold anything."""
    sound: dict[str, Any] = {
        key: float(entry[key]) for key in _NUMBERS if is_positive_number(entry.get(key))
    }
    for key in ("how_measured", "currency"):
        if isinstance(entry.get(key), str):
            sound[key] = entry[key]
    opened = _date(entry.get("opened_on"))
    return sound | ({"opened_on": opened} if opened else {})


def _date(value: object) -> date | None:
    try:
        return value if isinstance(value, date) else date.fromisoformat(str(value))
    except ValueError:
        return None
