"""Composition of evaporating oils, by the share of their mass that remains.

A laboratory lets an oil evaporate to a half, a tenth, and so on, and analyses the rest. On the
film's own clock that needs neither air speed nor load, so nothing uncertain but vapour
pressures and activities goes in.
"""

import math
from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.wear import film_of_masses
from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.units import FloatArray
from blendkit.materials.amounts import add_up, check_percents, material
from blendkit.materials.catalogue import Oil, oil, unfold


def evaporate_to(
    composition_percent_by_mass: Mapping[str, float],
    carrier: str | None = None,
    remaining: Sequence[float] = (1.0, 0.5, 0.2, 0.1),
    temperature: str = "25 degC",
) -> pd.DataFrame:
    """Composition of a mixture of oils once most of it has evaporated.

    Parameters
    ----------
    composition_percent_by_mass : mapping of str to float
        Oil ids with percents of the product. [%]
    carrier : str, optional
        A carrier's id; it makes up what is missing to 100 %. None: the oils by themselves.
    remaining : sequence of float
        Shares of the starting mass of the volatile part, above 0 and at most 1. [-]
    temperature : str, optional
        From 15 to 40 degC.

    Returns
    -------
    DataFrame
        Percent by mass of what is left of the volatile part: one row a constituent (index its
        id, largest at the start first), one column for each of `remaining`.

    Raises
    ------
    BadNumber
        Lists every percent that cannot be used; or a temperature or share out of its range.
    UnknownMaterial
        No such oil or carrier.

    Notes
    -----
    Air speed and load move only the clock and not the order, so neither is asked for. The mass
    of an oil that nothing describes leaves as its mean constituent, under an id of its own.
    """
    conditions = Conditions.read(temperature, surface="blotter")
    percents = composition_percent_by_mass
    for name in percents:
        oil(name)
    check_percents(percents)
    rest = {} if carrier is None else {carrier: max(100.0 - sum(percents.values()), 0.0)}
    oils, carriers = dict[str, float](), dict[str, float]()
    for name, mass in add_up([*unfold(percents).items(), *unfold(rest).items()]).items():
        (oils if isinstance(material(name), Oil) else carriers)[name] = mass
    shares = np.asarray(remaining, dtype=np.float64).reshape(-1)
    if not shares.size or not np.all((shares > 0) & (shares <= 1)):
        needed = "shares above 0 and at most 1, such as [0.5, 0.1]"
        raise BadNumber([Problem("remaining", quoted(list(shares)), needed)])
    film = film_of_masses(oils, carriers, {}, conditions)
    start = film.moles * film.molar_masses
    start = start / start.sum()
    left = np.array([_left_at(start, film.loss_rates, share) for share in shares])
    shown = (left / left.sum(axis=1, keepdims=True) * 100).T
    index = pd.Index([each.id for each in film.molecules], name="constituent")
    columns = pd.Index(shares, name="remaining_fraction")
    frame = pd.DataFrame(shown, index, columns)
    return frame.iloc[np.argsort(-start, kind="stable")]


def _left_at(start: FloatArray, rates: FloatArray, share: float) -> FloatArray:
    """Masses left when a share of their sum is left: found on the film's own clock."""
    from scipy.optimize import brentq

    fastest = rates.max()

    def over(log_clock: float) -> float:
        return float(start @ np.exp(-rates / fastest * math.exp(log_clock))) - share

    begun = -30.0  # when 1e-13 has left; all has after 800 of the slowest molecule's own times
    if over(begun) <= 0:
        return start
    until = math.log(800 * fastest / rates[rates > 0].min())
    clock = math.exp(brentq(over, begun, until, xtol=1e-13))
    return np.asarray(start * np.exp(-rates / fastest * clock))
