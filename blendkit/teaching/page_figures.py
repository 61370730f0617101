"""The figures that a hand-out carries along, so that it computes the fade without the workbook.

The page does the same arithmetic as `evaporation.wear`, `evaporation.film` and
`evaporation.fade`, for the oils of one class: what each molecule would lose to air and skin,
how it gets on with the carrier, and a few dozen even draws of what is uncertain. Everything
here is plain numbers for JSON; nothing a person typed is in it.
"""

from __future__ import annotations

import base64
import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from blendkit.evaporation import forecast, rates
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.molecules import (
    KIND_OF_WHAT_STAYS,
    MakeUp,
    Molecule,
    dilute_activity,
    kind_of_carrier,
    make_up,
    molar_volume_of,
)
from blendkit.evaporation.uncertainty import Uncertainty, even_normals
from blendkit.evaporation.wear import HELD_UNTIL, rates_alone
from blendkit.foundation.units import GAS_CONSTANT_J_PER_MOL_K
from blendkit.teaching.class_document import ClassPlan

DRAWS, SEED = 64, 1
LAST_HOUR = 8.0
COMMON_DRAWS = 4  # air, load, warmth, the skin's own uptake; see `fade_draws.drawn`
STEPS_OF_A_NORMAL = 32  # a draw is carried as a signed byte, in steps of a thirty-second
_DIGITS = 7


def page_figures(plan: ClassPlan) -> dict[str, Any]:
    """What the page needs to compute the fade of any mix of a class's oils and carriers.

    Returns
    -------
    dict
        Ready for JSON. ``oils`` by the palette's order: `holds`, pairs of a molecule's place
        and its mass fraction, and `stays`, moles and volume of what cannot evaporate per kg.
        ``molecules``: molar mass [kg/mol], molar volume [m3/mol], vapour pressure [Pa], loss to
        air and to skin [mol/m2/s], enthalpy [J/mol], logarithm of the uncertainty factor, place
        of the chemical class, and by kind of carrier Flory's chi and the logarithm of its
        spread. ``normals``: draws, base64 of signed bytes, row by row.
    """
    conditions = Conditions.read()
    made = [make_up(each.oil) for each in plan.oils]
    molecules = list(dict.fromkeys(m for each in made for m, _ in each.volatile))
    place = {molecule: number for number, molecule in enumerate(molecules)}
    classes = sorted({each.chemical_class for each in molecules})
    kind_of = kind_of_carrier()
    kinds = [*dict.fromkeys([KIND_OF_WHAT_STAYS, *(kind_of[c.id] for c in plan.carriers)])]
    uncertainty = Uncertainty()
    return {
        "oils": [_oil(each, place) for each in made],
        "carriers": [
            {
                "molarMass": _short(each.molar_mass_kg_per_mol),
                "density": _short(each.density_kg_per_m3),
                "kind": kinds.index(kind_of[each.id]),
            }
            for each in plan.carriers
        ],
        "molecules": _molecules(molecules, classes, kinds, conditions),
        "kinds": len(kinds),
        "classes": len(classes),
        "film": conditions.film_kg_per_m2,
        "temperature": conditions.temperature_k,
        "gasConstant": GAS_CONSTANT_J_PER_MOL_K,
        "exponent": forecast.STRENGTH_EXPONENT,
        "heldUntil": HELD_UNTIL,
        "hours": [_short(hour) for hour in forecast.hours_until(LAST_HOUR).tolist()],
        "air": math.log(uncertainty.air),
        "load": math.log(uncertainty.load),
        "warmth": uncertainty.temperature_k,
        "uptake": math.log(uncertainty.uptake),
        "shared": uncertainty.shared,
        "draws": DRAWS,
        "normalStep": 1 / STEPS_OF_A_NORMAL,
        "normals": base64.b64encode(
            page_normals(len(classes), len(molecules)).tobytes()
        ).decode(),
    }


def _oil(made: MakeUp, place: Mapping[Molecule, int]) -> dict[str, Any]:
    return {
        "holds": [[place[molecule], _short(mass)] for molecule, mass in made.volatile],
        "stays": [
            _short(sum(mass / molar for molar, _, mass in made.staying)),
            _short(sum(mass / molar * volume for molar, volume, mass in made.staying)),
        ],
    }


def page_normals(classes: int, molecules: int) -> npt.NDArray[np.int8]:
    """The draws as the page has them, shape (draws, common + classes + molecules)."""
    normal = even_normals(DRAWS, COMMON_DRAWS + classes + molecules, SEED)[1:]
    return np.clip(np.rint(normal * STEPS_OF_A_NORMAL), -127, 127).astype(np.int8)


def _molecules(
    molecules: Sequence[Molecule],
    classes: Sequence[str],
    kinds: Sequence[str],
    conditions: Conditions,
) -> list[list[Any]]:
    alone = rates_alone(molecules, conditions)
    volumes = np.array([m.molar_volume_m3_per_mol for m in molecules])
    names = tuple(m.chemical_class for m in molecules)
    by_kind = [dilute_activity(kind, names) for kind in kinds]
    chi = [
        rates.interaction_from_dilute(dilute, volumes, molar_volume_of(kind))
        for kind, (dilute, _) in zip(kinds, by_kind, strict=True)
    ]
    return [
        [
            _short(each.molar_mass_kg_per_mol),
            _short(each.molar_volume_m3_per_mol),
            _short(alone.vapour_pressures_pa[i]),
            _short(alone.evaporation[i]),
            _short(alone.uptake[i]),
            _short(each.enthalpy_j_per_mol),
            _short(math.log(each.uncertainty_factor)),
            classes.index(each.chemical_class),
            [_short(of[i]) for of in chi],
            [_short(spread[i]) for _, spread in by_kind],
        ]
        for i, each in enumerate(molecules)
    ]


def undescribed(plan: ClassPlan) -> Mapping[str, float]:
    """By oil id: share of its mass that no analysis describes, where there is any. [-]"""
    shares = {each.oil.id: make_up(each.oil).undescribed for each in plan.oils}
    return {oil_id: share for oil_id, share in shares.items() if share}


def _short(number: float) -> float:
    """Seven digits: far below what any of the figures is good for."""
    return float(f"{float(number):.{_DIGITS}g}")
