"""Time of the nearest blend for 12 oils and 120 drops, and the invented blend by enumeration.

Run as a plain script: ``python tests/benchmarks/reformulation_benchmark.py``.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from functools import partial

import numpy as np

from blendkit.blend.blend import Blend
from blendkit.skin.limits import UNKNOWN
from blendkit.skin.reformulation import (
    GENTLER_KINDS,
    Infeasible,
    Reformulation,
    most_drops_of,
    reformulate,
    strongest_within_limits,
)
from tests.tools.skin import rules_for

REPEATS = 5
CARRIERS = [{"id": "jojoba", "parts": 3}, {"id": "mct-fractionated-coconut"}]
NOTE_PARTS = {"top": 2, "middle": 1, "base": 2}
TWELVE_OILS = (
    "bergamot", "lime-expressed", "lemon", "grapefruit", "lemongrass", "lavender", "geranium",
    "clove-bud", "cinnamon-leaf", "patchouli", "cedarwood-atlas", "oakmoss-absolute",
)  # fmt: skip


def blend_of(oils: tuple[str, ...], bottle: str) -> Blend:
    return Blend.from_dict(
        {
            "bottle": bottle,
            "strength": "20 %",
            "note_parts": NOTE_PARTS,
            "oils": [{"id": oil} for oil in oils],
            "carriers": CARRIERS,
        }
    )


def say(text: str = "") -> None:
    sys.stdout.write(text + "\n")


def timed(name: str, work: Callable[[], Reformulation]) -> None:
    seconds = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        try:
            found = work()
        except Infeasible as error:
            found = error
        seconds.append(time.perf_counter() - start)
    if isinstance(found, Reformulation):
        result = f"{found.moved} drops moved, optimal: {found.optimal}"
    else:
        result = f"none exists, {len(found.problems)} limits in the way"
    say(f"  {name:<28} median {sorted(seconds)[REPEATS // 2]:6.3f} s   {result}")


def twelve_oils() -> None:
    whole = blend_of(TWELVE_OILS, "30 mL")
    say(f"{len(whole.oil_drops)} oils, {sum(whole.oil_drops.values())} drops in 30 mL")
    for use in ("perfume oil", "body oil"):
        blend = whole.with_(market={"use": use})
        rules = rules_for(TWELVE_OILS, use=use)
        say(f" {use}: {sum(rule.ceiling is not None for rule in rules)} limits")
        for keep in (None, "total", "ratio", "both"):
            timed(f"keep={keep}", partial(reformulate, blend, keep=keep))
        gentler = partial(reformulate, blend, swaps=GENTLER_KINDS)
        timed("with gentler kinds", gentler)
        timed("strongest", partial(strongest_within_limits, blend))
        timed("most lavender", partial(most_drops_of, blend, "lavender"))


def shares_of_limits(blend: Blend, counts: np.ndarray) -> np.ndarray:
    """The largest share of any limit on record, for each row of counts."""
    names = list(blend.oil_drops)
    ones = [blend.bottle.oils[place] for place in range(len(names))]
    drop = {p.material: (p.volume_m3 / p.drops, p.mass_kg / p.drops) for p in ones}
    volume_m3, mass_kg = np.array([drop[name] for name in names]).T
    poured = blend.bottle.carriers
    density = sum(p.mass_kg for p in poured) / sum(p.volume_m3 for p in poured)
    left_m3 = blend.liquid_m3 - counts @ volume_m3
    masses = counts * mass_kg
    fractions = masses / (masses.sum(axis=1) + left_m3 * density)[:, None]
    worst = np.where(left_m3 < -1e-15, np.inf, 0.0)
    for rule in rules_for(names):
        if rule.ceiling is not None:
            amount = fractions @ [rule.weights.get(name, 0.0) for name in names]
            used = amount / rule.ceiling if rule.ceiling else np.where(amount > 0, np.inf, 0)
            worst = np.maximum(worst, used)
    return worst


def by_enumeration() -> None:
    blend = blend_of(("bergamot", "lime-expressed", "geranium", "patchouli"), "10 mL")
    say("An invented 20 % blend, every nearer blend tried")
    start = time.perf_counter()
    found = reformulate(blend)
    say(f"  now     {dict(blend.oil_drops)}")
    say(f"  nearest {dict(found.blend.oil_drops)}: {found.moved} moved")
    say(f"  solved in {time.perf_counter() - start:.3f} s")
    now = np.array(list(blend.oil_drops.values()))
    reach = found.moved
    steps = np.indices((2 * reach + 1,) * len(now)).reshape(len(now), -1).T - reach
    moved = np.abs(steps).sum(axis=1)
    near = (moved <= reach) & ((now + steps) >= 0).all(axis=1)
    counts, moved = (now + steps)[near], moved[near]
    worst = shares_of_limits(blend, counts)
    for some in range(reach + 1):
        at = moved == some
        say(
            f"  {some:>2} moved: {at.sum():>6} blends, {(worst[at] <= 1 + 1e-9).sum()} within; "
            f"least worst share of a limit {worst[at].min() * 100:.1f} %"
        )
    fractions = found.blend.bottle.mass_fractions()
    verdicts = {rule.verdict(fractions) for rule in rules_for(blend.oil_drops)}
    say(f"  verdicts of the nearest: {sorted(verdicts - {UNKNOWN})}")
    for sentence in found.sentences:
        say(f"    {sentence}")


if __name__ == "__main__":
    by_enumeration()
    say()
    twelve_oils()
