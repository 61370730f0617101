"""A bottle of a class against all that holds for it: its seat, the card, and the limits.

One judge for the results, for what was handed in and for the journal, so that what a seat
leaves out is heard wherever a bottle is looked at.
"""

from typing import NamedTuple

from blendkit.blend.blend import Blend
from blendkit.foundation.units import ML_PER_M3, counted, show
from blendkit.materials.catalogue import Carrier, Oil
from blendkit.skin.check import findings_in
from blendkit.skin.limits import Finding
from blendkit.teaching.class_document import ClassPlan, Seat
from blendkit.teaching.free_choice import ChoiceCard
from blendkit.teaching.plan import HERE, cautions_in_words, cautions_of, why_without


class Judgement(NamedTuple):
    """What was found in a bottle.

    Attributes
    ----------
    left_out : tuple of (str, str)
        Oils and carriers in it that its seat leaves out, by name, each with the reason.
    broken : tuple of str
        Sentences on the class, the card and the limits.
    cautions : tuple of str
        Cautions on record for this seat and this bottle; they forbid nothing.
    """

    left_out: tuple[tuple[str, str], ...]
    broken: tuple[str, ...]
    cautions: tuple[str, ...]

    @property
    def sentences(self) -> tuple[str, ...]:
        """All of it; empty where nothing was found."""
        leave = (
            f"has {name}: {why if why == HERE else f'leave it out ({why})'}."
            for name, why in self.left_out
        )
        return (*leave, *self.broken, *(f"◐ {one}" for one in self.cautions))


def judge(
    plan: ClassPlan, card: ChoiceCard | None, seat: Seat | None, blend: Blend
) -> Judgement:
    """Judge the bottle of a seat; without a seat only by the class, the card and the limits."""
    drops = dict(blend.oil_drops)
    materials = _materials(blend)
    left_out: list[tuple[str, str]] = []
    broken = _against_class(plan, blend)
    if seat is None:
        broken.append(
            "belongs to no seat of this class: not checked for what a seat leaves out."
        )
    else:
        found = [(each.name, why_without(seat, each)) for each in materials.values()]
        left_out = [(name, why) for name, why in found if why]
        most, total = plan.most_drops(seat), sum(drops.values())
        if seat.strength_cap is not None and total > most:
            broken.append(f"{counted(total, 'drop')}; this seat has at most {most}.")
    if card is not None:
        on_card = {name: count for name, count in drops.items() if name in card.caps}
        broken += [f"against the card: {one}" for one in card.check_mix(on_card)]
    findings = findings_in(blend.bottle, plan.market)
    broken += [f"over a limit: {_over_in_words(one)}." for one in findings if one.is_broken]
    cautions = cautions_of(seat, materials) if seat else ()
    return Judgement(tuple(left_out), tuple(broken), tuple(cautions_in_words(cautions)))


def _materials(blend: Blend) -> dict[str, Oil | Carrier]:
    """Oils, then carriers, by id."""
    oils: list[Oil | Carrier] = [part.oil for part in blend.oils]
    return {each.id: each for each in (*oils, *(part.carrier for part in blend.carriers))}


def _against_class(plan: ClassPlan, blend: Blend) -> list[str]:
    """Sentences on oils, carriers and a size that are not those of the class."""
    broken = [
        f"{each.name} is not in this class."
        for name, each in _materials(blend).items()
        if name not in plan.materials
    ]
    got, needed = (show(each.liquid_m3 * ML_PER_M3) for each in (blend, plan.fields))
    return broken if got == needed else [*broken, f"{got} mL; this class fills {needed} mL."]


def _over_in_words(finding: Finding) -> str:
    rule = finding.rule
    of = f"{show(finding.share)} times" if rule.ceiling else "prohibited"
    advice = "" if rule.decides else ", advice"
    perhaps = "" if finding.is_over else ", not settled"
    return f"{rule.subject} ({rule.rule_set}{advice}): {of}{perhaps}"
