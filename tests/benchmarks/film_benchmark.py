"""How much faster the closed form of the film is than a general solver.

Run by itself, it prints ratios of best times from one run on one machine, for films of
uncertain loss rates: scipy's LSODA at a relative tolerance of 1e-6 (absolute: a millionth of
the mean starting amount) against `film_amounts` and `film_sums`; then the growth of time with
draws and constituents. Not part of the test suite: times depend on what else a machine does.
"""

import resource
import sys
import timeit

import numpy as np
from scipy.integrate import solve_ivp

from blendkit.evaporation.film import film_amounts, film_sums

HOURS = 12
TIMES = np.linspace(0, HOURS * 3600, 200)


def films(draws, constituents, carrier=0.03):
    """Moles, carrier and loss rates like those of 20 g/m2, a fifth of it oils."""
    random = np.random.default_rng(7)
    moles = random.dirichlet(np.ones(constituents)) * 0.025
    typical = 10 ** random.uniform(-8.5, -4, constituents)
    return moles, carrier, typical * np.exp(random.normal(0, 0.4, (draws, constituents)))


def lsoda(moles, carrier, rates, relative=1e-6, absolute=1e-6, method="LSODA"):
    """Amounts (times, constituents) by a general solver."""
    answer = solve_ivp(
        lambda _, amounts: -rates * amounts / (carrier + amounts.sum()),
        (0, TIMES[-1]),
        moles,
        t_eval=TIMES,
        method=method,
        rtol=relative,
        atol=absolute * moles.mean(),
    )
    return answer.y.T


def best(work, repeats):
    """Shortest of some times. [s]"""
    return min(timeit.repeat(work, number=1, repeat=repeats))


def main():
    say = sys.stdout.write
    moles, carrier, rates = films(500, 60)
    groups = (np.arange(60) % 4 == np.arange(4)[:, None]).astype(float)

    closed = film_amounts(moles, carrier, rates[0], TIMES)
    exact = lsoda(moles, carrier, rates[0], 1e-11, 1e-11, "BDF")
    rough = lsoda(moles, carrier, rates[0])
    error, rough_error = (np.max(np.abs(each - exact) / moles) for each in (closed, rough))

    one_lsoda = best(lambda: lsoda(moles, carrier, rates[0]), 10)
    one = best(lambda: film_amounts(moles, carrier, rates[0], TIMES), 200)
    band = best(lambda: film_sums(moles, carrier, rates, TIMES, groups), 20)
    say("60 constituents, 200 times, 12 hours\n")
    say(f"  one film: LSODA / closed form            {one_lsoda / one:8.0f}\n")
    say(f"  500 films in 4 groups: LSODA / closed    {500 * one_lsoda / band:8.0f}\n")
    say(f"  500 films in 4 groups                    {band * 1e3:8.1f} ms\n")
    say(f"  largest error, of the starting amount    {error:8.1e}\n")
    say(f"  the same for LSODA                       {rough_error:8.1e}\n")

    say("growth: time over time of 500 films, over work over work of 500 films\n")
    for draws, constituents in ((500, 300), (2500, 60), (10_000, 60), (10_000, 300)):
        moles, carrier, rates = films(draws, constituents)
        groups = np.ones((4, constituents))
        taken = best(lambda: film_sums(moles, carrier, rates, TIMES, groups), 2)  # noqa: B023
        work = draws * constituents / 500 / 60
        growth = taken / band / work
        say(f"  {draws:6} draws, {constituents:3} constituents           {growth:8.2f}")
        say(f"   ({taken:.2f} s)\n")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2
    say(f"most memory held                           {peak:8.2f} GiB\n")


if __name__ == "__main__":
    main()
