"""Worked ratios with fresh numbers for every seat, and their answers.

The same seed gives the same numbers again, so an answer sheet can be printed later. Answers
come from the functions that the bottles are mixed with: `blend.apportionment` shares the drops
out and `blend.droppers` judges a wrong dropper.
"""

import random
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import NamedTuple

from blendkit.blend.apportionment import whole_drops
from blendkit.blend.droppers import strength_with_a_wrong_rule
from blendkit.foundation.schema import NOTES
from blendkit.materials.catalogue import TRADE_DROPS_PER_ML

_PER_ML = int(TRADE_DROPS_PER_ML)
Numbers = Mapping[str, int | str]


class Question(NamedTuple):
    """One question; its words are in `showing`, by kind.

    Attributes
    ----------
    kind : str
        "drops", "share", "strong", "dilute", "dropper".
    numbers : mapping
        What is given.
    answer : mapping
        What is asked; whole numbers, or percents as decimal text.
    """

    kind: str
    numbers: Numbers
    answer: Numbers


def exercises(seats: Sequence[str], seed: int = 1) -> dict[str, tuple[Question, ...]]:
    """Five questions for each seat, by seat.

    Parameters
    ----------
    seats : sequence of str
        What they are called.
    seed : int, optional
        Another seed gives other numbers.
    """
    # a generator of its own, so that one seat more leaves the others' numbers alone
    made = ((name, random.Random(f"{seed}/{number}")) for number, name in enumerate(seats))
    return {name: _questions(chance) for name, chance in made}


def _questions(chance: random.Random) -> tuple[Question, ...]:
    makers = (_how_many_drops, _share_out, _how_strong, _dilute, _wrong_dropper)
    return tuple(make(chance) for make in makers)


def _how_many_drops(chance: random.Random) -> Question:
    bottle, percent = chance.choice((5, 10, 15, 30)), chance.choice((5, 10, 15, 20))
    drops = Fraction(bottle * _PER_ML * percent, 100)
    given = {"bottle_ml": bottle, "percent": percent, "per_ml": _PER_ML}
    return Question("drops", given, {"drops": int(drops)})


def _share_out(chance: random.Random) -> Question:
    parts = {note: chance.randint(1, 5) for note in NOTES}
    while len(set(parts.values())) == 1:
        parts = {note: chance.randint(1, 5) for note in NOTES}
    total = chance.randint(18, 47)
    return Question("share", {"total": total, **parts}, whole_drops(parts, total))


def _how_strong(chance: random.Random) -> Question:
    bottle = chance.choice((5, 10, 15, 30))
    drops = chance.randint(bottle, bottle * 5)
    percent = Fraction(100 * drops, bottle * _PER_ML)
    given = {"bottle_ml": bottle, "drops": drops, "per_ml": _PER_ML}
    return Question("strong", given, {"percent": _decimal(percent)})


def _dilute(chance: random.Random) -> Question:
    strong, bottle = chance.choice((10, 20, 25, 50)), chance.choice((10, 20, 30))
    weak = chance.choice([p for p in (1, 2, 4, 5, 10) if p < strong])
    volume = Fraction(weak * bottle, strong)
    given = {"strong": strong, "weak": weak, "bottle_ml": bottle}
    return Question("dilute", given, {"ml": _decimal(volume)})


def _wrong_dropper(chance: random.Random) -> Question:
    bottle, true = chance.choice((10, 20, 30)), chance.choice((25, 30, 40))
    believed = chance.choice((10, 15, 20))
    drops = bottle * _PER_ML * believed // 100
    _, got = strength_with_a_wrong_rule(drops, TRADE_DROPS_PER_ML, float(true), f"{bottle} mL")
    given = {"bottle_ml": bottle, "drops": drops, "per_ml": _PER_ML, "true_per_ml": true}
    return Question("dropper", given, {"percent": _decimal(got * 100)})


def _decimal(number: Fraction | float) -> str:
    """At most two decimals, as text: "2.5", "13.33", "4"."""
    return f"{float(number):.2f}".rstrip("0").rstrip(".")
