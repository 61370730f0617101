"""How much faster the fade is than a general solver, and what each simplification costs.

Run as a plain script: ``python tests/benchmarks/fade_benchmark.py``. All ratios come from one
run on one machine, of an invented blend: scipy's LSODA at a relative tolerance of 1e-6 on the
same equation against `forecast`. Not part of the test suite: times depend on what else runs.
"""

from __future__ import annotations

import sys

import numpy as np
from film_benchmark import best
from scipy.integrate import solve_ivp

from blendkit import example_document
from blendkit.blend.blend import Blend
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.fading import hours_until
from blendkit.evaporation.film import film_amounts, film_amounts_stepped
from blendkit.evaporation.forecast import forecast, lasting_of
from blendkit.evaporation.uncertainty import Uncertainty, drawn
from blendkit.evaporation.wear import film_of

HOURS = np.linspace(0, 12, 200)
SECONDS = HOURS * 3600
DRAWS = 500


def lsoda(film, rates, relative=1e-6, absolute=1e-6, method="LSODA"):
    """Amounts (times, molecules) by a general solver."""
    answer = solve_ivp(
        lambda _, n: -rates * n / (film.carrier_moles + n.sum()),
        (0, SECONDS[-1]),
        film.moles,
        t_eval=SECONDS,
        method=method,
        rtol=relative,
        atol=absolute * film.moles.mean(),
    )
    return answer.y.T


def say(text, value="", unit=""):
    sys.stdout.write(f"{text:<58}{value:>10}{' ' + unit if unit else ''}\n")


def speed(film):
    """Times and their ratios."""
    rates = drawn(film, DRAWS, 1, Uncertainty(), None).loss_rates
    panel = hours_until(12)
    blend = Blend.from_dict(example_document())
    works = {
        "one film by LSODA": lambda: lsoda(film, film.loss_rates),
        "ten draws by LSODA": lambda: [lsoda(film, row) for row in rates[1:11]],
        "one film": lambda: film_amounts(film.moles, film.carrier_moles, rates[0], SECONDS),
        "500 draws, forecast with band": lambda: forecast(film, HOURS, DRAWS).band(),
        "500 draws, by vapour": lambda: forecast(film, HOURS, DRAWS, way="vapour").band(),
        "500 draws, times over seven days": lambda: lasting_of(film, DRAWS).ends(),
        "256 draws, as on a panel (57 times)": lambda: forecast(film, panel, 256).band(),
        "from a blend to its film": lambda: film_of(blend.bottle, Conditions()),
    }
    taken = best(works, 40)
    say(f"{len(film.molecules)} molecules, {len(film.oils)} oils, 200 times, 12 hours")
    say("", "processor", "     wall")
    for name, each in taken.items():
        say(f"  {name}", f"{each[0] * 1e3:.2f}", f"{each[1] * 1e3:8.2f} ms")
    ratios = {"one film": taken["one film by LSODA"]}
    ratios |= dict.fromkeys(
        ("500 draws, forecast with band", "500 draws, by vapour"),
        taken["ten draws by LSODA"] / 10 * DRAWS,
    )
    for name, general in ratios.items():
        ratio = general / taken[name]
        say(f"  LSODA over {name}", f"{ratio[0]:.0f}", f"{ratio[1]:8.0f}")
    exact = lsoda(film, film.loss_rates, 1e-11, 1e-11, "BDF")
    closed = film_amounts(film.moles, film.carrier_moles, film.loss_rates, SECONDS)
    error = np.max(np.abs(closed - exact) / film.moles)
    say("largest error of the closed form, of the starting amount", f"{error:.0e}")


def times_to(left, film, share):
    """Hours to a share of each molecule that gets there, on a long logarithmic grid."""
    times = np.geomspace(5, 30 * 86400, 1500)
    shares = left(times) / film.moles
    return np.array([np.exp(np.interp(-share, -each, np.log(times))) for each in shares.T])


def cost(film):
    """What the times to a half and a tenth lose by each simplification."""
    carrier, moles = film.carrier_moles, film.moles
    unit = film.evaporation + film.uptake
    whole = carrier + moles.sum()
    ways = {
        "one activity for life": lambda t: film_amounts(moles, carrier, film.loss_rates, t),
        "activity 1": lambda t: film_amounts(moles, carrier, unit, t),
        "independent exponentials, film as at the start": lambda t: (
            moles * np.exp(-np.outer(t, film.activity_at(moles) * unit) / whole)
        ),
        "independent exponentials, film of carrier alone": lambda t: (
            moles * np.exp(-np.outer(t, film.activity_at(moles * 1e-9) * unit) / carrier)
        ),
    }
    judge = lambda t: film_amounts_stepped(moles, carrier, film.loss_rates_at, t, 0.02)  # noqa: E731
    say("error of times to a half / a tenth, weighed by amount", "half", "     tenth")
    for name, way in ways.items():
        found = []
        for share in (0.5, 0.1):
            ratio = times_to(way, film, share) / times_to(judge, film, share)
            found.append(np.exp(np.average(np.abs(np.log(ratio)), weights=moles)) - 1)
        say(f"  {name}", f"{found[0]:.0%}", f"{found[1]:>10.0%}")
    found = forecast(film, [1, 4, 8], DRAWS)
    _, low, high, _ = found.band()
    say("no band: what it would hide, high over low of strength", "")
    for note in ("top", "middle", "base"):
        row = found.place(note)
        spans = ", ".join(f"{high[row, k] / low[row, k]:.1f}" for k in (1, 2, 3))
        say(f"  {note} at hours 1, 4, 8", spans)


def main():
    film = film_of(Blend.from_dict(example_document()).bottle, Conditions())
    speed(film)
    say("")
    cost(film)


if __name__ == "__main__":
    main()
