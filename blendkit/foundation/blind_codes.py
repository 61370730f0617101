"""Three-digit codes for blotters, strips and bottles that are smelt blind.

Random three-digit codes say nothing of what they are on: a common practice of sensory testing,
here without a published source.
"""

import random

CODES = range(100, 1000)


def draw_codes(chance: random.Random, count: int) -> list[int]:
    """Codes that each occur once, at most as many as `CODES` has."""
    return chance.sample(CODES, count)
