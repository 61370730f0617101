"""Preview of the limits that one more addition would pass.

The bottle is judged as filled up to the mark with its carrier: that is the weakest it can get,
so a limit passed there remains passed.
"""

from collections.abc import Collection, Iterable

from blendkit.blend.market import Market
from blendkit.foundation.units import show, show_ml
from blendkit.making.bench_events import Drops, Event
from blendkit.making.bench_log import apply
from blendkit.making.mixture import Mixture
from blendkit.materials.catalogue import unfold
from blendkit.skin.check import rules_in
from blendkit.skin.limits import Finding, findings_of

NEGLIGIBLE_M3 = 1e-9  # a thousandth of a millilitre is no overflow
_DROP_OR_TWO_M3 = 1e-7


def check_limits(
    mixture: Mixture, market: Market | None = None, among: Iterable[str] = ()
) -> tuple[Finding, ...]:
    """Check the bottle, filled up, against every limit that applies, worst first.

    Parameters
    ----------
    mixture : Mixture
    market : Market, optional
        The plan's own where left out.
    among : iterable of str, optional
        Further oils whose rules are looked up as well, which saves time when many additions
        are tried.
    """
    if not mixture.oils_kg:
        return ()
    rules = rules_in(mixture.plan.fields, market, sorted({*mixture.oils, *among}))
    return findings_of(rules, unfold(mixture.fill_up().mass_fractions()))


def preview_limits(
    mixture: Mixture, event: Event, market: Market | None = None, among: Iterable[str] = ()
) -> list[str]:
    """List the limits that an addition would newly pass.

    Parameters
    ----------
    mixture : Mixture
        Present content of the bottle.
    event : Event
        An addition not made yet.
    market, among : optional
        As for `check_limits`.

    Returns
    -------
    list of str
        Sentences on limits passed and on room overrun; empty where there is none.

    Raises
    ------
    BlendkitError
        The addition is impossible.
    """
    after, _ = apply(mixture, event)
    names = {*after.oils, *among}
    return _new_limits(mixture, after, _broken(mixture, market, names), market, names)


def preview_drops(
    mixture: Mixture, oils: Collection[str], market: Market | None = None
) -> dict[str, list[str]]:
    """List the limits that one more drop of each oil would newly pass, by oil.

    As `preview_limits` for each; the present bottle is checked once.
    """
    present = _broken(mixture, market, oils)
    return {
        name: _new_limits(mixture, apply(mixture, Drops(name, 1))[0], present, market, oils)
        for name in oils
    }


def _broken(mixture: Mixture, market: Market | None, names: Iterable[str]) -> set[str]:
    return {one.rule.name for one in check_limits(mixture, market, names) if one.is_broken}


def _new_limits(
    before: Mixture,
    after: Mixture,
    present: set[str],
    market: Market | None,
    names: Iterable[str],
) -> list[str]:
    sentences = [
        f"{one.rule.subject} ({one.rule.rule_set}"
        f"{'' if one.rule.decides else ', advice'}) would {_how_far(one)}."
        for one in check_limits(after, market, names)
        if one.is_broken and one.rule.name not in present
    ]
    too_much = -after.room_m3
    # once the mark was passed knowingly, a drop or two more are not asked about again
    accepted = _DROP_OR_TWO_M3 - before.room_m3 if before.room_m3 < 0 else NEGLIGIBLE_M3
    if too_much > accepted:
        sentences.append(f"It would pass the mark by {show_ml(too_much, 2)}.")
    return sentences


def _how_far(finding: Finding) -> str:
    far = f"reach {show(finding.share)} times its limit in the full bottle"
    return far if finding.rule.ceiling else "be in the bottle, and is prohibited"
