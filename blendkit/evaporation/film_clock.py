"""The film's own clock, turned round: from moments to tau, to the last digits.

The guess lies on straight lines, in ln t and ln tau, between nodes where t(tau) is exact. It is
good to a few parts in ten thousand, and Halley's correction leaves about the cube of that.
"""

import math
from typing import NamedTuple

import numpy as np

from blendkit.foundation.units import FloatArray

_NODES_PER_OCTAVE = 8
_MOST_OCTAVES = 400
_OCTAVES = np.arange(_MOST_OCTAVES * _NODES_PER_OCTAVE + 2) / _NODES_PER_OCTAVE  # of the nodes
_MOST_CORRECTIONS = 60
_NEAR_ENOUGH = 5e-4  # of tau
_ROUNDING = 1e-14  # of t
_NO_RATE = 1e-100  # below this, a loss rate counts as none [mol/m2/s]
_ALL_GONE = 800.0  # exp(-800) is 0
_SCANT = 1e-3  # of the film
_TINY = 1e-300


class Films(NamedTuple):
    """Films of the same constituents, one for each index before the last, or one alone."""

    moles: FloatArray  # (..., n)
    carrier_moles: FloatArray  # (...)
    loss_rates: FloatArray  # (..., n)


class Course(NamedTuple):
    """Constants of a film, known before it is solved."""

    spans: FloatArray  # how long each constituent would last as the whole film (..., n) [s]
    whole: FloatArray  # moles at the start (...)
    staying: FloatArray  # moles that never leave (...)
    dry_at: FloatArray  # (...) [s]
    low: FloatArray  # tau at or before the first moment (...)
    high: FloatArray  # tau at or after the last (...)


def course_of(films: Films, earliest: float | FloatArray, latest: float | FloatArray) -> Course:
    """Range of tau that each film covers between two moments after 0."""
    moles, carrier, rates = films
    leaving = rates > _NO_RATE
    whole = carrier + moles.sum(axis=-1)
    whole = whole + (whole == 0)  # where there is nothing, any clock will do
    if leaving.all():
        leaving_rates, staying = rates, carrier
    else:
        leaving_rates = np.where(leaving, rates, np.inf)
        staying = carrier + moles.sum(axis=-1, where=~leaving)
    spans = moles / leaving_rates
    span = spans.sum(axis=-1)
    # staying <= t / tau <= whole; and t >= span (1 - exp(-slowest tau))
    low = earliest / whole
    if (staying >= _SCANT * whole).all():
        high = latest / staying
    else:
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            high, share = latest / staying, latest / span
            settled = np.where(share < 1 - 1e-15, -np.log1p(-share), _ALL_GONE)
            settled /= np.where(moles > 0, leaving_rates, np.inf).min(axis=-1, initial=np.inf)
            high = np.fmin(high, settled)
    low = np.maximum(low, high * 2.0**-_MOST_OCTAVES)
    dry_at = np.where(staying > 0, np.inf, span)
    return Course(spans, whole, staying, dry_at, low, np.maximum(high, low))


def clock_at(film: Films, moments: FloatArray) -> FloatArray:
    """Tau of one film at sorted moments, (m,); past all for a dry one. [s m2/mol]"""
    begun = int(moments.searchsorted(0.0, side="right"))
    clock = np.zeros(moments.size)
    if begun < moments.size:
        course = course_of(film, moments[begun], moments[-1])
        guess = _guessed(film, course, moments[begun:])
        clock[begun:] = corrected(film, course, moments[begun:], guess)
    return clock


def corrected(
    films: Films, course: Course, moments: FloatArray, clock: FloatArray
) -> FloatArray:
    """Halley's corrections of tau, (..., m), until what is left of it is below 1e-10."""
    moles, _, rates = films
    of_each = np.empty((*moles.shape[:-1], 3, moles.shape[-1]))
    np.negative(course.spans, out=of_each[..., 0, :])
    of_each[..., 1, :] = moles
    np.multiply(moles * -0.5, rates, out=of_each[..., 2, :])
    # what is worn off, N, and half of N' by tau: at the start, and by what has gone of each
    at_start = of_each.sum(axis=-1)[..., None]
    at_start[..., 0, 0] = 0
    at_start[..., 1, 0] = course.whole
    least = np.maximum(course.staying, _ROUNDING * course.whole + _TINY)[..., None]
    low, high, dry_at, staying = (
        each[..., None] for each in (course.low, course.high, course.dry_at, course.staying)
    )
    wet = moments < dry_at
    for _ in range(_MOST_CORRECTIONS):
        gone = rates[..., None] * -clock[..., None, :]
        worn = of_each @ np.expm1(gone, out=gone)
        worn += at_start
        behind = moments - worn[..., 0, :] - staying * clock
        left, half_slope = np.maximum(worn[..., 1, :], least), worn[..., 2, :]
        step = behind / np.maximum(left + half_slope * behind / left, left / 2)
        clock = np.minimum(np.maximum(clock + step, low), high)
        far = abs(step) > _NEAR_ENOUGH * clock
        if not (far.any() and (far & wet & (abs(behind) > _ROUNDING * moments)).any()):
            break
    return np.where(wet, clock, high)


def _guessed(film: Films, course: Course, moments: FloatArray) -> FloatArray:
    """Tau of one film, (m,), within a thousandth of itself while some of it stays."""
    octaves = _OCTAVES[: math.ceil(math.log2(course.high / course.low) * _NODES_PER_OCTAVE) + 1]
    clock = course.low * np.exp2(octaves)
    gone = film.loss_rates[:, None] * -clock
    elapsed = course.staying * clock - course.spans @ np.expm1(gone, out=gone)
    beyond = np.interp(np.log(moments), np.log(np.maximum(elapsed, _TINY)), octaves)
    return np.asarray(course.low * np.exp2(beyond))
