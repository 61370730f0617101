"""Oils and carriers as molecules: what the fade needs to know of each, gaps filled openly.

Three gaps are filled here, each by figures on record and none by nothing. A constituent
without a density or a partition coefficient takes the median of its chemical class. Mass that
no analysis describes becomes the mean constituent of its own oil. An oil of which nothing
volatile is on record becomes the mean over the oils of its usual note.
"""

import math
from collections.abc import Mapping, Sequence
from functools import cache, lru_cache
from typing import NamedTuple

import numpy as np

from blendkit.foundation import data
from blendkit.foundation.units import KG_PER_M3_PER_G_PER_ML, FloatArray
from blendkit.materials import catalogue
from blendkit.materials.constituents import constituent

_UNDESCRIBED_FACTOR = 4.0  # about the spread of pressures within one oil (judgement)
# How far UNIFAC strays from measured partition of oxygenated scents, up or down (judgement
# from gas-hexadecane and gas-olive oil partition: 1.7 and 2.4 times for what is no hydrocarbon)
_METHOD_ERROR, _METHOD_ERROR_LIGHT = 1.6, 2.5
_LIGHT_KINDS = ("squalane", "branched light ester", "straight light ester")
# What stays of an oil is long-chained wax and resin, and behaves like a carrier (judgement)
KIND_OF_WHAT_STAYS = "oleic triglyceride"


class Molecule(NamedTuple):
    """Properties of one volatile constituent, or of an oil's mean one, for the film."""

    id: str
    name: str
    chemical_class: str
    molar_mass_kg_per_mol: float
    molar_volume_m3_per_mol: float
    vapour_pressure_pa: float  # at 25 degrees Celsius
    enthalpy_j_per_mol: float
    log_kow: float
    uncertainty_factor: float


class MakeUp(NamedTuple):
    """Contribution of one oil.

    Attributes
    ----------
    volatile : tuple of (Molecule, float)
        With mass fractions of the oil. [-]
    staying : tuple of (float, float, float)
        What cannot evaporate: molar mass, molar volume, mass fraction. [kg/mol, m3/mol, -]
    undescribed : float
        Mass fraction of the oil that no constituent on record describes. [-]
    """

    volatile: tuple[tuple[Molecule, float], ...]
    staying: tuple[tuple[float, float, float], ...]
    undescribed: float


@lru_cache(maxsize=1024)
def make_up(oil: catalogue.Oil) -> MakeUp:
    """Contribution of one oil to a film; of a mixture, that of its parts."""
    if isinstance(oil, catalogue.MixedMaterial):
        return _of_parts(oil)
    whole = max(1.0, sum(share.typical for share in oil.composition))
    volatile, staying = [], []
    for share in oil.composition:
        mass = share.typical / whole
        if mass > 0 and _evaporates(share.constituent):
            volatile.append((_molecule(share.constituent), mass))
        elif mass > 0:
            molar_mass = constituent(share.constituent).molar_mass_kg_per_mol
            volume = molar_mass / _figures("density")[share.constituent]
            staying.append((molar_mass, volume, mass))
    missing = oil.unidentified_fraction
    missing = missing if missing > 1e-9 else 0.0
    if missing:
        words = f"undescribed part of {oil.name}"
        mean = _mean(oil.id, words, volatile) if volatile else _mean_of_note(oil.note)
        volatile.append((mean, missing))
    return MakeUp(tuple(volatile), tuple(staying), missing)


def _of_parts(mixture: catalogue.MixedMaterial) -> MakeUp:
    volatile, staying, undescribed = [], [], 0.0
    for part, share in mixture.parts:
        if isinstance(part, catalogue.Oil):
            made = make_up(part)
            volatile += [(molecule, mass * share) for molecule, mass in made.volatile]
            staying += [(molar, volume, mass * share) for molar, volume, mass in made.staying]
            undescribed += made.undescribed * share
        else:
            molar = part.molar_mass_kg_per_mol
            staying.append((molar, molar / part.density_kg_per_m3, share))
    return MakeUp(tuple(volatile), tuple(staying), undescribed)


def _mean(name: str, words: str, parts: Sequence[tuple[Molecule, float]]) -> Molecule:
    """The mean of some molecules by mass: geometric for pressures, so that none drowns it."""
    shares = np.array([mass for _, mass in parts])
    shares /= shares.sum()
    columns = np.array([molecule[3:8] for molecule, _ in parts], dtype=np.float64)
    molar_mass, molar_volume, pressure, enthalpy, log_kow = columns.T
    largest = max(parts, key=lambda part: part[1])[0]
    return Molecule(
        id=f"undescribed:{name}",
        name=words,
        chemical_class=largest.chemical_class,
        molar_mass_kg_per_mol=float(1 / (shares @ (1 / molar_mass))),
        molar_volume_m3_per_mol=float(shares @ molar_volume),
        vapour_pressure_pa=float(math.exp(shares @ np.log(pressure))),
        enthalpy_j_per_mol=float(shares @ enthalpy),
        log_kow=float(shares @ log_kow),
        uncertainty_factor=_UNDESCRIBED_FACTOR,
    )


@cache
def _mean_of_note(note: str) -> Molecule:
    """For an oil of which nothing volatile is on record: the mean over its note's oils."""
    names = catalogue.shipped_oils().query("note == @note").index
    parts = [
        (_molecule(share.constituent), share.typical)
        for name in names
        for share in catalogue.oil(name).composition
        if share.typical > 0 and _evaporates(share.constituent)
    ]
    return _mean(note, f"an oil of unknown composition, taken as a mean {note} note", parts)


def _evaporates(constituent_id: str) -> bool:
    known = constituent(constituent_id)
    return known.is_volatile and known.vapour_pressure_pa > 0


@cache
def _molecule(constituent_id: str) -> Molecule:
    known = constituent(constituent_id)
    return Molecule(
        id=known.id,
        name=known.name,
        chemical_class=known.chemical_class,
        molar_mass_kg_per_mol=known.molar_mass_kg_per_mol,
        molar_volume_m3_per_mol=known.molar_mass_kg_per_mol / _figures("density")[known.id],
        vapour_pressure_pa=known.vapour_pressure_pa,
        enthalpy_j_per_mol=known.enthalpy_of_vaporisation_j_per_mol,
        log_kow=_figures("log_kow")[known.id],
        uncertainty_factor=known.uncertainty_factor,
    )


@cache
def _figures(quantity: str) -> Mapping[str, float]:
    """A figure for every constituent; where unknown, the median of its class or of all."""
    factor = KG_PER_M3_PER_G_PER_ML if quantity == "density" else 1.0
    used = data.table("constituent_figures").query("quantity == @quantity and used == 'yes'")
    own = used.set_index("constituent")["value"].groupby(level=0).first()
    known = data.table("constituents").set_index("id")
    values = own.reindex(known.index)
    medians = values.groupby(known["chemical_class"]).transform("median")
    filled = values.fillna(medians).fillna(values.median()) * factor
    return {str(name): float(value) for name, value in filled.items()}


@cache
def kind_of_carrier() -> Mapping[str, str]:
    """The kind of each carrier in the table of activity coefficients, by id."""
    table = data.table("carrier_kinds")
    return dict(zip(table["carrier"], table["carrier_kind"], strict=True))


@cache
def molar_volume_of(kind: str) -> float:
    """Mean over the carriers on record of one kind. [m3/mol]"""
    members = [catalogue.carrier(name) for name, of in kind_of_carrier().items() if of == kind]
    volumes = [each.molar_mass_kg_per_mol / each.density_kg_per_m3 for each in members]
    return sum(volumes) / len(volumes)


@lru_cache(maxsize=1024)
def dilute_activity(kind: str, classes: tuple[str, ...]) -> tuple[FloatArray, FloatArray]:
    """Activity coefficients at infinite dilution, and the logarithm of their spread.

    The spread is that inside a class and the error of the method together.
    """
    table = data.table("activity_coefficients").query("carrier_kind == @kind")
    rows = table.set_index("chemical_class")[["typical", "low", "high"]].loc[list(classes)]
    typical, low, high = rows.to_numpy(dtype=np.float64).T
    method = _METHOD_ERROR_LIGHT if kind in _LIGHT_KINDS else _METHOD_ERROR
    return typical, np.hypot(np.log(high / low) / 2, math.log(method))
