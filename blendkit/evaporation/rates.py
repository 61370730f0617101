"""Rate constants of a film: activity in oil, air, warmth and skin; and how it is held.

Inputs are not checked here; NaN gives NaN. Most constants are recalled from handbooks and
guidance (grade: memory); each function says which.
"""

import math
from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

from blendkit.evaporation.conditions import INDOOR_AIR_SPEED_M_PER_S, Conditions
from blendkit.evaporation.molecules import Molecule
from blendkit.foundation.units import G_PER_KG, GAS_CONSTANT_J_PER_MOL_K, FloatArray

Numbers = npt.ArrayLike

HELD_UNTIL = 4.0  # a quarter left
_REFERENCE_TEMPERATURE_K = 298.15  # of the vapour pressures on record


def flory_huggins(
    moles: Numbers,
    carrier_moles: float,
    molar_volumes: Numbers,
    carrier_molar_volume: float,
    interactions: Numbers,
) -> FloatArray:
    """Activity coefficients in a film, on mole fractions.

    Parameters
    ----------
    moles : array_like, shape (..., n)
        [mol/m2]
    carrier_moles : float
        [mol/m2]
    molar_volumes : array_like, shape (n,)
        [m3/mol]
    carrier_molar_volume : float
        [m3/mol]
    interactions : array_like, shape (n,)
        Flory's chi of each constituent with the carrier. [-]

    Returns
    -------
    ndarray, shape (..., n)
        [-]

    Notes
    -----
    ``ln gamma_i = ln(V_i / V) + 1 - V_i / V + chi_i phi_c**2``, V the mean molar volume and
    phi_c the carrier's share of the volume. Without the first terms, for size, a light carrier
    seems to hold scents much longer than a heavy one. Alcohols clinging to each other are
    beyond it.

    References
    ----------
    P. J. Flory, Principles of Polymer Chemistry, 1953, chapter 12 (grade: memory).
    """
    moles, volumes = np.asarray(moles, dtype=np.float64), np.asarray(molar_volumes)
    volume = (moles @ volumes + carrier_moles * carrier_molar_volume)[..., None]
    relative = volumes * (moles.sum(axis=-1)[..., None] + carrier_moles) / volume
    carrier_share = carrier_moles * carrier_molar_volume / volume
    return np.asarray(
        relative * np.exp(1 - relative + np.asarray(interactions) * carrier_share**2)
    )


def interaction_from_dilute(
    dilute_activity_coefficients: Numbers, molar_volumes: Numbers, carrier_molar_volume: float
) -> FloatArray:
    """Flory's chi [-] that gives a known activity coefficient at infinite dilution."""
    relative = np.asarray(molar_volumes) / carrier_molar_volume
    return np.asarray(np.log(dilute_activity_coefficients) - np.log(relative) - 1 + relative)


def gas_side_coefficient(
    molar_masses_g_per_mol: Numbers, air_speed_m_per_s: float = INDOOR_AIR_SPEED_M_PER_S
) -> FloatArray:
    """Speed [m/s] at which air carries vapour off skin.

    ``1.0e-3 (150 / M)**(1/3)`` indoors, times ``(u / 0.2 m/s)**0.5``.

    Notes
    -----
    Good to a factor of 2.2 for skin in a room: diffusion cells support the default, a laminar
    patch the size of a wrist would give 2.6 to 6.4 times as much. Nearly the same for all
    constituents, so an error moves the whole clock and not the order of the notes.

    References
    ----------
    Exponent of the air speed: 0.52 was measured on thin films on skin, J. Pharm. Sci. 107
    (2018) 2251, and 0.5 is that of a laminar patch (grade: part-read); pools follow 0.78.
    Exponent of M: US EPA, Risk Management Program offsite guidance, 1999; its constant gives
    0.94e-3 m/s at 150 g/mol and 0.2 m/s (grade: memory). The default is a judgement between
    that, a pool correlation and the heat that a body loses in still air.
    """
    masses = np.asarray(molar_masses_g_per_mol, dtype=np.float64)
    return np.asarray(
        1.0e-3 * np.cbrt(150 / masses) * (air_speed_m_per_s / INDOOR_AIR_SPEED_M_PER_S) ** 0.5
    )


def evaporation_rate(
    coefficients_m_per_s: Numbers, vapour_pressures_pa: Numbers, temperature_k: float
) -> FloatArray:
    """Loss of each pure liquid to the air: ``k P / (R T)``. [mol/m2/s]"""
    vapour = np.asarray(vapour_pressures_pa) / (GAS_CONSTANT_J_PER_MOL_K * temperature_k)
    return np.asarray(np.asarray(coefficients_m_per_s) * vapour)


def skin_uptake_rate(log_octanol_water: Numbers, molar_masses_g_per_mol: Numbers) -> FloatArray:
    """Loss of each pure liquid into the skin. [mol/m2/s]

    Parameters
    ----------
    log_octanol_water : array_like
        log10 Kow. [-]
    molar_masses_g_per_mol : array_like

    Notes
    -----
    Permeability from water times solubility in water. Good to a factor of 5; it counts for
    water-loving notes of low volatility (eugenol, vanillin) and hardly for terpenes. The skin
    is taken to swallow without filling up.

    References
    ----------
    ``log10 kp [cm/h] = -2.7 + 0.71 log Kow - 0.0061 M``: R. O. Potts and R. H. Guy, Pharm. Res.
    9 (1992) 663. ``kp / (1 + kp sqrt(M) / 2.6)`` for large Kow: US EPA, RAGS Part E, 2004.
    ``log10 S [mol/L] = 0.5 - log Kow`` for liquids: N. Jain and S. H. Yalkowsky, J. Pharm. Sci.
    90 (2001) 234. (Grade of all three: memory.)
    """
    log_kow = np.asarray(log_octanol_water, dtype=np.float64)
    masses = np.asarray(molar_masses_g_per_mol, dtype=np.float64)
    cm_per_h = 10 ** (-2.7 + 0.71 * log_kow - 0.0061 * masses)
    cm_per_h /= 1 + cm_per_h * np.sqrt(masses) / 2.6
    in_water_mol_per_m3 = 1000 * 10 ** (0.5 - log_kow)
    return np.asarray(cm_per_h / 100 / 3600 * in_water_mol_per_m3)


def warmer(molecules: Sequence[Molecule], at_k: float, to_k: float | FloatArray) -> FloatArray:
    """Factor of another temperature on each vapour pressure. [-]

    By Clausius-Clapeyron, with a constant enthalpy of vaporisation.
    """
    enthalpies = np.array([each.enthalpy_j_per_mol for each in molecules])
    return np.asarray(np.exp(enthalpies / GAS_CONSTANT_J_PER_MOL_K * (1 / at_k - 1 / to_k)))


def losses_alone(
    molecules: Sequence[Molecule], conditions: Conditions
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Vapour pressure of each pure liquid [Pa], and its loss if it were the whole film.

    That is, its loss to the air, and into the skin; 0 on a blotter. [mol/m2/s]
    """
    molar_masses_g = np.array([each.molar_mass_kg_per_mol for each in molecules]) * G_PER_KG
    pressures = np.array([each.vapour_pressure_pa for each in molecules])
    pressures *= warmer(molecules, _REFERENCE_TEMPERATURE_K, conditions.temperature_k)
    speeds = gas_side_coefficient(molar_masses_g, conditions.air_speed_m_per_s)
    evaporation = evaporation_rate(speeds, pressures, conditions.temperature_k)
    uptake = np.zeros(len(molecules))
    if conditions.surface == "skin":
        log_kow = [each.log_kow for each in molecules]
        uptake = skin_uptake_rate(log_kow, molar_masses_g)
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
        leaving = held * at_unit_activity
        clocks = math.log(HELD_UNTIL) / leaving[:, None] * (1 + places) / 2
        along = moles * np.exp(-leaving * clocks[..., None])
        held = np.einsum("ipi,p->i", activity_at(along), weights / 2)
    return np.asarray(held)
