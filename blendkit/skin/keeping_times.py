"""How long oils, carriers and blends keep: use-by dates of bottles, best before of a blend."""

import calendar
from collections.abc import Mapping
from datetime import date, timedelta
from types import MappingProxyType
from typing import NamedTuple

from blendkit.blend.fields import Fields
from blendkit.foundation.errors import Problem, refuse_any
from blendkit.materials.amounts import material
from blendkit.materials.catalogue import OWN_MARK, Carrier, MixedMaterial, Oil
from blendkit.skin.cautions import BY_MAKER, keeping_trigger, materials_of, time_limits
from blendkit.skin.freshness import Storing, ageing
from blendkit.skin.limits import weakest

NOT_STORED: Mapping[str, Storing] = MappingProxyType({})
_OF_ROW = ("months", "text", "grade", "source")
_CARRIER_BASIS = "shorter of the usual shelf lives of the carrier, from opening"


class UseBy(NamedTuple):
    """Until when a bottle of an oil or carrier on the shelf should be used up.

    Attributes
    ----------
    material, name : str
    opened_on, use_by : date
    is_past : bool
        Whether that day has gone by.
    advice : str
    grade, source : str
    earliest, latest, handbook : date
        Band of the day where the way of storing shortens it, and the day without that; none
        is later than the handbook's.
    """

    material: str
    name: str
    opened_on: date
    use_by: date
    is_past: bool
    advice: str
    grade: str
    source: str
    earliest: date
    latest: date
    handbook: date


def old_stock(
    opened_on: Mapping[str, date], today: date, stored: Mapping[str, Storing] = NOT_STORED
) -> tuple[UseBy, ...]:
    """Advice on opened bottles, the most overdue first.

    Parameters
    ----------
    opened_on : mapping of str to date
        When each oil or carrier was opened, by id.
    today : date
    stored : mapping of str to Storing, optional
        How each is stored, by id: this only shortens the time.

    Raises
    ------
    BadNumber
        Lists every bottle opened after `today`.
    UnknownMaterial
        No such oil or carrier.
    """
    problems = [
        Problem(name, f"opened on {opened}", f"a day up to {today}")
        for name, opened in opened_on.items()
        if opened > today
    ]
    refuse_any(problems)
    days = opened_on.items()
    shelf = [_use_by(material(name), day, today, stored.get(name)) for name, day in days]
    return tuple(sorted(shelf, key=lambda bottle: bottle.use_by))


def _use_by(
    item: Oil | Carrier, opened: date, today: date, storing: Storing | None = None
) -> UseBy:
    if isinstance(item, MixedMaterial) and not item.keeps_months:
        parts = [_use_by(part, opened, today, storing) for part, _ in item.parts]
        first = min(parts, key=lambda part: part.use_by)
        return first._replace(material=item.id, name=item.name)
    months: float
    if isinstance(item, MixedMaterial):
        months, grade, source = item.keeps_months or 0.0, "part-read", BY_MAKER
        text = f"Keeps {months:g} months, as its maker says."
    elif isinstance(item, Oil):
        row = time_limits()[keeping_trigger(item)]
        months, text, grade, source = (row[key] for key in _OF_ROW)
    else:
        months, grade, source = item.shelf_life_months, item.grade, _CARRIER_BASIS
        text = f"Usually keeps {months:g} months."
    handbook = last = months_later(opened, int(months))
    earliest = latest = last
    if storing:
        speed, days = ageing(storing), (last - opened).days
        ends = (timedelta(days=int(days / x)) for x in (speed.high, speed.typical, speed.low))
        earliest, last, latest = (opened + end for end in ends)
        if speed.because:
            band = f"use by {last}, band {earliest} to {latest} ({speed.grade})"
            text = f"{text} {', '.join(speed.because)}: {band}."
            grade, source = weakest([grade, speed.grade]), f"{source}; {speed.source}"
    is_past = today > last
    advice = f"Past its time since {last}: do not use it. {text}" if is_past else text
    return UseBy(
        item.id, item.name, opened, last, is_past, advice, grade, source, earliest, latest,
        handbook,
    )  # fmt: skip


def best_before(
    blend: Fields,
    mixed_on: date,
    opened_on: Mapping[str, date] | None = None,
    stored: Mapping[str, Storing] = NOT_STORED,
) -> tuple[UseBy, tuple[str, ...]]:
    """Best-before date of a blend, by the first of its oils and carriers to pass its time.

    Parameters
    ----------
    blend : Blend
    mixed_on : date
    opened_on : mapping of str to date, optional
        When the bottles it is mixed from were opened, by id.
    stored : mapping of str to Storing, optional
        How those were stored, by id: they are as old at mixing as that made them.

    Returns
    -------
    weakest : UseBy
        Of the oil or carrier that sets the day.
    assumed_fresh : tuple of str
        What has no opening date on record and is counted from the day of mixing.

    Notes
    -----
    That a mixture keeps no longer than its weakest part is common practice, no published
    source; each keeping time has the grade of its row.
    """
    known = dict(opened_on or {})
    for name in known.keys() & stored.keys():
        aged = max((mixed_on - known[name]).days, 0) * ageing(stored[name]).typical
        known[name] = date.fromordinal(max(mixed_on.toordinal() - int(aged), 1))
    for mixture in blend.mixtures:  # its parts are as old as it is
        made = known.get(mixture.id) or known.get(mixture.id.partition(OWN_MARK)[0])
        if made:
            known |= {p.id: min(known.get(p.id, made), made) for p, _ in mixture.parts}
    own = [mixture for mixture in blend.mixtures if mixture.keeps_months]
    parts = [
        _use_by(item, min(known.get(item.id, mixed_on), mixed_on), mixed_on)
        for item in (*materials_of(blend), *own)
    ]
    first = min(parts, key=lambda part: part.use_by)
    fresh = tuple(part.name for part in parts if part.material not in known)
    return first._replace(grade=weakest([first.grade, "common practice"])), fresh


def months_later(day: date, months: int) -> date:
    """The same day some months later, or the last of that month.

    Examples
    --------
    >>> months_later(date(2026, 1, 31), 1)
    datetime.date(2026, 2, 28)
    """
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    last = calendar.monthrange(year, month + 1)[1]
    return date(year, month + 1, min(day.day, last))
