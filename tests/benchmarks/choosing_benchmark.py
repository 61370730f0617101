"""Times of what choosing has to answer while something is dragged or waited for.

    python tests/benchmarks/choosing_benchmark.py

Prints wall and processor time: on a busy machine the second says more of the code.
"""

from __future__ import annotations

import time

import numpy as np

from blendkit.blend.blend import Blend
from blendkit.choosing.duels import Duel, next_duel, recipes_of
from blendkit.choosing.loudness import heard_ratio
from blendkit.choosing.map import map_of
from blendkit.choosing.same_smell import replace_oil
from blendkit.choosing.tonight import MoreOils
from blendkit.foundation.data import example_document
from blendkit.materials import catalogue
from blendkit.skin.reformulation import Infeasible

REPEATS = 200


def timed(what, call, repeats=REPEATS):
    call(0)
    walls, own = [], []
    for number in range(repeats):
        begun, spent = time.perf_counter(), time.process_time()
        call(number)
        walls.append((time.perf_counter() - begun) * 1e3)
        own.append((time.process_time() - spent) * 1e3)
    ends = [f"{np.quantile(each, q):7.1f}" for each in (walls, own) for q in (0.5, 0.95)]
    print(
        f"{what:52}{ends[0]} p50 {ends[1]} p95 ms;{ends[2]} p50 {ends[3]} p95 ms of processor"
    )


def main() -> None:
    blend, chance = Blend(example_document()), np.random.default_rng(1)
    oils = catalogue.oil_ids()
    timed("map, made", lambda _: map_of(blend), 5)
    made = map_of(blend)
    timed(
        "map, a dot dragged",
        lambda _: made.leads_at(made.nearest(chance.dirichlet([1, 1, 1])), 64),
    )
    timed("one more of all oils, made", lambda _: MoreOils(blend, oils), 5)
    more = MoreOils(blend, oils)
    timed("one more, a count dragged", lambda n: more.ranked({"lavender": n % 9 + 1}))
    timed("ratio in which all are heard", lambda _: heard_ratio(blend), 5)
    recipes = recipes_of(blend, 20)
    duels = [Duel(0, k, k % 3 - 1) for k in range(1, 20)]
    timed("next of 400 recipes after 19 duels", lambda _: next_duel(recipes, duels), 20)
    walls, own, gaps, none = [], [], [], 0
    for number in range(40):
        shelf = dict.fromkeys(chance.choice(oils, 60, replace=False).tolist(), 1e-5)
        missing = list(blend.oil_drops)[number % len(blend.oil_drops)]
        begun, spent = time.perf_counter(), time.process_time()
        try:
            found = replace_oil(blend, missing, shelf)
            gaps.append(found.bound - found.overlap)
        except Infeasible:
            none += 1
        walls.append(time.perf_counter() - begun)
        own.append(time.process_time() - spent)
    print(
        f"replacement from 60 oils: median {np.median(walls):.2f}, longest {max(walls):.2f} s "
        f"({np.median(own):.2f}, {max(own):.2f} s of processor); "
        f"proved {sum(gap < 1e-4 for gap in gaps)} of {len(gaps)}, largest gap "
        f"{max(gaps):.4f}; {none} without any blend within the limits"
    )


if __name__ == "__main__":
    main()
