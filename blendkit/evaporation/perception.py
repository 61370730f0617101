"""Perception of many films: strength of each oil at the nodes of the films' clocks.

By smell, an oil is as strong as its strongest molecule on that molecule's own curve. By vapour,
each molecule counts alike, and strength goes with a power of the oil's vapour beside its own
start: coarser, and free of any curve. A note is as strong as its strongest oil, and the whole
as its strongest note. What has no smell counts in neither.
"""

import numpy as np
import numpy.typing as npt

from blendkit.evaporation.film_clock import Films
from blendkit.evaporation.film_nodes import NOTHING, Nodes, Singles, at_moments, nodes_of
from blendkit.evaporation.smell import PERCEIVED
from blendkit.evaporation.uncertainty import Draws
from blendkit.evaporation.wear import Film, rows_of
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import FloatArray

WHOLE = "whole"
SMELL, VAPOUR = "smell", "vapour"
WAYS = (SMELL, VAPOUR)
STRENGTH_EXPONENT = 0.35  # the middle of the published range, by compilations (memory)
GONE_OF_START = 0.2  # by vapour alone: hardly perceived any more (judgement)


def gone_at(way: str) -> float:
    """The one level below which a smell is gone, on the scale of one way."""
    return PERCEIVED if way == SMELL else GONE_OF_START


def perceived(
    film: Film,
    draws: Draws,
    earliest: float,
    latest: float,
    *,
    way: str = SMELL,
    exponent: float = STRENGTH_EXPONENT,
) -> tuple[Nodes, Singles]:
    """Strengths of the oils of a film in each draw, row 0 the plain film, at nodes.

    That is, the nodes, and the logarithms of the strengths there (oils, draws, nodes).
    """
    films = Films(film.moles, np.array(film.carrier_moles), draws.loss_rates)
    if way == SMELL:
        nodes = nodes_of(films, earliest, latest)
        return nodes, _by_curves(film, draws, nodes)
    members = film.share_of_oil * film.has_smell
    nodes = nodes_of(films, earliest, latest, draws.vapour, members)
    logs = np.log(np.maximum(nodes.sums, 1e-30, out=nodes.sums), out=nodes.sums)
    logs -= nodes.log_moles
    logs -= logs[:, :, :1].copy()
    logs *= (exponent * draws.exponent).astype(np.float32)[:, None]
    logs[:, ~nodes.is_there] = NOTHING
    return nodes, logs


def _by_curves(film: Film, draws: Draws, nodes: Nodes) -> Singles:
    """The strongest molecule of each oil, through the least of ``1 / I``."""
    curves = film.curves
    whole = film.carrier_moles + film.moles.sum()
    starts = np.log(draws.dose * (film.moles / whole)).T.astype(np.float32)
    rates = np.ascontiguousarray(draws.loss_rates.T, dtype=np.float32)
    least = np.full((len(film.oils), *nodes.clock.shape), np.inf, dtype=np.float32)
    fallen, part = np.empty_like(nodes.clock), np.empty_like(nodes.clock)
    powers = curves.power.astype(np.float32)
    with np.errstate(over="ignore", divide="ignore"):
        shares = film.share_of_oil**-curves.power / np.maximum(curves.greatest, 1e-30)
        for place in np.flatnonzero(film.has_smell):
            np.multiply(nodes.clock, rates[place, :, None], out=fallen)
            fallen += nodes.log_moles
            fallen -= starts[place, :, None]
            fallen *= powers[place]
            np.exp(fallen, out=fallen)
            for oil in np.flatnonzero(film.share_of_oil[:, place]):
                np.multiply(fallen, np.float32(shares[oil, place]), out=part)
                part += np.float32(1 / curves.greatest[place])
                np.minimum(least[oil], part, out=least[oil])
        np.log(least, out=least)
    np.negative(least, out=least)
    np.maximum(least, NOTHING, out=least)
    least[:, ~nodes.is_there] = NOTHING
    return least


def plain_strengths(
    film: Film,
    left: FloatArray,
    activity: FloatArray,
    *,
    way: str = SMELL,
    exponent: float = STRENGTH_EXPONENT,
) -> FloatArray:
    """Strengths of the oils over amounts (m, n), the first row at the start: (oils, m)."""
    moles = left.sum(axis=1) + film.carrier_moles
    least = 1e-6 * moles[0]
    over = (left / np.maximum(moles, least)[:, None]) * (moles > least)[:, None]
    over *= activity / film.activity
    if way == SMELL:
        return curve_strengths(film, over, film.dose)
    vapour = (
        film.share_of_oil @ (over * film.activity * film.vapour_pressures_pa * film.has_smell).T
    )
    start = np.maximum(vapour[:, :1], 1e-300)
    return np.asarray((vapour / start) ** exponent)


def curve_strengths(film: Film, fractions: FloatArray, dose: FloatArray) -> FloatArray:
    """Strengths of the oils by curves over mole fractions (m, n), for one dose: (oils, m)."""
    curves = film.curves
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        falling = (fractions * dose) ** -curves.power
        shares = film.share_of_oil**-curves.power
        each = [curves.greatest / (1 + falling * share) for share in shares]
    return np.asarray(np.nan_to_num(each).max(axis=2))


def grouped(film: Film, of_oils: FloatArray) -> FloatArray:
    """Notes from the top down, oils and the whole, from oils on axis 0: each its strongest."""
    notes = len(notes_of(film))
    found = np.empty((notes + len(of_oils) + 1, *of_oils.shape[1:]), of_oils.dtype)
    found[notes:-1] = of_oils
    fill_groups(film, found)
    return found


def fill_groups(film: Film, found: npt.NDArray[np.floating]) -> None:
    """Fill in notes, the first rows, and the whole, the last one, from the oils between."""
    notes = notes_of(film)
    of_oils = found[len(notes) : -1]
    for row, note in zip(found, notes, strict=False):
        mine = rows_of(film, note)
        row[...] = of_oils[mine[0]]
        for oil in mine[1:]:
            np.maximum(row, of_oils[oil], out=row)
    np.max(found[: len(notes)], axis=0, out=found[-1])


def draws_at(film: Film, nodes: Nodes, logs: Singles, seconds: FloatArray) -> Singles:
    """Logarithms of the strengths of all groups at some times, (groups, times, draws)."""
    notes, (oils, draws, _) = len(notes_of(film)), logs.shape
    found = np.empty((notes + oils + 1, seconds.size, draws), dtype=np.float32)
    at_moments(nodes, logs, seconds, found[notes:-1])
    fill_groups(film, found)
    return found


def notes_of(film: Film) -> list[str]:
    """The notes of a film from the top down."""
    return [note for note in NOTES if note in film.notes]


def groups_of(film: Film) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Names and kinds of the groups of `grouped`, in its order."""
    notes = notes_of(film)
    groups = (*notes, *film.oils, WHOLE)
    return groups, ("note",) * len(notes) + ("oil",) * len(film.oils) + (WHOLE,)
