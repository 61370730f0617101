"""Figures that a hand-out carries to forecast the fade without the workbook.

They come from the package's own film and its own draws of the uncertain figures, so that a
change of rates, conditions or uncertainty reaches the page by itself. The page mixes the
molecules of the oils, holds their activity (`evaporation.rates`) and inverts the film's clock
(`evaporation.film`). All of it is plain numbers for JSON; nothing a person typed is in it.
"""

import base64
import math
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
import numpy.typing as npt

from blendkit.evaporation import molecules, rates
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.fading import hours_until
from blendkit.evaporation.uncertainty import Uncertainty, drawn
from blendkit.evaporation.wear import Film, film_of_masses
from blendkit.foundation.units import FloatArray
from blendkit.materials.catalogue import Carrier
from blendkit.teaching.class_document import ClassPlan

LAST_HOUR = 8.0
# A multiple of six and one, so that both ends of the band are draws themselves
MOST_DRAWS, SEED = 127, 1
ROOM_FOR_DRAWS = 80_000  # bytes: with many kinds of carrier there are fewer draws
_DIGITS = 7  # far more than any of the figures is good for


def page_figures(plan: ClassPlan) -> dict[str, Any]:
    """Figures for the fade of any mix of a class's oils and carriers.

    Returns
    -------
    dict
        Ready for JSON. ``oils``, in the palette's order: `moles`, pairs of a molecule's place
        and its amount [mol/kg], and `staying`, amount [mol/kg] and volume [m3/kg] of what
        cannot evaporate. By molecule: ``volumes`` [m3/mol], ``losses`` at unit activity
        [mol/m2/s], ``doses`` at the nose at unit activity, ``greatest`` and ``powers`` of the
        curves of smell [-], and ``interactions``, Flory's chi with what stays of oils.
        ``kinds`` of carrier: chi, and draws as of `page_draws` in base64. ``heldAt``: falls
        (logarithms) and weights at which activity is averaged.
    """
    conditions = Conditions.read()
    films = class_films(plan)
    film = next(iter(films.values()))
    kinds = list(films)
    place = {molecule: number for number, molecule in enumerate(film.molecules)}
    places, weights = np.polynomial.legendre.leggauss(3)
    falls = math.log(rates.HELD_UNTIL) * (1 + places) / 2
    return {
        "oils": [_oil(molecules.make_up(each.oil), place) for each in plan.oils],
        "carriers": [
            {
                "density": each.density_kg_per_m3,
                "molarMass": each.molar_mass_kg_per_mol,
                "kind": kinds.index(_kind_of(each)),
            }
            for each in plan.carriers
        ],
        "volumes": _short(film.molar_volumes),
        "doses": _short(film.dose / film.activity),
        "greatest": _short(film.curves.greatest),
        "powers": _short(film.curves.power),
        "losses": _short(film.loss_rates / film.activity),
        "interactions": _short(_interactions(film, molecules.KIND_OF_WHAT_STAYS)),
        "kinds": [_kind(film, kind, len(kinds)) for kind, film in films.items()],
        "film": conditions.film_kg_per_m2,
        "temperature": conditions.temperature_k,
        "heldAt": np.column_stack([falls, weights / 2]).tolist(),
        "hours": _short(hours_until(LAST_HOUR)),
    }


def class_films(plan: ClassPlan) -> dict[str, Film]:
    """A film of all oils of a class at its strength, by kind of carrier."""
    strength = plan.fields.strength_fraction
    oils = {each.oil.id: strength / len(plan.oils) for each in plan.oils}
    return {
        _kind_of(each): film_of_masses(oils, {each.id: 1 - strength}, {}, Conditions.read())
        for each in plan.carriers
    }


def _kind_of(carrier: Carrier) -> str:
    kinds = molecules.kind_of_carrier()
    return kinds.get(carrier.like or carrier.id, molecules.KIND_OF_WHAT_STAYS)


def page_draws(film: Film, kinds: int) -> tuple[npt.NDArray[np.int8], float]:
    """Draws of loss rates and doses relative to the plain film, in a byte each.

    Parameters
    ----------
    film : Film
        Of n molecules.
    kinds : int
        Kinds of carrier that share `ROOM_FOR_DRAWS`.

    Returns
    -------
    steps : ndarray, shape (draws, 2, n)
        Logarithms, in steps. [-]
    step : float
        [-]
    """
    room = ROOM_FOR_DRAWS // (2 * len(film.molecules) * kinds)
    draws = min(MOST_DRAWS, 6 * max(1, (room - 1) // 6) + 1)
    made = drawn(film, draws, SEED, Uncertainty(), None)
    logs = np.log(np.stack([made.loss_rates, made.dose], axis=1))
    logs = logs[1:] - logs[0]
    step = float(np.abs(logs).max()) / 127
    return np.rint(logs / step).astype(np.int8), step


def _kind(film: Film, kind: str, kinds: int) -> dict[str, Any]:
    steps, step = page_draws(film, kinds)
    return {
        "interactions": _short(_interactions(film, kind)),
        "draws": base64.b64encode(steps.tobytes()).decode(),
        "step": step,
    }


def _interactions(film: Film, kind: str) -> FloatArray:
    """Flory's chi of the molecules with one kind of carrier. [-]"""
    dilute, _ = molecules.dilute_activity(
        kind, tuple(each.chemical_class for each in film.molecules)
    )
    volume = molecules.molar_volume_of(kind)
    return np.asarray(rates.interaction_from_dilute(dilute, film.molar_volumes, volume))


def _oil(made: molecules.MakeUp, place: Mapping[molecules.Molecule, int]) -> dict[str, Any]:
    amounts = [(place[m], mass / m.molar_mass_kg_per_mol) for m, mass in made.volatile]
    staying = [(mass / molar_mass, volume) for molar_mass, volume, mass in made.staying]
    return {
        "moles": [[number, *_short([moles])] for number, moles in amounts],
        "staying": _short([sum(n for n, _ in staying), sum(n * v for n, v in staying)]),
    }


def undescribed(plan: ClassPlan) -> Mapping[str, float]:
    """Share of an oil's mass that no analysis describes, by id, where there is any. [-]"""
    shares = {each.oil.id: molecules.make_up(each.oil).undescribed for each in plan.oils}
    return {oil_id: share for oil_id, share in shares.items() if share}


def _short(numbers: Iterable[float]) -> list[float]:
    return [float(f"{number:.{_DIGITS}g}") for number in numbers]
