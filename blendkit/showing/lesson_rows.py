"""The rows of the ten lessons of "Why it fades", each with a sentence that says what they show.

Three oils in equal parts in one carrier stand for the three notes: an invented mixture for
teaching, not a recipe. Every figure drawn comes from the same functions that forecast a real
blend. Arguments are what a person set or typed, so a lesson refuses what it cannot use.
Each function makes the rows of the chart of the same name in `blendkit.showing.lesson_charts`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import cache
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.fade import forecast, hours_until
from blendkit.evaporation.fade_draws import Uncertainty
from blendkit.evaporation.fade_words import hour_words
from blendkit.evaporation.film import film_amounts
from blendkit.evaporation.molecules import kind_of_carrier
from blendkit.evaporation.wear import Film, film_of_masses
from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.units import KELVIN_AT_0_CELSIUS, counted, show, to_si
from blendkit.materials import catalogue
from blendkit.materials.constituents import constituent, figures

FloatArray = npt.NDArray[np.float64]

OILS = ("sweet-orange", "lavender", "patchouli")
THIRSTY_OILS = ("sweet-orange", "lavender", "patchouli", "clove-bud", "vanilla-co2")
CARRIER, STRENGTH = "sweet-almond", 0.2
FATS_AND_WAX = (
    "oleic triglyceride",
    "linoleic triglyceride",
    "medium-chain triglyceride",
    "long wax ester",
)
NO_CARRIER = "no carrier at all"
REST, CARRIER_NOTE = "rest", "carrier"
SHARE_LEFT, OWN_AMOUNT = "share of what is left", "its own amount"
AS_SET, AS_USUAL = "as set here", "as usual"
NOTICED, VAPOUR = "what a nose notices", "the vapour itself"
AIR, SKIN = "into the air", "into the skin"
PLAIN, DRAW = "forecast", "draw"
LONGEST_SHOWN_HOURS = 8.0  # figures do not carry further; see `blendkit.evaporation.fade_words`
ALL_AT_ONCE = "everything at once"
CLOCK_ALONE = "air, load, warmth and skin"
MOLECULES_ALONE = "the molecules' own figures"
CAUSES = (ALL_AT_ONCE, CLOCK_ALONE, MOLECULES_ALONE)
_CERTAIN = Uncertainty(air=1.0, load=1.0, uptake=1.0, temperature_k=0.0)
_HEAT = "enthalpy_of_vaporisation"
_SMALLEST_SHARE = 0.02  # of an oil; rarer molecules do not stand for it
_OIL_KG_PER_M2 = STRENGTH * Conditions().film_kg_per_m2
_AFTER_HOURS = 2.0
_FINE_HOURS = np.concatenate([[0.0], np.geomspace(1e-3, 1e3, 400)])


class Shown(NamedTuple):
    """What a lesson shows: rows for its chart, and the same in a sentence."""

    rows: list[dict[str, Any]]
    sentence: str


# --- 1 and 2: single molecules ------------------------------------------------------------


def oils_to_choose() -> list[tuple[str, str]]:
    """Name and id of every shipped oil that three molecules can stand for."""
    known = [catalogue.oil(name) for name in catalogue.oils().index]
    return [(oil.name, oil.id) for oil in known if len(_volatile_in(oil.id)) >= 3]


def pressures(oil_id: str) -> Shown:
    """The quickest, the middle and the slowest of an oil's main molecules."""
    ranked = _volatile_in(oil_id)
    picked = [constituent(name) for name in (ranked[0], ranked[len(ranked) // 2], ranked[-1])]
    rows = [
        {
            "rank": rank,
            "molecule": f"{known.name} · {_grade(known.id, 'vapour_pressure_25c')}",
            "pressure": known.vapour_pressure_pa,
            "low": known.vapour_pressure_pa / known.uncertainty_factor,
            "high": known.vapour_pressure_pa * known.uncertainty_factor,
            "factor": known.uncertainty_factor,
            "basis": known.vapour_pressure_basis,
            "words": f"{show(known.vapour_pressure_pa, 2)} Pa",
        }
        for rank, known in enumerate(picked)
    ]
    ratio = picked[0].vapour_pressure_pa / picked[-1].vapour_pressure_pa
    return Shown(
        rows,
        f"In {catalogue.oil(oil_id).name}, {picked[0].name} pulls into the air about "
        f"{show(ratio, 1)} times as hard as {picked[-1].name}.",
    )


def warmth(skin: str) -> Shown:
    """How many times the vapour of 25 °C each molecule has on a skin of some warmth."""
    film = _film(STRENGTH, Conditions.read(skin_temperature=skin))
    rows: list[dict[str, Any]] = []
    for rank, (note, place) in enumerate(zip(film.notes, _leaders(film), strict=True)):
        molecule = film.molecules[place]
        times = float(film.vapour_pressures_pa[place] / molecule.vapour_pressure_pa)
        rows.append(
            {
                "rank": rank,
                "molecule": f"{molecule.name} · {_grade(molecule.id, _HEAT)}",
                "name": molecule.name,
                "note": note,
                "times": times,
                "pressure": float(film.vapour_pressures_pa[place]),
                "words": f"{show(times, 2)} ×",
            }
        )
    celsius = film.conditions.temperature_k - KELVIN_AT_0_CELSIUS
    each = ", ".join(f"{row['name']} {row['words']}" for row in rows)
    return Shown(rows, f"At {show(celsius)} °C against 25 °C: {each} as much vapour.")


# --- 3 and 4: shares of the film ----------------------------------------------------------


def shares(strength: str) -> Shown:
    """Three molecules, all others and the carrier: share by count, and share by mass."""
    film = _film(_share(strength), Conditions())
    whole = film.moles.sum() + film.carrier_moles
    load = film.conditions.film_kg_per_m2
    activity = film.activity_at(film.moles)
    rows = [
        _share_row(
            note,
            film.molecules[place].name,
            film.moles[place] / whole,
            film.moles[place] * film.molar_masses[place] / load,
            activity[place],
        )
        for note, place in zip(film.notes, _leaders(film), strict=True)
    ]
    told = rows[0]
    oils_kg = float(film.moles @ film.molar_masses)
    others = film.moles.sum() / whole - sum(row["count"] for row in rows)
    others_kg = oils_kg / load - sum(row["mass"] for row in rows)
    rows.append(_share_row(REST, "all other molecules", others, others_kg))
    carrier_mass, carrier_count = 1 - oils_kg / load, film.carrier_moles / whole
    rows.append(_share_row(CARRIER_NOTE, "carrier and wax", carrier_count, carrier_mass))
    rows = [{"rank": rank} | row for rank, row in enumerate(rows)]
    return Shown(
        rows,
        f"Of a hundred molecules in the film {show(told['count'] * 100, 2)} are "
        f"{told['part']}; with how it gets on with its neighbours, it leaves at "
        f"{show(told['speed'] * 100, 2)} % of the speed it has alone. The carrier is "
        f"{show(carrier_mass * 100, 2)} % of the mass but only "
        f"{show(carrier_count * 100, 2)} % of the molecules, because its molecules are big.",
    )


def _share_row(
    note: str, part: str, count: float, mass: float, activity: float | None = None
) -> dict[str, Any]:
    speed = None if activity is None else float(count * activity)
    words = f"{show(float(count) * 100, 2)} %"
    if speed is not None:
        words += f" → {show(speed * 100, 2)} % of its full speed"
    return {
        "note": note,
        "part": part,
        "count": float(count),
        "mass": float(mass),
        "speed": speed,
        "furthest": max(float(count), float(mass)),
        "words": words,
    }


def lift(strength: str) -> Shown:
    """Each oil through eight hours: its share of what is left, and its own amount."""
    film = _film(_share(strength), Conditions())
    hours = hours_until(LONGEST_SHOWN_HOURS)
    moles = film_amounts(film.moles, film.carrier_moles, film.loss_rates, hours * 3600.0)
    of_oils = film.share_of_oil @ moles.T
    part = of_oils / (moles.sum(axis=1) + film.carrier_moles)
    part = part / part[:, :1]
    rows = [
        *_curves(film, hours, part, SHARE_LEFT),
        *_curves(film, hours, of_oils / of_oils[:, :1], OWN_AMOUNT),
    ]
    peak = int(np.argmax(part[-1]))
    return Shown(
        rows,
        f"{film.oil_names[-1]}'s share is largest after {hour_words(float(hours[peak]))}, at "
        f"{show(float(part[-1, peak]) * 100, 2)} % of its start, although none was added."
        if peak
        else f"{film.oil_names[-1]}'s share does not rise: too little leaves around it.",
    )


# --- 5 to 7: carrier, amount, air -----------------------------------------------------------


def carriers(strength: str) -> Shown:
    """Time until half of each oil is gone, for one carrier of each kind and for none."""
    share = _share(strength)
    bare = Conditions(film_kg_per_m2=_OIL_KG_PER_M2)
    thinned = replace(bare, film_kg_per_m2=_OIL_KG_PER_M2 / share)
    films = {NO_CARRIER: _film(1.0, bare)}
    films |= {name: _film(share, thinned, name) for name in _one_of_each_kind().values()}
    halves = {name: _half_gone(film) for name, film in films.items()}
    rows = [
        {
            "rank": rank,
            "carrier": name if name == NO_CARRIER else catalogue.carrier(name).name,
            "kind": kind_of_carrier().get(name, NO_CARRIER),
            "note": film.notes[place],
            "oil": film.oil_names[place],
            "hours": float(half),
            "words": hour_words(float(half)),
        }
        for rank, (name, film) in enumerate(films.items())
        for place, half in enumerate(halves[name])
    ]
    slower = halves[CARRIER] / halves[NO_CARRIER]
    of_fats = [name for kind, name in _one_of_each_kind().items() if kind in FATS_AND_WAX]
    return Shown(
        rows,
        f"In {catalogue.carrier(CARRIER).name.lower()} half of each oil takes "
        f"{show(float(slower.min()), 2)} to {show(float(slower.max()), 2)} times as long as "
        f"without carrier. Between vegetable oils, coconut and jojoba these times differ by at "
        f"most {_most_apart(halves, of_fats)} times, between all these carriers by at most "
        f"{_most_apart(halves, _one_of_each_kind().values())} times.",
    )


def _most_apart(halves: Mapping[str, FloatArray], names: Iterable[str]) -> str:
    held = np.array([halves[name] for name in names])
    return show(float((held.max(axis=0) / held.min(axis=0)).max()), 2)


@cache
def _one_of_each_kind() -> Mapping[str, str]:
    """A carrier for each kind on record, the lesson's own for its kind."""
    found: dict[str, str] = {kind_of_carrier()[CARRIER]: CARRIER}
    for name, kind in kind_of_carrier().items():
        found.setdefault(kind, name)
    return found


def amounts(film: str = "20 g/m**2", air_speed: str = "0.2 m/s") -> Shown:
    """What is left of each oil under some conditions, and under the usual ones (dashed)."""
    usual = _film(STRENGTH, Conditions())
    now = _film(STRENGTH, Conditions.read(film=film, air_speed=air_speed))
    hours = hours_until(LONGEST_SHOWN_HOURS)
    rows = [
        *_curves(now, hours, _left(now, hours), AS_SET),
        *_curves(usual, hours, _left(usual, hours), AS_USUAL),
    ]
    half, usual_half = (float(_half_gone(each)[1]) for each in (now, usual))
    return Shown(
        rows,
        f"Half of the {now.oil_names[1].lower()} has gone after about "
        f"{show(half * 60, 2)} minutes (as usual: {show(usual_half * 60, 2)}). The clock runs "
        f"at {show(usual_half / half, 2)} times its usual speed.",
    )


# --- 8 to 10: skin, nose, band --------------------------------------------------------------


def skin(thirst: float | str) -> Shown:
    """Which share of some molecules the skin takes, were it thirstier than the model says."""
    factor = _number("skin's thirst", thirst, 0.05, 20, "0.05 to 20, such as 1")
    masses = dict.fromkeys(THIRSTY_OILS, 1.0)
    around = {CARRIER: sum(masses.values()) * (1 / STRENGTH - 1)}
    film = film_of_masses(masses, around, {}, Conditions())
    to_air = replace(film, uptake=film.uptake * factor).evaporated_share()
    places = sorted(_leaders(film), key=lambda place: -to_air[place])
    rows = [
        {
            "rank": rank,
            "molecule": film.molecules[place].name,
            "way": way,
            "order": order,
            "share": float(share),
            "words": f"skin {show(float(share) * 100, 2)} %",
        }
        for rank, place in enumerate(places)
        for order, (way, share) in enumerate(((AIR, to_air[place]), (SKIN, 1 - to_air[place])))
    ]
    most, least = places[-1], places[0]
    return Shown(
        rows,
        f"The skin takes about {(1 - to_air[most]) * 100:.0f} % of the "
        f"{film.molecules[most].name} and {show(float(1 - to_air[least]) * 100, 1)} % of the "
        f"{film.molecules[least].name}; nobody smells that part.",
    )


def nose(exponent: float | str) -> Shown:
    """Vapour over the film (dashed), and what a nose makes of it by a power law."""
    power = _number("exponent", exponent, 0.1, 1, "0.1 to 1, such as 0.35")
    film = _film(STRENGTH, Conditions())
    found = forecast(film, hours_until(LONGEST_SHOWN_HOURS), 2, exponent=power)
    notes = found.rows("note")
    vapour = found.vapour[notes] / found.vapour[notes, :1]
    rows = [
        *_curves(film, found.hours, found.strength[notes], NOTICED),
        *_curves(film, found.hours, vapour, VAPOUR),
    ]
    at = int(np.searchsorted(found.hours, _AFTER_HOURS))
    return Shown(
        rows,
        f"After {hour_words(_AFTER_HOURS)} {show(float(vapour[1, at]) * 100, 2)} % of the "
        f"middle note's first vapour is left; with this exponent a nose calls that "
        f"{show(float(found.strength[notes][1, at]) * 100, 2)} % as strong.",
    )


def draws(note: str, cause: str, lines: float | str) -> Shown:
    """One note drawn many times over, its uncertain figures drawn anew for each line."""
    count = int(_number("lines", lines, 2, 100, "a whole number from 2 to 100", whole=True))
    film = _film(STRENGTH, Conditions())
    if cause == CLOCK_ALONE:
        known = tuple(each._replace(uncertainty_factor=1.0) for each in film.molecules)
        film = replace(film, molecules=known, activity_spread=np.ones(len(known)))
    sure = _CERTAIN if cause == MOLECULES_ALONE else None
    hours = hours_until(LONGEST_SHOWN_HOURS)[::2]
    found = forecast(film, hours, count, uncertainty=sure)
    place = found.place(note)
    each = np.column_stack([found.strength[place], found.strength_draws()[place]])
    rows = [
        {
            "line": line,
            "kind": DRAW if line else PLAIN,
            "note": note,
            "hours": float(hour),
            "value": round(float(value), 4),
        }
        for line in range(each.shape[1])
        for hour, value in zip(found.hours, each[:, line], strict=True)
    ]
    at = int(np.searchsorted(found.hours, _AFTER_HOURS))
    low, high = each[at].min() * 100, each[at].max() * 100
    return Shown(
        rows,
        f"{counted(count, 'line').capitalize()}: after {hour_words(float(found.hours[at]))} "
        f"the {note} note is somewhere from {show(low, 2)} % to {show(high, 2)} % of its "
        f"start.",
    )


# --- what they share ------------------------------------------------------------------------


def _film(strength: float, conditions: Conditions, carrier: str = CARRIER) -> Film:
    around = {carrier: 1 - strength} if strength < 1 else {}
    return film_of_masses(dict.fromkeys(OILS, strength / len(OILS)), around, {}, conditions)


def _leaders(film: Film) -> list[int]:
    """The place in a film of each oil's main molecule, oil by oil."""
    ids = [each.id for each in film.molecules]
    return [ids.index(_main_molecule(oil)) for oil in film.oils]


def _main_molecule(oil_id: str) -> str:
    composition = catalogue.oil(oil_id).composition
    return next(s.constituent for s in composition if s.constituent in _volatile_in(oil_id))


@cache
def _volatile_in(oil_id: str) -> Sequence[str]:
    """Ids of an oil's main volatile molecules, the quickest to leave first."""
    known = [
        constituent(share.constituent)
        for share in catalogue.oil(oil_id).composition
        if share.typical >= _SMALLEST_SHARE
    ]
    volatile = [each for each in known if each.is_volatile and each.vapour_pressure_pa > 0]
    return tuple(each.id for each in sorted(volatile, key=lambda x: -x.vapour_pressure_pa))


@cache
def _grade(constituent_id: str, quantity: str) -> str:
    used = figures(constituent_id).query("quantity == @quantity and used == 'yes'")
    return str(used["grade"].iloc[0])


def _left(film: Film, hours: FloatArray) -> FloatArray:
    """Share of each oil's starting mass that is left, shape (o, m)."""
    left = film_amounts(film.moles, film.carrier_moles, film.loss_rates, hours * 3600.0)
    mass = film.share_of_oil * film.molar_masses
    return np.asarray((mass @ left.T) / (mass @ film.moles)[:, None])


def _half_gone(film: Film) -> FloatArray:
    """Hours until half of each oil has gone, shape (o,)."""
    return np.array([np.interp(-0.5, -each, _FINE_HOURS) for each in _left(film, _FINE_HOURS)])


def _curves(
    film: Film, hours: FloatArray, values: Iterable[FloatArray], series: str
) -> Iterable[dict[str, Any]]:
    for note, oil, line in zip(film.notes, film.oil_names, values, strict=True):
        for moment, value in enumerate(line):
            yield {
                "note": note,
                "oil": oil,
                "series": series,
                "hours": float(hours[moment]),
                "value": round(float(value), 4),
            }


def _share(text: str) -> float:
    share = to_si(text, "dimensionless", name="oils in it")
    if not 0.01 <= share <= 1:
        raise BadNumber([Problem("oils in it", quoted(text), "from 1 % to 100 %")])
    return share


def _number(
    name: str, value: float | str, low: float, high: float, needed: str, *, whole: bool = False
) -> float:
    if isinstance(value, str) or not low <= value <= high or (whole and value % 1):
        raise BadNumber([Problem(name, quoted(value), needed)])
    return float(value)
