"""Sniff duels against plain designs, on invented noses.

    python tests/benchmarks/duels_benchmark.py [noses]

Four oils in 20 drops, 400 of the 1,771 recipes; the first bottle is the even one. Every design
makes one new bottle a duel and smells it against its favourite so far. Two kinds of noses:

- "as learnt": likings from the learner's own process, which flatters it;
- "otherwise": a hidden favourite ratio, disliked by distance in logarithms of drops with
  weights of its own, and one pair of oils that clash. No Gaussian process, no square roots.

A nose errs by 0.35 of the spread of its likings, by 5 % more with each duel of a sitting of
four (tiring), and cannot tell below 0.2. Settings of the learner were fixed before any run.
Printed: rank of the pick by true liking among all recipes (1 best, 0.5 the mean): median and
worst tenth, after 6, 10 and 20 duels; and how often the pick is liked less than the start.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from blendkit.choosing.duels import REACH, Duel, Recipes, favourite, next_duel, surprise

DUELS = (6, 10, 20)
OILS, DROPS, RECIPES = 4, 20, 400
ERROR, TIRING, NOTICED, SITTING = 0.35, 0.05, 0.2, 4


def the_recipes() -> Recipes:
    chance = np.random.default_rng(0)
    drawn = chance.multinomial(DROPS, chance.dirichlet(np.ones(OILS), 20_000))
    drawn = chance.permutation(np.unique(drawn, axis=0))
    start = np.full(OILS, DROPS // OILS)
    drawn = drawn[(drawn != start).any(axis=1)][: RECIPES - 1]
    return Recipes(tuple("abcd"), np.vstack([start, drawn]))


def as_learnt(recipes, chance):
    roots = recipes.roots
    away = ((roots[:, None] - roots) ** 2).sum(axis=2)
    values, ways = np.linalg.eigh(np.exp(-away / (2 * REACH**2)))
    return ways @ (np.sqrt(np.maximum(values, 0)) * chance.standard_normal(len(values)))


def otherwise(recipes, chance):
    logs = np.log(recipes.drops + 1.0)
    best = np.log(DROPS * chance.dirichlet(np.ones(OILS)) + 1.0)
    liking = -((logs - best) ** 2) @ chance.uniform(0.2, 1.0, OILS)
    one, two = chance.choice(OILS, 2, replace=False)
    shares = recipes.drops / DROPS
    return liking - chance.uniform(0, 8) * shares[:, one] * shares[:, two]


def nose(kind, recipes, chance):
    truth = kind(recipes, chance)
    truth = (truth - truth.mean()) / truth.std()

    def smell(first, second, number):
        error = ERROR * (1 + TIRING * (number % SITTING))
        felt = truth[first] - truth[second] + error * chance.standard_normal()
        return int(felt > NOTICED) - int(felt < -NOTICED)

    return truth, smell


def winner_stays(challenger):
    """A plain design: the favourite changes only where the new bottle is called better."""

    def play(recipes, smell, chance):
        here, duels = 0, []
        for number in range(max(DUELS)):
            new = challenger(recipes, here, duels, chance)
            said = smell(here, new, number)
            duels.append(Duel(here, new, said))
            here = new if said < 0 else here
            yield here

    return play


def at_random(recipes, here, duels, chance):
    tried = {0, *(duel.second for duel in duels)}
    return int(
        chance.choice([place for place in range(len(recipes.drops)) if place not in tried])
    )


def filling(recipes, here, duels, chance):
    return surprise(recipes, duels)


def one_oil(recipes, here, duels, chance):
    """Three drops more or less of one oil in turn, the others in their ratio."""
    number = len(duels)
    shares = recipes.drops[here] / DROPS
    oil, sign = (number // 2) % OILS, 1 if number % 2 == 0 else -1
    target = shares.copy()
    target[oil] = np.clip(shares[oil] + sign * 3 / DROPS, 0, 1)
    rest = 1 - shares[oil] or 1.0
    others = np.arange(OILS) != oil
    target[others] *= (1 - target[oil]) / rest
    away = ((recipes.drops / DROPS - target) ** 2).sum(axis=1)
    away[[0, here, *(duel.second for duel in duels)]] = np.inf
    return int(away.argmin())


def searched(recipes, smell, chance):
    duels = []
    for number in range(max(DUELS)):
        coming = next_duel(recipes, duels)
        duels.append(
            Duel(coming.first, coming.second, smell(coming.first, coming.second, number))
        )
        yield favourite(recipes, duels)[0] if number + 1 in DUELS else -1


DESIGNS = {
    "one oil at a time": winner_stays(one_oil),
    "random bottles": winner_stays(at_random),
    "space-filling": winner_stays(filling),
    "preference search": searched,
}


def main(noses: int) -> None:
    recipes = the_recipes()
    for kind in (as_learnt, otherwise):
        print(f"\n{noses} noses, {kind.__name__.replace('_', ' ')}")
        print(
            f"{'':20}"
            + "".join(f"{n:>6} duels: median, worst tenth, below start" for n in DUELS)
        )
        for name, play in DESIGNS.items():
            begun = time.process_time()
            ranks = {number: [] for number in DUELS}
            worse = dict.fromkeys(DUELS, 0)
            for seed in range(noses):
                truth, smell = nose(kind, recipes, np.random.default_rng([7, seed]))
                chance = np.random.default_rng([8, seed])
                for number, pick in enumerate(play(recipes, smell, chance), 1):
                    if number in DUELS:
                        ranks[number].append(np.mean(truth < truth[pick]))
                        worse[number] += truth[pick] < truth[0]
            cells = "".join(
                f"{np.median(ranks[n]):>15.2f}, {np.quantile(ranks[n], 0.1):.2f}, "
                f"{worse[n] / noses:>4.0%}{'':16}"
                for n in DUELS
            )
            print(f"{name:20}{cells} ({time.process_time() - begun:.0f} s)", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
