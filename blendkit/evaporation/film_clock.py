"""The film's own clock, turned round: from moments to tau, to the last digits.

The guess comes from nodes evenly spaced in ln tau, where t(tau) and its slope are exact: ln tau
is cubic in ln t between them, good to a millionth. Newton's correction, with the exact slope,
leaves about the square of that.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

_NODES_PER_OCTAVE = 4
_STEP = math.log(2) / _NODES_PER_OCTAVE
_MOST_OCTAVES = 400.0
_MOST_CORRECTIONS = 60
_NEAR_ENOUGH = 1e-5  # of tau
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
    """What is known of a film before it is solved."""

    spans: FloatArray  # how long each constituent would last as the whole film (..., n) [s]
    whole: FloatArray  # moles at the start (...)
    staying: FloatArray  # moles that never leave (...)
    dry_at: FloatArray  # (...) [s]
    low: FloatArray  # tau at or before the first moment (...)
    high: FloatArray  # tau at or after the last (...)


def course_of(films: Films, earliest: float | FloatArray, latest: float | FloatArray) -> Course:
    """How far each film can get between two moments after 0, the same for all or its own."""
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
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        high = latest / staying
        if np.less(staying, _SCANT * whole).any():
            share = latest / span
            settled = np.where(share < 1 - 1e-15, -np.log1p(-share), _ALL_GONE)
            settled /= np.where(moles > 0, leaving_rates, np.inf).min(axis=-1, initial=np.inf)
            high = np.fmin(high, settled)
    low = np.maximum(low, high * 2**-_MOST_OCTAVES)
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
    """Newton's corrections of tau, (..., m), until they are at the last digits."""
    low, high, dry_at = (each[..., None] for each in (course.low, course.high, course.dry_at))
    wet = moments < dry_at
    for _ in range(_MOST_CORRECTIONS):
        elapsed, moles = _worn(films, course, clock)
        behind = moments - elapsed
        step = behind / moles
        clock = np.minimum(np.maximum(clock + step, low), high)
        far = abs(step) > _NEAR_ENOUGH * clock
        if not (far.any() and (far & wet & (abs(behind) > _ROUNDING * moments)).any()):
            break
    return np.where(wet, clock, high)


def _worn(films: Films, course: Course, clock: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The moments [s] when the clock shows tau, and the slope there, N; (..., m) each."""
    gone = films.loss_rates[..., None] * -clock[..., None, :]
    np.expm1(gone, out=gone)
    worn = np.stack([course.spans, films.moles], axis=-2) @ gone
    staying, whole = course.staying[..., None], course.whole[..., None]
    moles = whole + worn[..., 1, :]
    np.maximum(moles, np.maximum(staying, _ROUNDING * whole + _TINY), out=moles)
    return staying * clock - worn[..., 0, :], moles


def _guessed(film: Films, course: Course, moments: FloatArray) -> FloatArray:
    """Tau of one film, (m,), within a millionth of itself while some of it stays."""
    octaves = math.log2(course.high / course.low)
    nodes = np.arange(2 + math.floor(octaves * _NODES_PER_OCTAVE))
    clock = course.low * np.exp(_STEP * nodes)
    elapsed, moles = _worn(film, course, clock)
    cell = elapsed[1:-1].searchsorted(moments)
    log_elapsed = np.log(np.maximum(elapsed, _TINY))
    width = np.maximum(log_elapsed[1:] - log_elapsed[:-1], _ROUNDING)
    pace = elapsed / (moles * clock)
    rise = pace[:-1] * width
    third = rise + pace[1:] * width - 2 * _STEP
    along = (np.log(moments) - log_elapsed.take(cell)) / width.take(cell)
    rise, third = rise.take(cell), third.take(cell)
    beyond = along * (rise + along * (_STEP - rise - third + along * third))
    beyond = np.minimum(np.maximum(beyond, 0.0), _STEP)
    return np.asarray(course.low * np.exp(_STEP * cell + beyond))
