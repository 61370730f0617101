"""What one more addition would break, said before it falls.

The bottle is judged as it would be filled up to the mark with its carrier: that is the
weakest it can get, so what is over there stays over.
"""

from __future__ import annotations

from blendkit.foundation.units import ML_PER_M3, show
from blendkit.making.bench_events import Event
from blendkit.making.bench_log import Bench
from blendkit.making.mixture import Mixture
from blendkit.skin.check import rules_for
from blendkit.skin.limits import VERDICTS, Finding, findings_of

NEXT_TO_NOTHING_M3 = 1e-9  # a thousandth of a millilitre is no overflow


def judged(
    mixture: Mixture, region: str = "EU", use: str = "perfume oil"
) -> tuple[Finding, ...]:
    """How the bottle, filled up, stands to every limit that applies, worst first.

    Parameters
    ----------
    mixture : Mixture
    region, use : str, optional
        As for `blendkit.skin.check.rules_for`.
    """
    if not mixture.oils:
        return ()
    rules = rules_for(sorted(mixture.oils), region, use)
    return findings_of(rules, mixture.filled_up().mass_fractions())


def forewarned(
    bench: Bench, event: Event, region: str = "EU", use: str = "perfume oil"
) -> list[str]:
    """What an addition would break that is whole now, in sentences.

    Parameters
    ----------
    bench : Bench
    event : Event
        An addition not made yet.
    region, use : str, optional

    Returns
    -------
    list of str
        Limits passed and room overrun; empty where nothing new breaks.

    Raises
    ------
    BlendkitError
        The addition cannot be at all.
    """
    before, after = bench.mixture, bench.after(event).mixture
    broken = _over(before, region, use)
    said = [
        f"{finding.rule.subject} ({finding.rule.rule_set}"
        f"{'' if finding.rule.decides else ', advice'}) would {_how_far(finding)}."
        for key, finding in _over(after, region, use).items()
        if key not in broken
    ]
    too_much = -after.room_m3
    if too_much > NEXT_TO_NOTHING_M3 and too_much > -before.room_m3:
        said.append(f"It would pass the mark by {show(too_much * ML_PER_M3, 2)} mL.")
    return said


def _how_far(finding: Finding) -> str:
    if not finding.rule.ceiling:
        return "be in the bottle, and is prohibited"
    return f"come to {show(finding.share)} times its limit in the full bottle"


def _over(mixture: Mixture, region: str, use: str) -> dict[tuple[str, str], Finding]:
    return {
        (finding.rule.rule_set, finding.rule.subject): finding
        for finding in judged(mixture, region, use)
        if finding.verdict == VERDICTS["over"]
    }
