"""The rows of the ten lessons of "Why it fades", each with a sentence.

Three oils in equal parts in one carrier represent the three notes: an invented mixture for
teaching, not a recipe. Every figure drawn comes from the same functions that forecast a real
blend. Arguments are what a person set or typed, so a lesson refuses what it cannot use.
Each function makes the rows of the chart of the same name in `blendkit.showing.lesson.charts`.
"""

from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np

from blendkit.evaporation import uncertainty
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.fade_words import hour_words
from blendkit.evaporation.fading import hours_until
from blendkit.evaporation.forecast import forecast
from blendkit.evaporation.molecules import kind_of_carrier
from blendkit.evaporation.perception import VAPOUR as BY_VAPOUR
from blendkit.evaporation.wear import Film, film_of_masses
from blendkit.foundation.units import KELVIN_AT_0_CELSIUS, counted, show
from blendkit.materials import catalogue
from blendkit.materials.constituents import constituent
from blendkit.showing.lesson import film as readings
from blendkit.skin.check import options

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
CLOCK_ALONE = "air, load, warmth, skin and nose"
MOLECULES_ALONE = "the molecules' own figures"
CAUSES = (ALL_AT_ONCE, CLOCK_ALONE, MOLECULES_ALONE)
_AFTER_HOURS = 2.0


class Shown(NamedTuple):
    """Result of a lesson: rows for its chart, and a sentence."""

    rows: list[dict[str, Any]]
    sentence: str


# --- 1 and 2: single molecules ------------------------------------------------------------


def oils_to_choose() -> list[tuple[str, str]]:
    """Name and id of every shipped oil that three molecules can represent."""
    shipped = catalogue.shipped_oils().index
    return options(name for name in shipped if len(readings.volatile_molecules(name)) >= 3)


def pressures(oil_id: str) -> Shown:
    """The quickest, the middle and the slowest of an oil's main molecules."""
    ranked = readings.volatile_molecules(oil_id)
    picked = [constituent(name) for name in (ranked[0], ranked[len(ranked) // 2], ranked[-1])]
    rows = [
        {
            "rank": rank,
            "molecule": f"{known.name} · {readings.grade_of(known.id, 'vapour_pressure_25c')}",
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
    """Vapour of each molecule at a skin temperature, relative to 25 °C."""
    film = _film(STRENGTH, Conditions.read(skin_temperature=skin))
    places = readings.main_molecules_of(film)
    rows, ratios = list[dict[str, Any]](), list[str]()
    for rank, (note, place) in enumerate(zip(film.notes, places, strict=True)):
        molecule, now = film.molecules[place], float(film.vapour_pressures_pa[place])
        times = now / molecule.vapour_pressure_pa
        words = f"{show(times, 2)} ×"
        ratios.append(f"{molecule.name} {words}")
        name = f"{molecule.name} · {readings.grade_of(molecule.id, 'enthalpy_of_vaporisation')}"
        numbers = {"rank": rank, "times": times, "pressure": now}
        rows.append({"molecule": name, "note": note, "words": words} | numbers)
    celsius = film.conditions.temperature_k - KELVIN_AT_0_CELSIUS
    all_ratios = ", ".join(ratios)
    return Shown(rows, f"At {show(celsius)} °C against 25 °C: {all_ratios} as much vapour.")


# --- 3 and 4: shares of the film ----------------------------------------------------------


def shares(strength: str) -> Shown:
    """Three molecules, all others and the carrier: share by count, and share by mass."""
    film = _film(readings.share_of_oils(strength), Conditions())
    whole, places = film.moles.sum() + film.carrier_moles, readings.main_molecules_of(film)
    counts = film.moles / whole
    masses = film.moles * film.molar_masses / film.conditions.film_kg_per_m2
    speeds = counts * film.activity_at(film.moles)
    others, others_mass = (each.sum() - each[places].sum() for each in (counts, masses))
    carrier_mass, carrier_count = 1 - masses.sum(), film.carrier_moles / whole
    parts: list[tuple[Any, ...]] = [
        (note, film.molecules[place].name, counts[place], masses[place], speeds[place])
        for note, place in zip(film.notes, places, strict=True)
    ]
    parts.append((REST, "all other molecules", others, others_mass, None))
    parts.append((CARRIER_NOTE, "carrier and wax", carrier_count, carrier_mass, None))
    rows = [
        {
            "rank": rank,
            "note": note,
            "part": part,
            "count": float(count),
            "mass": float(mass),
            "speed": None if speed is None else float(speed),
            "furthest": float(max(count, mass)),
            "words": " → ".join(_percent(each) for each in (count, speed) if each is not None),
        }
        for rank, (note, part, count, mass, speed) in enumerate(parts)
    ]
    first = rows[0]
    return Shown(
        rows,
        f"Of a hundred molecules in the film {show(first['count'] * 100, 2)} are "
        f"{first['part']}; with how it gets on with its neighbours, it leaves at "
        f"{_percent(first['speed'])} of the speed it has alone. The carrier is "
        f"{_percent(carrier_mass)} of the mass but only {_percent(carrier_count)} of the "
        "molecules, because its molecules are big.",
    )


def lift(strength: str) -> Shown:
    """Each oil through eight hours: its share of what is left, and its own amount."""
    film = _film(readings.share_of_oils(strength), Conditions())
    hours = hours_until(LONGEST_SHOWN_HOURS)
    moles = readings.moles_left(film, hours)
    of_oils = film.share_of_oil @ moles.T
    part = of_oils / (moles.sum(axis=1) + film.carrier_moles)
    part = part / part[:, :1]
    rows = readings.curves(
        film, hours, {SHARE_LEFT: part, OWN_AMOUNT: of_oils / of_oils[:, :1]}
    )
    peak = int(np.argmax(part[-1]))
    return Shown(
        rows,
        f"{film.oil_names[-1]}'s share is largest after {hour_words(hours[peak])}, at "
        f"{_percent(part[-1, peak])} of its start, although none was added."
        if peak
        else f"{film.oil_names[-1]}'s share does not rise: too little leaves around it.",
    )


# --- 5 to 7: carrier, amount, air -----------------------------------------------------------


def carriers(strength: str) -> Shown:
    """Time until half of each oil is gone, for one carrier of each kind and for none."""
    share = readings.share_of_oils(strength)
    load = STRENGTH * Conditions().film_kg_per_m2
    thinned = Conditions(film_kg_per_m2=load / share)
    by_kind = readings.carrier_of_each_kind(CARRIER)
    films = {NO_CARRIER: _film(1.0, Conditions(film_kg_per_m2=load))}
    films |= {name: _film(share, thinned, name) for name in by_kind.values()}
    halves = {name: readings.hours_to_half(film) for name, film in films.items()}
    rows = [
        {
            "rank": rank,
            "carrier": name if name == NO_CARRIER else catalogue.carrier(name).name,
            "kind": kind_of_carrier().get(name, NO_CARRIER),
            "note": note,
            "oil": oil,
            "hours": float(half),
            "words": hour_words(half),
        }
        for rank, (name, film) in enumerate(films.items())
        for note, oil, half in zip(film.notes, film.oil_names, halves[name], strict=True)
    ]
    slower = halves[CARRIER] / halves[NO_CARRIER]
    fats = [name for kind, name in by_kind.items() if kind in FATS_AND_WAX]
    of_fats, of_all = (readings.largest_ratio(halves, n) for n in (fats, by_kind.values()))
    return Shown(
        rows,
        f"In {catalogue.carrier(CARRIER).name.lower()} half of each oil takes "
        f"{show(slower.min(), 2)} to {show(slower.max(), 2)} times as long as without carrier. "
        "Between vegetable oils, coconut and jojoba these times differ by at most "
        f"{of_fats} times, between all these carriers by at most {of_all} times.",
    )


def amounts(film: str = "20 g/m**2", air_speed: str = "0.2 m/s") -> Shown:
    """Share left of each oil under some conditions, and under the usual ones (dashed)."""
    usual = _film(STRENGTH, Conditions())
    now = _film(STRENGTH, Conditions.read(film=film, air_speed=air_speed))
    hours = hours_until(LONGEST_SHOWN_HOURS)
    left = {AS_SET: readings.oils_left(now, hours), AS_USUAL: readings.oils_left(usual, hours)}
    half, usual_half = (readings.hours_to_half(each)[1] for each in (now, usual))
    return Shown(
        readings.curves(usual, hours, left),
        f"Half of the {now.oil_names[1].lower()} has gone after about "
        f"{show(half * 60, 2)} minutes (as usual: {show(usual_half * 60, 2)}). The clock runs "
        f"at {show(usual_half / half, 2)} times its usual speed.",
    )


# --- 8 to 10: skin, nose, band --------------------------------------------------------------


def skin(uptake: float | str) -> Shown:
    """Shares of some molecules that the skin takes up, at another uptake than the model's."""
    factor = readings.check_number("skin uptake", uptake, 0.05, 20, "0.05 to 20, such as 1")
    film = _film(STRENGTH, Conditions(), oils=THIRSTY_OILS)
    to_air = replace(film, uptake=film.uptake * factor).evaporated_share()
    places = sorted(readings.main_molecules_of(film), key=lambda place: -to_air[place])
    rows = [
        {
            "rank": rank,
            "molecule": film.molecules[place].name,
            "way": way,
            "order": order,
            "share": float(share),
            "words": f"skin {_percent(share)}",
        }
        for rank, place in enumerate(places)
        for order, (way, share) in enumerate(((AIR, to_air[place]), (SKIN, 1 - to_air[place])))
    ]
    most, least = places[-1], places[0]
    return Shown(
        rows,
        f"The skin takes about {(1 - to_air[most]) * 100:.0f} % of the "
        f"{film.molecules[most].name} and {show((1 - to_air[least]) * 100, 1)} % of the "
        f"{film.molecules[least].name}; nobody smells that part.",
    )


def nose(exponent: float | str) -> Shown:
    """Vapour over the film (dashed), and its perceived strength by a power law."""
    power = readings.check_number("exponent", exponent, 0.1, 1, "0.1 to 1, such as 0.35")
    film = _film(STRENGTH, Conditions())
    found = forecast(film, hours_until(LONGEST_SHOWN_HOURS), 2, way=BY_VAPOUR, exponent=power)
    noticed = found.strength[found.rows("note")]
    vapour = noticed ** (1 / power)
    at = int(np.searchsorted(found.hours, _AFTER_HOURS))
    return Shown(
        readings.curves(film, found.hours, {NOTICED: noticed, VAPOUR: vapour}),
        f"After {hour_words(_AFTER_HOURS)} {_percent(vapour[1, at])} of the middle note's "
        "first vapour is left; with this exponent a nose calls that "
        f"{_percent(noticed[1, at])} as strong.",
    )


def draws(note: str, cause: str, lines: float | str) -> Shown:
    """One note drawn many times over, its uncertain figures drawn again for each line."""
    needed = "a whole number from 2 to 100"
    count = int(readings.check_number("lines", lines, 2, 100, needed, whole=True))
    film = _film(STRENGTH, Conditions())
    if cause == CLOCK_ALONE:
        known = tuple(each._replace(uncertainty_factor=1.0) for each in film.molecules)
        film = replace(film, molecules=known, activity_spread=np.ones(len(known)))
    sure = {
        MOLECULES_ALONE: uncertainty.MOLECULES_ALONE,
        CLOCK_ALONE: uncertainty.Uncertainty(curves=False),
    }
    hours = hours_until(LONGEST_SHOWN_HOURS)[::2]
    found = forecast(film, hours, count, uncertainty=sure.get(cause))
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
        for line, values in enumerate(each.T)
        for hour, value in zip(found.hours, values, strict=True)
    ]
    at = int(np.searchsorted(found.hours, _AFTER_HOURS))
    low, high = (_percent(end) for end in (each[at].min(), each[at].max()))
    return Shown(
        rows,
        f"{counted(count, 'line').capitalize()}: after {hour_words(found.hours[at])} the "
        f"{note} note is somewhere from {low} to {high} of its start.",
    )


def _percent(share: float) -> str:
    return f"{show(float(share) * 100, 2)} %"


def _film(
    strength: float,
    conditions: Conditions,
    carrier: str = CARRIER,
    oils: tuple[str, ...] = OILS,
) -> Film:
    around = {carrier: 1 - strength} if strength < 1 else {}
    return film_of_masses(dict.fromkeys(oils, strength / len(oils)), around, {}, conditions)
