"""What the tests share that throw anything at a door: how much of it, and what came of it.

`BLENDKIT_FUZZ` sets how many examples a test draws where the usual run takes few.
"""

from __future__ import annotations

import contextlib
import copy
import os
import random
import re
from collections import Counter
from collections.abc import Iterator
from typing import Any

from hypothesis import settings

GIVEN = os.environ.get("BLENDKIT_FUZZ")


def drawing(usual: int) -> settings:
    """How many examples are drawn: as many as usual, or as `BLENDKIT_FUZZ` says."""
    return settings(max_examples=int(GIVEN or usual))


@contextlib.contextmanager
def both_happen(door: str) -> Iterator[Counter[str]]:
    """Count results and refusals of a door; a test that saw only one kind shows nothing."""
    seen: Counter[str] = Counter(result=0, refusal=0)
    yield seen
    print(f"{door}: {seen['result']} results, {seen['refusal']} refusals")  # noqa: T201 - for -rP
    assert seen["result"]
    assert seen["refusal"]


def spoilt(good: Any, seed: int, value: Any) -> Any:
    """A copy of a good document, changed in one to three places.

    Half the changes put in the value; the others something like what stood there, since a
    document full of nonsense never gets past the door.
    """
    chance, document = random.Random(seed), copy.deepcopy(good)
    for _ in range(chance.randint(1, 3)):
        place = document
        while isinstance(place, dict | list) and place:
            key = chance.choice(list(place) if isinstance(place, dict) else range(len(place)))
            there = place[key]
            if not isinstance(there, dict | list) or chance.random() < 0.3:
                new = value if chance.random() < 0.5 else _like(there, chance)
                place[key] = copy.deepcopy(new)
                break
            place = there
    return document


def _like(there: Any, chance: random.Random) -> Any:
    if isinstance(there, bool):
        return not there
    if isinstance(there, int | float):
        return chance.choice((0, 1, 2, 3, 7.25, 12, 40, 1e-9, 1e9))
    if isinstance(there, str):
        return re.sub(r"[0-9]+", lambda _: str(chance.randint(0, 99)), there)
    if isinstance(there, list) and there:
        return chance.sample(there, chance.randint(1, len(there)))
    return there
