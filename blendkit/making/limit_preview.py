"""What one more addition would break, said before it falls.

The bottle is judged as it would be filled up to the mark with its carrier: that is the
weakest it can get, so what is over there stays over.
"""

from __future__ import annotations

from collections.abc import Iterable

from blendkit.blend.market import Market
from blendkit.foundation.units import ML_PER_M3, show
from blendkit.making.bench_events import Event
from blendkit.making.bench_log import step
from blendkit.making.mixture import Mixture
from blendkit.skin.check import rules_in
from blendkit.skin.limits import Finding, findings_of

NEXT_TO_NOTHING_M3 = 1e-9  # a thousandth of a millilitre is no overflow
_DROP_OR_TWO_M3 = 1e-7


def judged(
    mixture: Mixture,
    market: Market | None = None,
    among: Iterable[str] = (),
) -> tuple[Finding, ...]:
    """How the bottle, filled up, stands to every limit that applies, worst first.

    Parameters
    ----------
    mixture : Mixture
    market : Market, optional
        The plan's own where left out.
    among : iterable of str, optional
        Oils that may go in as well; their rules are looked up along with the others', which
        saves time when many additions are tried.
    """
    if not mixture.oils_kg:
        return ()
    rules = rules_in(mixture.plan.fields, market, sorted({*mixture.oils, *among}))
    return findings_of(rules, mixture.filled_up().mass_fractions())


def forewarned(
    mixture: Mixture,
    event: Event,
    market: Market | None = None,
    among: Iterable[str] = (),
) -> list[str]:
    """What an addition would break that is whole now, in sentences.

    Parameters
    ----------
    mixture : Mixture
        What is in the bottle now.
    event : Event
        An addition not made yet.
    market, among : optional
        As for `judged`.

    Returns
    -------
    list of str
        Limits passed and room overrun; empty where nothing new breaks.

    Raises
    ------
    BlendkitError
        The addition cannot be at all.
    """
    after, _ = step(mixture, event)
    names = {*after.oils, *among}
    broken = {_key(one) for one in judged(mixture, market, names) if one.is_broken}
    said = [
        f"{one.rule.subject} ({one.rule.rule_set}"
        f"{'' if one.rule.decides else ', advice'}) would {_how_far(one)}."
        for one in judged(after, market, names)
        if one.is_broken and _key(one) not in broken
    ]
    too_much = -after.room_m3
    # once the mark was passed knowingly, a drop or two more are not asked about again
    known = _DROP_OR_TWO_M3 - mixture.room_m3 if mixture.room_m3 < 0 else NEXT_TO_NOTHING_M3
    if too_much > known:
        said.append(f"It would pass the mark by {show(too_much * ML_PER_M3, 2)} mL.")
    return said


def _key(finding: Finding) -> tuple[str, str]:
    return finding.rule.rule_set, finding.rule.subject


def _how_far(finding: Finding) -> str:
    if not finding.rule.ceiling:
        return "be in the bottle, and is prohibited"
    return f"come to {show(finding.share)} times its limit in the full bottle"
