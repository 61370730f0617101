"""How much faster the closed form of the film is than a general solver.

Run by itself, it prints ratios of best times from one run on one machine, for films of
uncertain loss rates: scipy's LSODA at a relative tolerance of 1e-6 (absolute: a millionth of
the mean starting amount) against `film_amounts` and `nodes_of`, and with tolerances of 1e-10,
where its error is of the order of theirs; then the growth of time with draws and constituents.
Works take turns, and each keeps its shortest time: of all processors together, and by the clock
on the wall, which other programs make longer. Not part of the test suite: times depend on what
else a machine does.
"""

import resource
import sys
import time

import numpy as np
from scipy.integrate import solve_ivp

from blendkit.evaporation.film import film_amounts
from blendkit.evaporation.film_clock import Films
from blendkit.evaporation.film_nodes import nodes_of

HOURS = 12
TIMES = np.linspace(0, HOURS * 3600, 200)


def films(draws, constituents, carrier=0.03):
    """Moles, carrier and loss rates like those of 20 g/m2, a fifth of it oils."""
    random = np.random.default_rng(7)
    moles = random.dirichlet(np.ones(constituents)) * 0.025
    typical = 10 ** random.uniform(-8.5, -4, constituents)
    return moles, carrier, typical * np.exp(random.normal(0, 0.4, (draws, constituents)))


def sums(moles, carrier, rates, groups):
    """Sums over groups at the nodes of many films."""
    films = Films(moles, np.array(carrier), rates)
    return nodes_of(films, TIMES[1], TIMES[-1], np.ones_like(rates), groups).sums


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


def best(works, seconds):
    """Shortest time of each work on the processor and on the wall, taking turns. [s]

    A turn is as many runs of a work as last a hundredth of a second, so that short ones are
    as warm as long ones.
    """
    runs, times = dict.fromkeys(works, 1), dict.fromkeys(works, (np.inf, np.inf))
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        for name, work in works.items():
            begun = time.process_time(), time.perf_counter()
            for _ in range(runs[name]):
                work()
            taken = time.process_time() - begun[0], time.perf_counter() - begun[1]
            times[name] = tuple(map(min, times[name], (each / runs[name] for each in taken)))
            runs[name] = max(1, round(0.01 / times[name][1]))
    return {name: np.array(each) for name, each in times.items()}


def main():
    say = sys.stdout.write
    moles, carrier, rates = films(500, 60)
    groups = (np.arange(60) % 4 == np.arange(4)[:, None]).astype(float)

    closed = film_amounts(moles, carrier, rates[0], TIMES)
    exact = lsoda(moles, carrier, rates[0], 1e-11, 1e-11, "BDF")
    rough = lsoda(moles, carrier, rates[0])
    error, rough_error = (np.max(np.abs(each - exact) / moles) for each in (closed, rough))
    works = {
        "one film by LSODA": lambda: lsoda(moles, carrier, rates[0]),
        "one film by LSODA, as near the truth": lambda: lsoda(
            moles, carrier, rates[0], 1e-10, 1e-10
        ),
        "one film": lambda: film_amounts(moles, carrier, rates[0], TIMES),
        "500 films in 4 groups": lambda: sums(moles, carrier, rates, groups),
    }
    taken = best(works, 40)
    general, nearer, *closed_form = works
    say("60 constituents, 200 times, 12 hours: processor / wall\n")
    for name in works:
        say(f"  {name:40} {taken[name][0] * 1e3:8.2f} {taken[name][1] * 1e3:8.2f} ms\n")
    for name in closed_form:
        ratio = taken[general] / taken[name] * (500 if "500" in name else 1)
        say(f"  LSODA over {name:30} {ratio[0]:7.0f} {ratio[1]:8.0f}\n")
    ratio = taken[nearer] / taken["one film"]
    say(f"  LSODA as near the truth over one film   {ratio[0]:8.0f} {ratio[1]:8.0f}\n")
    say(f"  largest error, of the starting amount    {error:8.1e}\n")
    say(f"  that of amounts by LSODA                 {rough_error:8.1e}\n")

    say("growth: processor time over that of 500 films, over work over work of 500 films\n")
    for draws, constituents in ((500, 300), (2500, 60), (10_000, 60), (10_000, 300)):
        many, carrier, rates = films(draws, constituents)
        groups = np.ones((4, constituents))
        work = lambda: sums(many, carrier, rates, groups)  # noqa: B023, E731
        spent = best({"": work}, 8)[""][0]
        growth = spent / taken["500 films in 4 groups"][0] / (draws * constituents / 500 / 60)
        say(f"  {draws:6} draws, {constituents:3} constituents           {growth:8.2f}")
        say(f"   ({spent:.2f} s)\n")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2
    say(f"most memory held                           {peak:8.2f} GiB\n")


if __name__ == "__main__":
    main()
