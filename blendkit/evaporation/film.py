"""Closed-form solution of a thin film of perfume oil on skin, on plain SI arrays.

A constituent leaves, into the air and into the skin together, at a rate set by its share of
all the moles in the film: ``d n_i / dt = -K_i n_i / N``, carrier counted in N. As light notes
go, the shares of heavy ones rise, so independent exponentials will not do. With constant K
the answer is exact on the film's own clock, ``d tau = dt / N``: each n_i falls as
``exp(-K_i tau)``, and ``t(tau) = n_c tau + sum_j n_j (1 - exp(-K_j tau)) / K_j`` only has to
be turned round.

The film is well mixed and held back by the air alone: fair below about 0.1 mm, not for drops.
"""

import math
from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from blendkit.evaporation.film_clock import Films, clock_at, corrected, course_of
from blendkit.foundation.errors import BadNumber, Problem, quoted, refuse_any
from blendkit.foundation.units import FloatArray

Numbers = npt.ArrayLike


def film_amounts(
    moles: Numbers, carrier_moles: float, loss_rates: Numbers, times: Numbers
) -> FloatArray:
    """Amounts left in the film, for constant loss rates.

    Parameters
    ----------
    moles : array_like, shape (n,)
        Amounts at time 0. [mol/m2]
    carrier_moles : float
        Carrier, which stays. [mol/m2]
    loss_rates : array_like, shape (n,)
        K: what each constituent would lose if it were the whole film. [mol/m2/s]
    times : array_like, shape (m,)
        In any order, with repeats. [s]

    Returns
    -------
    ndarray, shape (m, n)
        Within 1e-10 of the starting amounts; 0 once a film without carrier is dry. [mol/m2]

    Raises
    ------
    BadNumber
        Lists every misfit of shapes and every argument with a number below 0 or not finite.

    Notes
    -----
    The same solution covers a factor s(t) common to all loss rates (pass the integral of s as
    `times`), a film rubbed off as a whole at w [1/s] (pass ``expm1(w t) / w``, multiply by
    ``exp(-w t)``), and a carrier that leaves (list it among the constituents).

    Examples
    --------
    >>> film_amounts([2.0], 0.0, [0.5], [0.0, 1.0, 4.0, 9.0])[:, 0]
    array([2. , 1.5, 0. , 0. ])
    """
    film, moments, place = _checked(moles, carrier_moles, loss_rates, times)
    left = film.loss_rates[:, None] * -clock_at(film, moments)
    np.exp(left, out=left)
    left *= film.moles[:, None]
    return np.asarray(left.T[place])


def film_amounts_stepped(
    moles: Numbers,
    carrier_moles: float,
    loss_rates_at: Callable[[FloatArray], FloatArray],
    times: Numbers,
    step: float = 0.05,
) -> FloatArray:
    """Amounts left in the film, for loss rates that follow its composition.

    Parameters
    ----------
    moles, carrier_moles, times
        As for `film_amounts`.
    loss_rates_at : callable
        From amounts (n,) [mol/m2] to K (n,) [mol/m2/s].
    step : float, optional
        Growth of the film's clock at each step, above 0. [-]

    Returns
    -------
    ndarray, shape (m, n)
        [mol/m2]

    Notes
    -----
    K is held at its value in the middle of each step (explicit midpoint), the closed form does
    the rest. The error falls as the square of `step`: at 0.05, with Flory-Huggins activities
    and notes in a carrier, below 2e-5 of the starting amount.
    """
    amounts = np.asarray(moles, dtype=np.float64)
    _, moments, place = _checked(amounts, carrier_moles, loss_rates_at(amounts), times)
    if not 0 < step < math.inf:
        raise BadNumber([Problem("step", quoted(step), "a number above 0, such as 0.05")])
    fastest = float(np.max(loss_rates_at(amounts), initial=0.0)) or 1.0
    least = 1e-12 * (carrier_moles + amounts.sum())
    clock, elapsed = 0.0, 0.0
    steps: list[tuple[float, FloatArray, FloatArray]] = []
    while not steps or (elapsed < moments[-1:].sum() and carrier_moles + amounts.sum() > least):
        tick = step * (clock + 1 / fastest)
        rates = loss_rates_at(amounts * np.exp(loss_rates_at(amounts) * (-tick / 2)))
        steps.append((elapsed, amounts, rates))
        lost = amounts * -np.expm1(-rates * tick)
        spent = np.divide(lost, rates, out=amounts * tick, where=rates > 0)
        elapsed += carrier_moles * tick + float(spent.sum())
        amounts, clock = amounts - lost, clock + tick
    begun, before, held = (np.array(each) for each in zip(*steps, strict=True))
    step_of = np.searchsorted(begun, moments, side="right") - 1
    # each moment as a film of its own, worn since its step began
    since = (moments - begun[step_of])[:, None]
    films = Films(before[step_of], np.full(moments.size, carrier_moles), held[step_of])
    course = course_of(films, since[:, 0], since[:, 0])
    clocks = corrected(films, course, since, since / course.whole[:, None])
    return np.asarray((films.moles * np.exp(-clocks * films.loss_rates))[place])


_SHAPES = {"loss_rates": "n", "moles": "n", "carrier_moles": "", "times": "m"}
_NUMBERS = "numbers, each 0 or more and finite"


def _checked(
    moles: Numbers, carrier_moles: Numbers, loss_rates: Numbers, times: Numbers
) -> tuple[Films, FloatArray, slice | npt.NDArray[np.intp]]:
    """The film, the times sorted without repeats, and the place of each time among them."""
    given = (loss_rates, moles, carrier_moles, times)
    problems: list[Problem] = []
    arrays: list[FloatArray] = []
    size: int | None = None  # of the first that has a row of n
    for (name, shape), numbers in zip(_SHAPES.items(), given, strict=True):
        try:
            array = np.asarray(numbers, dtype=np.float64)
        except (TypeError, ValueError):
            problems.append(Problem(name, quoted(numbers), _NUMBERS))
            continue
        arrays.append(array)
        known = f" with n = {size}, as the others have" if size is not None else ""
        if array.ndim != len(shape) or (shape == "n" and size not in (None, array.size)):
            problems.append(Problem(name, f"shape {array.shape}", f"shape ({shape}){known}"))
        elif shape == "n":
            size = array.size
        if not (array.min(initial=0.0) >= 0 and array.max(initial=0.0) < np.inf):  # nor NaN
            wrong = array[~((array >= 0) & (array < np.inf))]
            problems.append(Problem(name, quoted(float(wrong[0])), _NUMBERS))
    refuse_any(problems)
    rates, amounts, carrier, when = arrays
    film = Films(amounts, carrier[()], rates)  # a lone carrier as a number: faster
    if (when[1:] > when[:-1]).all():
        return film, when, slice(None)
    return film, *np.unique(when, return_inverse=True)
