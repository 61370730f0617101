"""Loss rates of molecules in a film, and the activity held for its life."""

import math
from collections.abc import Callable, Sequence

import numpy as np

from blendkit.evaporation import rates
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.molecules import Molecule
from blendkit.evaporation.vapour import REFERENCE_TEMPERATURE_K
from blendkit.foundation.units import G_PER_KG, GAS_CONSTANT_J_PER_MOL_K, FloatArray

HELD_UNTIL = 4.0  # a quarter left


def losses_alone(
    molecules: Sequence[Molecule], conditions: Conditions
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Vapour pressure of each pure liquid [Pa], and its loss if it were the whole film.

    That is, its loss to the air, and into the skin; 0 on a blotter. [mol/m2/s]
    Vapour pressures are carried from 25 degrees Celsius by Clausius-Clapeyron, with a constant
    enthalpy of vaporisation.
    """
    molar_masses_g = np.array([each.molar_mass_kg_per_mol for each in molecules]) * G_PER_KG
    enthalpies = np.array([each.enthalpy_j_per_mol for each in molecules])
    away = 1 / REFERENCE_TEMPERATURE_K - 1 / conditions.temperature_k
    pressures = np.array([each.vapour_pressure_pa for each in molecules])
    pressures = pressures * np.exp(enthalpies / GAS_CONSTANT_J_PER_MOL_K * away)
    speeds = rates.gas_side_coefficient(molar_masses_g, conditions.air_speed_m_per_s)
    evaporation = rates.evaporation_rate(speeds, pressures, conditions.temperature_k)
    uptake = np.zeros(len(molecules))
    if conditions.surface == "skin":
        log_kow = [each.log_kow for each in molecules]
        uptake = rates.skin_uptake_rate(log_kow, molar_masses_g)
    return pressures, evaporation, uptake


def held_activity(
    moles: FloatArray,
    at_unit_activity: FloatArray,
    activity_at: Callable[[FloatArray], FloatArray],
) -> FloatArray:
    """One activity coefficient a molecule, to hold for a film's whole life. [-]

    Parameters
    ----------
    moles : ndarray, shape (n,)
        At time 0. [mol/m2]
    at_unit_activity : ndarray, shape (n,)
        Loss rates without any activity coefficient, above 0. [mol/m2/s]
    activity_at : callable
        From amounts (..., n) to activity coefficients (..., n).

    Returns
    -------
    ndarray, shape (n,)

    Notes
    -----
    The mean over the film's clock while that molecule falls to a quarter, which lies between
    its half and its tenth. Looking at the two ends of the film's life alone is up to 30 %
    off on the times to a half and to a tenth where alcohols sit in squalane.
    """
    held = activity_at(moles)
    places, weights = np.polynomial.legendre.leggauss(3)
    for _ in range(3):
        rates = held * at_unit_activity
        clocks = math.log(HELD_UNTIL) / rates[:, None] * (1 + places) / 2
        along = moles * np.exp(-rates * clocks[..., None])
        held = np.einsum("ipi,p->i", activity_at(along), weights / 2)
    return np.asarray(held)
