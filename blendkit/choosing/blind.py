"""Blind tests of two bottles: codes, balanced orders, and a verdict from the exact binomial.

Paired comparison (ISO 5495) and triangle test (ISO 4120); scopes and an amendment read, the
tables inside them not. Both force a choice: "no idea" means guess. A triangle is of little use
where a smell lingers. That no difference was found does not mean that there is none.
"""

import itertools
import math
import random
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any, NamedTuple

from blendkit.foundation.blind_codes import draw_codes
from blendkit.foundation.errors import BadNumber, Problem, check_known, quoted, refuse_any
from blendkit.foundation.units import counted, is_whole_number

PAIRED, TRIANGLE = "paired", "triangle"
ORDERS = {
    PAIRED: ("AB", "BA"),
    TRIANGLE: ("AAB", "ABA", "BAA", "BBA", "BAB", "ABB"),
}
CHANCE = {PAIRED: 1 / 2, TRIANGLE: 1 / 3}
LEVEL = 0.05
# Web pages that quote one another and are no trials: short sniffs, few smells at a sitting
REST_MINUTES = {"between strips": 5, "after three strips": 20, "on skin": 90}
_STRIPS_TO_LONG_REST = 3
_MOST_TESTS = 300  # three-digit codes do not reach further
_MOST_MORE = 200
_ONE_SIDED_Z, _TWO_SIDED_Z = 1.6448536269514722, 1.959963984540054


class Sitting(NamedTuple):
    """One test: letters in the order of sniffing, and the code on each strip."""

    order: str
    codes: tuple[int, ...]


class Pick(NamedTuple):
    """One sitting that was answered: its kind and bottles, and the code that was picked."""

    kind: str
    first: str
    second: str
    sitting: Sitting
    picked: int


class Verdict(NamedTuple):
    """Outcome of a test.

    Attributes
    ----------
    telling, telling_low, telling_high : float
        Share of tests in which the nose tells, beyond guessing, and its limits at 95 %, by the
        normal approximation of ISO 5495 Amd 1:2016; one-sided tests have a low limit only. [-]
    words : str
    """

    telling: float
    telling_low: float
    telling_high: float
    words: str


def plan(kind: str, tests: int, seed: int | str | None = None) -> list[Sitting]:
    """Sittings with codes that occur once, every order as often as any other, in random turn.

    Raises
    ------
    BadNumber
        Lists what cannot be used.
    """
    check_known("kind", kind, ORDERS)
    if not is_whole_number(tests, 1, _MOST_TESTS):
        needed = f"a whole number, 1 to {_MOST_TESTS}"
        raise BadNumber([Problem("tests", quoted(tests), needed)])
    chance = random.Random(seed)
    orders: list[str] = []
    while len(orders) < tests:
        orders += chance.sample(ORDERS[kind], len(ORDERS[kind]))
    codes = iter(draw_codes(chance, sum(map(len, orders[:tests]))))
    return [Sitting(order, tuple(next(codes) for _ in order)) for order in orders[:tests]]


def right_one(sitting: Sitting) -> int:
    """Code of the right answer: the odd one of three, or B of a pair."""
    letter = next(each for each in "BA" if sitting.order.count(each) == 1)
    return sitting.codes[sitting.order.index(letter)]


def right_answers(sittings: Sequence[Sitting], picked: Sequence[int]) -> int:
    """Number of picks that are right.

    Raises
    ------
    BadNumber
        A pick is none of its sitting's codes, or there are more or fewer picks than sittings.
    """
    pairs = list(zip(sittings, picked, strict=False))
    if len(sittings) != len(picked) or any(pick not in each.codes for each, pick in pairs):
        needed = "one pick for each sitting, one of its codes"
        raise BadNumber([Problem("picks", quoted(list(picked)), needed)])
    return sum(pick == right_one(each) for each, pick in pairs)


def read_pick(document: Mapping[str, Any]) -> Pick:
    """One answered sitting as it is kept.

    Parameters
    ----------
    document : mapping
        Keys ``kind``, ``first`` and ``second`` (names of two bottles), ``order`` and ``codes``
        of the sitting, and ``picked``.

    Raises
    ------
    BadNumber
        It names no sitting, or a bottle is missing or named twice.
    """
    kind, order, codes = (document.get(key) for key in ("kind", "order", "codes"))
    first, second = (str(document.get(key, "")).strip() for key in ("first", "second"))
    if kind not in ORDERS or order not in ORDERS[str(kind)] or not isinstance(codes, list):
        raise BadNumber([Problem("sitting", quoted([kind, order, codes]), "one of a plan")])
    if not first or not second or first == second:
        got = f"{quoted(first)} and {quoted(second)}"
        raise BadNumber([Problem("bottles", got, "the names of two different bottles")])
    pick = Pick(str(kind), first, second, Sitting(order, tuple(codes)), document["picked"])
    right_answers([pick.sitting], [pick.picked])
    return pick


def rest_until(answered: Sequence[datetime]) -> datetime | None:
    """End of a nose's rest after its answers, by `REST_MINUTES`; None before any answer."""
    if not answered:
        return None
    long = timedelta(minutes=REST_MINUTES["after three strips"])
    run, ordered = 1, sorted(answered)
    for earlier, later in itertools.pairwise(ordered):
        run = 1 if later - earlier >= long else run + 1
    short = timedelta(minutes=REST_MINUTES["between strips"])
    return ordered[-1] + (short if run % _STRIPS_TO_LONG_REST else long)


def p_value(right: int, tests: int, kind: str, *, two_sided: bool = False) -> float:
    """Chance of an outcome as clear as this, or clearer, by guessing. [-]

    Two-sided, for a pair where neither direction was expected: of preferences always.
    """
    at_least = max(right, tests - right) if two_sided else right
    ways = round(1 / CHANCE[kind])  # in whole numbers, so that any number of tests is exact
    counts = range(at_least, tests + 1)
    tail: float = (
        sum(math.comb(tests, k) * (ways - 1) ** (tests - k) for k in counts) / ways**tests
    )
    return min(1.0, 2 * tail) if two_sided else tail


def least_right(
    tests: int, kind: str, level: float = LEVEL, *, two_sided: bool = False
) -> int | None:
    """Smallest number of right answers at which guessing is no longer likely; None: too few."""
    counts = range((tests + 1) // 2 if two_sided else 0, tests + 1)
    chances = ((n, p_value(n, tests, kind, two_sided=two_sided)) for n in counts)
    return next((right for right, chance in chances if chance <= level), None)


def verdict(right: int, tests: int, kind: str, *, two_sided: bool = False) -> Verdict:
    """Outcome of a blind test, in figures and words.

    Parameters
    ----------
    right : int
        Right answers; of a preference, those for the second bottle.
    tests : int
    kind : str
        "paired" or "triangle".
    two_sided : bool, optional
        See `p_value`; a pair only.

    Raises
    ------
    BadNumber
        Lists what cannot be used.
    """
    check_known("kind", kind, CHANCE)
    problems = []
    if not is_whole_number(tests, 1) or not is_whole_number(right, 0, tests):
        got = f"{quoted(right)} of {quoted(tests)}"
        problems.append(Problem("right", got, "whole numbers, no more right than tests"))
    if kind == TRIANGLE and two_sided:
        problems.append(Problem("two_sided", "a triangle", "a pair; a triangle has one side"))
    refuse_any(problems)
    chance, guessed = p_value(right, tests, kind, two_sided=two_sided), CHANCE[kind]
    most = max(right, tests - right) if two_sided else right
    share = most / tests
    telling = (share - guessed) / (1 - guessed)
    error = (share * (1 - share) / tests) ** 0.5 / (1 - guessed)
    z = _TWO_SIDED_Z if two_sided else _ONE_SIDED_Z
    high = telling + z * error if two_sided else 1.0
    words = _words(most, tests, kind, chance, two_sided)
    return Verdict(telling, telling - z * error, high, words)


def more_needed(right: int, tests: int, kind: str, *, two_sided: bool = False) -> int | None:
    """Further tests after which the same share of right answers would tell; None: never.

    Beyond `_MOST_MORE` it counts as never.
    """
    for more in range(1, _MOST_MORE + 1):
        whole = tests + more
        if p_value(right * whole // tests, whole, kind, two_sided=two_sided) <= LEVEL:
            return more
    return None


def _words(right: int, tests: int, kind: str, chance: float, two_sided: bool) -> str:
    score = f"{right} of {tests}"
    if chance <= LEVEL:
        odds = "less than 1 in 1000" if chance < 0.001 else f"1 in {round(1 / chance)}"
        return f"{score}: they differ for this nose; guessing does as well {odds} times."
    more = more_needed(right, tests, kind, two_sided=two_sided)
    if more is None:
        return f"{score}: about what guessing gives. That does not show them to be the same."
    return f"{score}: cannot tell yet. At this rate {counted(more, 'more test')} would tell."
