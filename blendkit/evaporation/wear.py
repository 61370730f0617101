"""A bottle as a film on skin: what lies on a patch, and how fast each molecule leaves it.

`film_of` turns a filled bottle and the conditions of wear into the plain arrays that
`evaporation.film` and `evaporation.fade` work on. Amounts are per area, so the size of the
patch does not matter, but how thickly it is put on does.

Mass that cannot evaporate (waxes, resins) counts with the carrier. Mass that no analysis
describes is never taken for nothing: it wears like the mean constituent of its own oil, and
the film says how much of each oil that is.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from blendkit.blend.filling import Filling
from blendkit.evaporation import molecules as properties
from blendkit.evaporation import rates
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.molecules import KIND_OF_WHAT_STAYS, MakeUp, Molecule
from blendkit.evaporation.smell import Curves, curves_of
from blendkit.foundation.errors import BadNumber, Problem
from blendkit.foundation.units import GAS_CONSTANT_J_PER_MOL_K, FloatArray
from blendkit.materials import catalogue


@dataclass(frozen=True, eq=False)
class Film:
    """One blend as it lies on a patch, in plain arrays. Shapes: n molecules, o oils.

    Attributes
    ----------
    conditions : Conditions
    molecules : tuple of Molecule
        The n volatile ones.
    oils, oil_names, notes : tuple of str
        The o oils that have any volatile mass, in mixing order, with the note of each.
    moles : ndarray, shape (n,)
        At time 0. [mol/m2]
    share_of_oil : ndarray, shape (o, n)
        Share of each molecule's amount that came with each oil. It is the same at all times,
        since all molecules of a kind behave alike. Columns sum to 1. [-]
    carrier_moles : float
        Carrier, and what of the oils cannot evaporate. [mol/m2]
    vapour_pressures_pa, evaporation, uptake, activity, loss_rates : ndarray, shape (n,)
        At the skin's temperature: of the pure liquid [Pa]; its loss to the air and into the
        skin [mol/m2/s]; activity coefficient, held for the film's life [-]; and K, their
        product over the clock factor [mol/m2/s].
    molar_volumes, interactions : ndarray, shape (n,)
        [m3/mol] and Flory's chi with the carrier [-].
    carrier_molar_volume : float
        [m3/mol]
    activity_spread : ndarray, shape (n,)
        The activity coefficient may be this many times higher or lower. [-]
    curves : Curves
        Strength of each molecule's smell by its concentration in air.
    undescribed : dict of str to float
        By oil: share of its mass that wears like the oil's mean constituent, because nothing
        on record describes it. [-]
    """

    conditions: Conditions
    molecules: tuple[Molecule, ...]
    oils: tuple[str, ...]
    oil_names: tuple[str, ...]
    notes: tuple[str, ...]
    moles: FloatArray
    share_of_oil: FloatArray
    carrier_moles: float
    vapour_pressures_pa: FloatArray
    evaporation: FloatArray
    uptake: FloatArray
    activity: FloatArray
    loss_rates: FloatArray
    molar_volumes: FloatArray
    interactions: FloatArray
    carrier_molar_volume: float
    activity_spread: FloatArray
    curves: Curves
    undescribed: Mapping[str, float]

    @property
    def dose(self) -> FloatArray:
        """At the nose, over each molecule alone: concentration over half its curve's. [-]"""
        moles_per_m3 = self.vapour_pressures_pa / (
            GAS_CONSTANT_J_PER_MOL_K * self.conditions.temperature_k
        )
        over_film = self.activity * moles_per_m3 * self.molar_masses
        return np.asarray(over_film * self.conditions.dilution / self.curves.half_kg_per_m3)

    @property
    def log_spread(self) -> FloatArray:
        """Error of vapour pressure and activity together, shape (n,): of its logarithm. [-]"""
        pressures = np.log([each.uncertainty_factor for each in self.molecules])
        return np.asarray(np.hypot(pressures, np.log(self.activity_spread)))

    @property
    def has_smell(self) -> npt.NDArray[np.bool_]:
        """Mask of the molecules that smell, shape (n,)."""
        return np.asarray(self.curves.greatest > 0)

    def covered(self) -> FloatArray:
        """Share of the scented mass of each oil that has a published curve, shape (o,). [-]"""
        masses = self.scented_masses
        whole = np.maximum(masses.sum(axis=1), 1e-300)
        return np.asarray(masses @ self.curves.is_published / whole)

    @property
    def scented_masses(self) -> FloatArray:
        """Mass of each molecule that smells by oil, at time 0, shape (o, n). [kg/m2]"""
        return self.share_of_oil * (self.moles * self.molar_masses * self.has_smell)

    @property
    def molar_masses(self) -> FloatArray:
        """Of the molecules, shape (n,). [kg/mol]"""
        return np.array([each.molar_mass_kg_per_mol for each in self.molecules])

    def activity_at(self, moles: FloatArray) -> FloatArray:
        """Activity coefficients for amounts of shape (..., n). [-]"""
        return rates.flory_huggins(
            moles,
            self.carrier_moles,
            self.molar_volumes,
            self.carrier_molar_volume,
            self.interactions,
        )

    def loss_rates_at(self, moles: FloatArray) -> FloatArray:
        """Loss rates that follow the composition, for `film.film_amounts_stepped`."""
        at_unit_activity = (self.evaporation + self.uptake) / self.conditions.clock_factor
        return self.activity_at(moles) * at_unit_activity

    def evaporated_share(self) -> FloatArray:
        """Share of each molecule that ever reaches the air; the skin takes the rest. [-]"""
        whole = self.evaporation + self.uptake
        return np.divide(self.evaporation, whole, out=np.zeros_like(whole), where=whole > 0)


def rows_of(film: Film, group: str) -> list[int]:
    """Rows of the oils of a note, or of one oil."""
    groups = zip(film.oils, film.notes, strict=True)
    return [row for row, names in enumerate(groups) if group in names]


def film_of(filling: Filling, conditions: Conditions) -> Film:
    """The film that one filled bottle leaves.

    Parameters
    ----------
    filling : Filling
        Such as the bottle of a blend.
    conditions : Conditions

    Returns
    -------
    Film
        On a blotter, of the oils alone.

    Raises
    ------
    BadNumber
        No drop of any oil.
    """
    oils, carriers, notes = _contents([(filling, 1.0)])
    on_skin = conditions.surface == "skin"
    return film_of_masses(oils, carriers if on_skin else {}, notes, conditions)


def layered(layers: Sequence[tuple[Filling, float]], conditions: Conditions) -> Film:
    """The film of several roll-ons on one patch, each with its load [kg/m2], well mixed.

    An oil in two of them counts to the note of the first.
    """
    whole = sum(load for _, load in layers)
    return film_of_masses(*_contents(layers), replace(conditions, film_kg_per_m2=whole))


def _contents(
    layers: Sequence[tuple[Filling, float]],
) -> tuple[dict[str, float], dict[str, float], dict[str, str]]:
    """Oils and carriers of some fillings by their loads, and the notes of the oils."""
    oils, carriers = defaultdict[str, float](float), defaultdict[str, float](float)
    notes: dict[str, str] = {}
    for filling, load in layers:
        for material, note, mass_kg in filling.held:
            kind = carriers if note == "carrier" else oils
            kind[material.id] += mass_kg / filling.mass_kg * load
            notes.setdefault(material.id, note)
    return oils, carriers, notes


def film_of_masses(
    oils: Mapping[str, float],
    carriers: Mapping[str, float],
    notes: Mapping[str, str],
    conditions: Conditions,
) -> Film:
    """As `film_of`, from masses of oils and carriers by id, in any unit.

    An oil that `notes` does not name has its usual note.

    Raises
    ------
    BadNumber
        No mass of any oil.
    """
    total = sum(oils.values())
    if not total > 0:
        raise BadNumber([Problem("oils", "no mass of any", "at least one drop of oil")])
    load = conditions.film_kg_per_m2 / (total + sum(carriers.values()))
    put_on = {name: mass * load for name, mass in oils.items() if mass > 0}
    made = {name: properties.make_up(catalogue.oil(name)) for name in put_on}
    known = [catalogue.oil(name) for name, parts in made.items() if parts.volatile]
    molecules, by_oil = _volatile([(put_on[oil.id], made[oil.id]) for oil in known])
    staying = [
        (put_on[name] * mass_fraction / molar_mass, volume, KIND_OF_WHAT_STAYS)
        for name in put_on
        for molar_mass, volume, mass_fraction in made[name].staying
    ]
    for name, mass in carriers.items():
        carrier = catalogue.carrier(name)
        volume = carrier.molar_mass_kg_per_mol / carrier.density_kg_per_m3
        kind = properties.kind_of_carrier().get(carrier.like or name, KIND_OF_WHAT_STAYS)
        staying.append((mass * load / carrier.molar_mass_kg_per_mol, volume, kind))
    return _film(
        conditions,
        molecules,
        by_oil,
        staying,
        oils=tuple(oil.id for oil in known),
        oil_names=tuple(oil.name for oil in known),
        notes=tuple(notes.get(oil.id, oil.note) for oil in known),
        undescribed={name: made[name].undescribed for name in made if made[name].undescribed},
    )


def _film(
    conditions: Conditions,
    molecules: tuple[Molecule, ...],
    by_oil: FloatArray,
    staying: Sequence[tuple[float, float, str]],
    **of_oils: Any,
) -> Film:
    """The film of some amounts by oil (o, n) [mol/m2], with what a `Film` says of its oils."""
    moles = by_oil.sum(axis=0)
    molar_volumes = np.array([each.molar_volume_m3_per_mol for each in molecules])
    carrier_moles, carrier_molar_volume, interactions, activity_spread = _surroundings(
        molecules, molar_volumes, staying
    )
    pressures, evaporation, uptake = rates.losses_alone(molecules, conditions)
    at_unit_activity = evaporation + uptake
    activity = rates.held_activity(
        moles,
        at_unit_activity,
        lambda left: rates.flory_huggins(
            left, carrier_moles, molar_volumes, carrier_molar_volume, interactions
        ),
    )
    return Film(
        conditions=conditions,
        molecules=molecules,
        moles=moles,
        share_of_oil=by_oil / moles,
        carrier_moles=carrier_moles,
        vapour_pressures_pa=pressures,
        evaporation=evaporation,
        uptake=uptake,
        activity=activity,
        loss_rates=activity * at_unit_activity / conditions.clock_factor,
        molar_volumes=molar_volumes,
        interactions=interactions,
        carrier_molar_volume=carrier_molar_volume,
        activity_spread=activity_spread,
        curves=curves_of(molecules),
        **of_oils,
    )


def _volatile(
    parts: Sequence[tuple[float, MakeUp]],
) -> tuple[tuple[Molecule, ...], FloatArray]:
    """The molecules of some masses of oils [kg/m2], and their amounts by oil [mol/m2]."""
    place: dict[Molecule, int] = {}
    for _, made in parts:
        for molecule, _ in made.volatile:
            place.setdefault(molecule, len(place))
    by_oil = np.zeros((len(parts), len(place)))
    for row, (mass, made) in enumerate(parts):
        for molecule, mass_fraction in made.volatile:
            amount = mass * mass_fraction / molecule.molar_mass_kg_per_mol
            by_oil[row, place[molecule]] += amount
    return tuple(place), by_oil


def _surroundings(
    molecules: Sequence[Molecule],
    molar_volumes: FloatArray,
    staying: Sequence[tuple[float, float, str]],
) -> tuple[float, float, FloatArray, FloatArray]:
    """Solvent of the volatile molecules: carrier, and the non-volatile part of the oils.

    Amount [mol/m2] and mean molar volume [m3/mol]; Flory's chi with each molecule, and how many
    times higher or lower its activity coefficient may be, shape (n,). [-]
    """
    moles = sum(amount for amount, _, _ in staying)
    volume_of: dict[str, float] = defaultdict(float)
    for amount, molar_volume, kind in staying:
        volume_of[kind] += amount * molar_volume
    whole = sum(volume_of.values())
    # without any carrier the interaction never counts, but arrays want a number
    by_kind = {KIND_OF_WHAT_STAYS: 1.0}
    if whole > 0:
        by_kind = {kind: volume / whole for kind, volume in volume_of.items()}
    classes = tuple(each.chemical_class for each in molecules)
    chi, log_spread = np.zeros((2, len(molecules)))
    for kind, share in by_kind.items():
        dilute, spread = properties.dilute_activity(kind, classes)
        volume = properties.molar_volume_of(kind)
        chi += share * rates.interaction_from_dilute(dilute, molar_volumes, volume)
        log_spread += share * spread
    return moles, whole / moles if moles else 1e-3, chi, np.exp(log_spread)
