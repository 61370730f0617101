"""A ladder of two materials: rising ratios in whole drops on blotters, smelt by code."""

import random
import re
from typing import NamedTuple

from blendkit.foundation.blind_codes import draw_codes
from blendkit.foundation.errors import Problem, check_known, quoted, refuse_any

USUAL = "1:9, 2:8, 3:7, 4:6, 5:5, 6:4, 7:3, 8:2, 9:1"
MOST_RUNGS, MOST_DROPS = 15, 60


class Rung(NamedTuple):
    """One blotter.

    Attributes
    ----------
    code : str
        Three digits that say nothing of the ratio.
    first, second : int
        Whole drops of the two materials.
    """

    code: str
    first: int
    second: int


def ladder(first: str, second: str, ratios: str = USUAL) -> tuple[Rung, ...]:
    """The rungs of a ladder, in the order of the ratios.

    Parameters
    ----------
    first, second : str
        Ids of two materials.
    ratios : str, optional
        Whole drops of the first and the second, such as "1:9, 1:1, 9:1".

    Returns
    -------
    tuple of Rung
        The same codes for the same materials and ratios, so that the printed sheet holds.

    Raises
    ------
    BadNumber
        One material twice; or ratios that are no whole drops.

    Examples
    --------
    >>> [(rung.first, rung.second) for rung in ladder("rose-otto", "patchouli", "1:2, 2:1")]
    [(1, 2), (2, 1)]
    """
    problems = []
    if first == second:
        problems.append(Problem("materials", quoted(first), "two different materials"))
    pairs = []
    for text in ratios.split(","):
        found = re.fullmatch(r"\s*(\d{1,3})\s*:\s*(\d{1,3})\s*", text, re.ASCII)
        pair = (int(found[1]), int(found[2])) if found else (0, 0)
        if not (min(pair) >= 1 and sum(pair) <= MOST_DROPS):
            needed = f"two whole numbers of drops, such as 1:9, at most {MOST_DROPS} together"
            problems.append(Problem("ratios", quoted(text.strip()), needed))
        pairs.append(pair)
    if len(pairs) > MOST_RUNGS or len(set(pairs)) < len(pairs):
        needed = f"at most {MOST_RUNGS} ratios, each once"
        problems.append(Problem("ratios", quoted(ratios), needed))
    refuse_any(problems)
    draw = random.Random(f"{first} {second} {pairs}")
    codes = draw_codes(draw, len(pairs))
    return tuple(Rung(f"{code}", *pair) for code, pair in zip(codes, pairs, strict=True))


def rung_of(rungs: tuple[Rung, ...], code: str) -> Rung:
    """The rung with a code.

    Raises
    ------
    BadNumber
        No rung has it.
    """
    by_code = {rung.code: rung for rung in sorted(rungs)}
    check_known("best", code.strip(), by_code)
    return by_code[code.strip()]
