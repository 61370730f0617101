"""A card for free choosers, proved for every bottle that can be mixed by it.

The card's rule needs no arithmetic beyond counting: never more drops of an oil than its cap,
never more drops in all than the card says, never more suns than the card says (each drop of an
oil that sunlight turns against the skin costs suns, so all such oils share one budget), and
fill up to the mark with carrier.

The proof is `blendkit.teaching.choice_proof`; it holds for the drop sizes of the class, and
leaves the class's margin below each limit. What of the margin bigger drops or a bottle filled
short take is calculated in the same way (`Deviation`).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from blendkit.blend.market import Market
from blendkit.foundation.errors import Problem
from blendkit.foundation.units import counted, show
from blendkit.materials import catalogue
from blendkit.materials.search import names_of
from blendkit.teaching.choice_proof import ClassBottle, Proof
from blendkit.teaching.class_document import BadClass, ClassPlan


class Deviation(NamedTuple):
    """The largest share of any limit, over all mixes of the card, after a deviation.

    Attributes
    ----------
    drop, fill : Fraction
        Volume of a drop, and of what is in the bottle, relative to the plan's. [-]
    worst_share : float
        [-]
    """

    drop: Fraction
    fill: Fraction
    worst_share: float


Sizes = tuple[Fraction, Fraction]  # of a drop, and of what is in the bottle
# Judgement, no published source: drops a ninth bigger (18 to the mL, not 20), a tenth unfilled
_BIGGER, _SHORT = Fraction(10, 9), Fraction(9, 10)
_DEVIATIONS = ((_BIGGER, Fraction(1)), (Fraction(1), _SHORT), (_BIGGER, _SHORT))


@dataclass(frozen=True)
class ChoiceCard:
    """The most drops of each oil in one bottle, and what proves them.

    Attributes
    ----------
    total_drops : int
        Most drops in all.
    caps : mapping of str to int
        Most drops of each oil, in the palette's order; 0 for an oil that is left out.
    suns : mapping of str to int
        What one drop of a phototoxic oil costs.
    most_suns : int
    proofs : tuple of Proof
        Every limit on record that applies, the tightest first.
    without_figure : tuple of str
        Oils of which some figure or limit is missing: not judged, which is no pass.
    left_out : mapping of str to str
        Oils of which not even one drop fits, and why.
    worst_carrier : str
        The lightest carrier of the class, with which the proof counts.
    bottle_ml : float
    market : Market
    margin : float
        Share of each limit that the card may use. [-]
    deviations : tuple of Deviation
        Bigger drops, a bottle filled short, and both.
    """

    total_drops: int
    caps: Mapping[str, int]
    suns: Mapping[str, int]
    most_suns: int
    proofs: tuple[Proof, ...]
    without_figure: tuple[str, ...]
    left_out: Mapping[str, str]
    worst_carrier: str
    bottle_ml: float
    market: Market
    margin: float
    deviations: tuple[Deviation, ...]

    def suns_of(self, drops: Mapping[str, int]) -> int:
        """Suns that a mix costs."""
        return sum(self.suns.get(oil_id, 0) * count for oil_id, count in drops.items())

    def check_mix(self, drops: Mapping[str, int]) -> list[str]:
        """Sentences on what breaks the card's rule; none where a mix keeps to it."""
        sentences = []
        for oil_id, count in drops.items():
            cap = self.caps.get(oil_id, 0)
            if count > cap:
                name = catalogue.oil(oil_id).name
                sentences.append(f"{counted(count, 'drop')} of {name}; the card allows {cap}.")
        total, suns = sum(drops.values()), self.suns_of(drops)
        if total > self.total_drops:
            sentences.append(
                f"{counted(total, 'drop')} in all; the card allows {self.total_drops}."
            )
        if suns > self.most_suns:
            sentences.append(f"{counted(suns, 'sun')}; the card allows {self.most_suns}.")
        return sentences


def card_of(plan: ClassPlan, advice_binds: bool = True) -> ChoiceCard:
    """The card for a class's palette and bottle.

    Parameters
    ----------
    plan : ClassPlan
    advice_binds : bool, optional
        Treat advisory limits, such as a handbook's, as binding.

    Returns
    -------
    ChoiceCard

    Raises
    ------
    BadClass
        Not one drop of any oil fits within the limits.

    Notes
    -----
    All caps are raised together, one drop in turn, the oil with the tightest limit of its own
    last; an oil stops where one drop more would let some mix of the card pass a limit, or at
    the drops in all. So the smallest cap is as large as raising in turn makes it, and no cap
    can be raised by itself.
    """
    bottle = ClassBottle(plan, advice_binds)
    caps = bottle.raise_caps()
    if not any(caps.values()):
        got = f"not one drop of {counted(len(caps), 'oil')} in {show(bottle.bottle_ml)} mL"
        fix = "Take a larger bottle or other oils."
        raise BadClass([Problem("oils", got, "an oil of which one drop is within limits", fix)])
    proofs = [bottle.proof(form, caps) for form in bottle.forms]
    return ChoiceCard(
        total_drops=plan.total_drops,
        caps=caps,
        suns={name: cost for name, cost in bottle.suns.items() if caps[name]},
        most_suns=bottle.most_suns,
        proofs=tuple(sorted(proofs, key=lambda proof: -proof.worst_share)),
        without_figure=bottle.without_figure(),
        left_out={name: bottle.why_left_out(name) for name, cap in caps.items() if cap == 0},
        worst_carrier=bottle.carrier.id,
        bottle_ml=bottle.bottle_ml,
        market=plan.market,
        margin=plan.margin,
        deviations=tuple(_deviation(bottle, proofs, caps, each) for each in _DEVIATIONS),
    )


def _deviation(
    meant: ClassBottle, proofs: Sequence[Proof], caps: Mapping[str, int], sizes: Sizes
) -> Deviation:
    """The worst of the card's own mixes in a bottle that is not as meant."""
    bottle = ClassBottle(meant.plan, meant.advice_binds, *sizes)
    bottle.suns, bottle.most_suns = meant.suns, meant.most_suns
    density = [mass / size for mass, size in zip(bottle.drop_kg, bottle.drop_m3, strict=True)]
    density.append(bottle.carrier_density)
    # no share grows by more than this, so most limits need no second proof
    most = sizes[0] / sizes[1] * max(density) / min(density)
    worst, pairs = Fraction(0), zip(proofs, bottle.forms, strict=True)
    for before, form in sorted(pairs, key=lambda each: -each[0].worst_share):
        if before.worst_share * most <= worst:
            break
        worst = max(worst, bottle.proof(form, caps).worst_share)
    return Deviation(*sizes, float(worst))


def deviation_in_words(card: ChoiceCard, deviation: Deviation) -> str:
    """A deviation with its number, such as "With drops 11 % bigger …"."""
    bigger = f"drops {show(float(deviation.drop - 1) * 100, 2)} % bigger"
    filled = f"only {show(float(deviation.fill) * card.bottle_ml)} mL in the bottle"
    what = [bigger] * (deviation.drop > 1) + [filled] * (deviation.fill < 1)
    share, over = show(deviation.worst_share * 100), ", over it" * (deviation.worst_share > 1)
    return f"With {' and '.join(what)} the fullest mix is at {share} % of a limit{over}."


def drops_in_words(drops: Mapping[str, int]) -> str:
    """Drops of a mix with their oils, such as "5 Lavender, 2 Lemon"."""
    return ", ".join(f"{n} {catalogue.oil(name).name}" for name, n in drops.items() if n)


def proof_in_words(card: ChoiceCard) -> list[str]:
    """The proof in sentences: for the teacher, not for the card."""
    carrier = catalogue.carrier(card.worst_carrier).name
    sentences = [
        f"Every mix of whole drops that keeps to the card was covered: {len(card.proofs)} "
        f"limits on record ({card.market.region}, as a {card.market.use}), each at its largest "
        f"over all such mixes, in exact fractions. Counted in {show(card.bottle_ml)} mL "
        f"filled up with {carrier}, the lightest carrier of the class. None may use more than "
        f"{show(card.margin * 100)} % of a limit."
    ]
    sentences += [deviation_in_words(card, deviation) for deviation in card.deviations]
    for proof in card.proofs[:5]:
        sentences.append(
            f"{proof.rule.rule_set}, {proof.rule.subject}: at most "
            f"{show(float(proof.worst_share) * 100)} % of the limit, with "
            f"{drops_in_words(proof.worst_mix)}."
        )
    if card.without_figure:
        names = names_of(card.without_figure)
        sentences.append(
            f"Some figure or limit is not on record, so not judged there: {names}."
        )
    return [*sentences, *card.left_out.values()]
