"""Values that the lessons of "Why it fades" read from a film or from a control."""

from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from typing import Any

import numpy as np

from blendkit.evaporation.film import film_amounts
from blendkit.evaporation.molecules import kind_of_carrier
from blendkit.evaporation.wear import Film
from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.units import SECONDS_PER_HOUR, FloatArray, show, to_si
from blendkit.materials import catalogue
from blendkit.materials.constituents import constituent, figures

_SMALLEST_SHARE = 0.02  # of an oil; rarer molecules do not represent it
_FINE_HOURS = np.concatenate([[0.0], np.geomspace(1e-3, 1e3, 400)])


def main_molecules_of(film: Film) -> list[int]:
    """The place in a film of each oil's main molecule, oil by oil."""
    ids = [each.id for each in film.molecules]
    return [ids.index(_main_molecule(oil)) for oil in film.oils]


def _main_molecule(oil_id: str) -> str:
    volatile = volatile_molecules(oil_id)
    shares = catalogue.oil(oil_id).composition
    return next(each.constituent for each in shares if each.constituent in volatile)


@cache
def volatile_molecules(oil_id: str) -> Sequence[str]:
    """Ids of an oil's main volatile molecules, the quickest to leave first."""
    shares = catalogue.oil(oil_id).composition
    known = [constituent(s.constituent) for s in shares if s.typical >= _SMALLEST_SHARE]
    volatile = [each for each in known if each.is_volatile and each.vapour_pressure_pa > 0]
    volatile.sort(key=lambda each: -each.vapour_pressure_pa)
    return tuple(each.id for each in volatile)


@cache
def grade_of(constituent_id: str, quantity: str) -> str:
    """Grade of the figure in use."""
    used = figures(constituent_id).query("quantity == @quantity and used == 'yes'")
    return str(used["grade"].iloc[0])


def moles_left(film: Film, hours: FloatArray) -> FloatArray:
    """Amounts left in a film, shape (m, n). [mol/m2]"""
    seconds = hours * SECONDS_PER_HOUR
    return film_amounts(film.moles, film.carrier_moles, film.loss_rates, seconds)


def oils_left(film: Film, hours: FloatArray) -> FloatArray:
    """Share of each oil's starting mass that is left, shape (o, m)."""
    mass = film.share_of_oil * film.molar_masses
    return np.asarray((mass @ moles_left(film, hours).T) / (mass @ film.moles)[:, None])


def hours_to_half(film: Film) -> FloatArray:
    """Hours until half of each oil has gone, shape (o,)."""
    left = oils_left(film, _FINE_HOURS)
    return np.array([np.interp(-0.5, -each, _FINE_HOURS) for each in left])


def largest_ratio(halves: Mapping[str, FloatArray], names: Iterable[str]) -> str:
    """Largest ratio of the longest to the shortest time, over the oils; in words."""
    times = np.array([halves[name] for name in names])
    return show(float((times.max(axis=0) / times.min(axis=0)).max()), 2)


def carrier_of_each_kind(first: str) -> dict[str, str]:
    """A carrier for each kind on record, the first for its own kind."""
    kinds = kind_of_carrier()
    found = {kinds[first]: first}
    for name, kind in kinds.items():
        found.setdefault(kind, name)
    return found


def curves(
    film: Film, hours: FloatArray, by_series: Mapping[str, FloatArray]
) -> list[dict[str, Any]]:
    """Rows of one line an oil and series, for a chart."""
    return [
        {
            "note": note,
            "oil": oil,
            "series": series,
            "hours": float(hour),
            "value": round(float(value), 4),
        }
        for series, values in by_series.items()
        for note, oil, line in zip(film.notes, film.oil_names, values, strict=True)
        for hour, value in zip(hours, line, strict=True)
    ]


def share_of_oils(text: str) -> float:
    """Share of oils in the film, such as "20 %". [-]

    Raises
    ------
    BadNumber
        No share from 1 % to 100 %.
    """
    share = to_si(text, "dimensionless", name="oils in it")
    if not 0.01 <= share <= 1:
        raise BadNumber([Problem("oils in it", quoted(text), "from 1 % to 100 %")])
    return share


def check_number(
    name: str, value: float | str, low: float, high: float, needed: str, *, whole: bool = False
) -> float:
    """Check a number that was typed or set.

    Raises
    ------
    BadNumber
        None from `low` to `high`; says what is `needed`.
    """
    if isinstance(value, str) or not low <= value <= high or (whole and value % 1):
        raise BadNumber([Problem(name, quoted(value), needed)])
    return float(value)
