"""The smell of a blend, constituent by constituent, linear in its whole drops.

Each drop of each oil brings amounts of molecules; a molecule leaves the film as in the blend at
hand, whatever the change; and its strength follows its own curve. That holds while the film
stays much as it is, so what is found this way is looked at once more on its own film.
"""

from collections.abc import Collection
from typing import Any, NamedTuple

import numpy as np

from blendkit.choosing.loudness import NOSE, Counts
from blendkit.evaporation.film import film_amounts
from blendkit.evaporation.smell import PERCEIVED
from blendkit.foundation.units import SECONDS_PER_HOUR, FloatArray
from blendkit.skin.counted_bottle import CountedBottle

HOURS = (0.0, 0.25, 0.5, 1.0, 2.0, 4.0, 6.0, 8.0)  # of wear that count alike (judgement)
_TRACE = 1e-9  # of a drop, for an oil that may come in


class Scents(NamedTuple):
    """Oils of a blend, and others that may come in, as molecules. Shapes: o oils, n, m hours.

    Attributes
    ----------
    drops : ndarray of int, shape (o,)
        As the blend has them, in the order of its `CountedBottle`.
    molecules : tuple of str, length n
        Names for people.
    per_drop : ndarray, shape (o, n)
        Amount that one drop brings to the film. [mol/m2]
    dose : ndarray, shape (n, m)
        At the nose over a unit of amount at the start: concentration over half its curve's.
        [m2/mol]
    greatest, power : ndarray, shape (n,)
        As of `evaporation.smell.Curve`.
    """

    drops: Counts
    molecules: tuple[str, ...]
    per_drop: FloatArray
    dose: FloatArray
    greatest: FloatArray
    power: FloatArray

    @property
    def amounts(self) -> FloatArray:
        """Of the molecules in the blend, shape (n,). [mol/m2]"""
        return np.asarray(self.drops @ self.per_drop)

    def strengths(self, amounts: FloatArray, places: Any = slice(None)) -> FloatArray:
        """Strength of some molecules at each hour, (n, m), from their amounts. [mol/m2]"""
        with np.errstate(divide="ignore", over="ignore"):
            falling = (amounts[:, None] * self.dose[places]) ** -self.power[places, None]
        return np.asarray(self.greatest[places, None] / (1 + falling))

    def of_oils(self, drops: FloatArray) -> FloatArray:
        """Strength of each oil alone at each hour, shape (o, m); as many drops as given."""
        rows, places = np.nonzero(self.per_drop)
        found = np.zeros((len(self.drops), self.dose.shape[1]))
        each = self.strengths(self.per_drop[rows, places] * drops[rows], places)
        np.maximum.at(found, rows, each)
        return found

    def weights(self, drops: float = 0.0) -> FloatArray:
        """Share of the smell that a unit of each molecule makes, shape (n,). [m2/mol]

        Strengths are summed over the hours; the blend's come to 1. A curve bends, so the weight
        is its chord at the largest amount in question: the blend's, or that of `drops` of any
        oil.
        """
        weights = self._heard(drops).sum(axis=1)
        return np.asarray(weights / max(weights @ self.amounts, 1e-300))

    def hourly_weights(self, drops: float = 0.0) -> FloatArray:
        """As `weights`, for each hour alone, shape (n, m); 0 where nothing is perceived."""
        heard = self._heard(drops)
        return np.asarray(heard / np.maximum(self.amounts @ heard, 1e-300))

    def _heard(self, drops: float) -> FloatArray:
        """Perceived strength of each molecule at each hour, by a unit of it, (n, m)."""
        largest = np.maximum(self.amounts, (drops * self.per_drop).max(axis=0))[:, None]
        strengths = self.strengths(largest[:, 0])
        heard = np.where(strengths >= PERCEIVED, strengths, 0.0)
        shares = np.divide(heard, largest, out=np.zeros_like(heard), where=largest > 0)
        return np.asarray(shares)


def scents_of(bottle: CountedBottle, hours: Collection[float] = HOURS) -> Scents:
    """A blend as molecules; its oils without a drop are those that may come in."""
    counts = np.maximum(bottle.drops, _TRACE)
    film = NOSE.film_of(bottle, counts)
    seconds = np.array(list(hours)) * SECONDS_PER_HOUR
    left = film_amounts(film.moles, film.carrier_moles, film.loss_rates, seconds)
    whole = np.maximum(left.sum(axis=1) + film.carrier_moles, 1e-300)
    per_drop = np.zeros((len(counts), len(film.moles)))
    for row, name in zip(film.share_of_oil * film.moles, film.oils, strict=True):
        place = bottle.ids.index(name)
        per_drop[place] = row / counts[place]
    names = tuple(each.name for each in film.molecules)
    dose = (left / film.moles / whole[:, None] * film.dose).T
    curves = film.curves
    return Scents(bottle.drops, names, per_drop, dose, curves.greatest, curves.power)
