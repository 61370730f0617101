"""The card for free choosers: its guarantee by plain enumeration, and that it is not idle."""

from __future__ import annotations

import itertools
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import blendkit as bk
from blendkit.blend.blend import Blend
from blendkit.foundation.data import example_class
from blendkit.materials import catalogue
from blendkit.skin.limits import findings_of
from blendkit.teaching.class_document import BadClass, ClassPlan
from blendkit.teaching.class_reader import read_class
from blendkit.teaching.free_choice import card_of, proof_in_words
from tests.tools.skin import rules_for

CITRAL = ["litsea-cubeba", "lemongrass", "lemon"]  # share citral, and lemon burns in the sun
SUNNY = ["lemon", "grapefruit", "bitter-orange"]
SPICY = ["clove-bud", "cinnamon-leaf", "rose-otto"]  # share eugenol
PALETTES = [CITRAL, SUNNY, SPICY, ["peru-balsam", "geranium", "bergamot"], ["bergamot-fcf"]]


def a_class(oils, **fields: object) -> ClassPlan:
    notes = {catalogue.oil(name).note for name in oils}
    return read_class(
        {
            **example_class(),
            "oils": [{"id": name} for name in oils],
            "note_parts": dict.fromkeys(notes, 1),
            **fields,
        }
    )


def over_in_the_bottle(
    plan: ClassPlan, drops: dict[str, int], carrier: str, advice: bool = True
) -> list[str]:
    """What the package's own skin check says of a mixed bottle."""
    notes = {catalogue.oil(name).note for name in drops}
    blend = Blend.from_dict(
        {
            "bottle": plan.to_dict()["bottle"],
            "strength": "100 %",
            "drops_per_ml": plan.to_dict().get("drops_per_ml", 20),
            "note_parts": dict.fromkeys(notes, 1),
            "oils": [{"id": name, "drops": count} for name, count in drops.items()],
            "carriers": [{"id": carrier}],
        }
    )
    fractions = blend.bottle.mass_fractions()
    rules = rules_for(list(drops), plan.market.region, plan.market.use)
    return [
        found.rule.subject
        for found in findings_of(rules, fractions)
        if found.verdict in ("over", "not settled") and (advice or found.rule.decides)
    ]


def every_mix(card):
    """Every mix that keeps to the card, drop by drop."""
    names = list(card.caps)
    for counts in itertools.product(*(range(cap + 1) for cap in card.caps.values())):
        drops = {name: count for name, count in zip(names, counts, strict=True) if count}
        if drops and not card.check_mix(drops):
            yield drops


@pytest.mark.parametrize("oils", PALETTES, ids=lambda oils: oils[0])
@pytest.mark.parametrize(("bottle", "strength"), [("10 mL", "5 %"), ("30 mL", "2 %")])
def test_not_one_of_all_mixes_is_over_by_the_package_s_own_check(oils, bottle, strength):
    plan = a_class(oils, bottle=bottle, strength=strength)
    card = card_of(plan, advice_binds=bottle == "30 mL")
    seen = 0
    for drops in every_mix(card):
        for carrier in plan.carriers:
            advice = bottle == "30 mL"
            assert over_in_the_bottle(plan, drops, carrier.id, advice) == []
        seen += 1
    assert seen > 0


@pytest.mark.parametrize("oils", PALETTES[:2], ids=lambda oils: oils[0])
def test_the_worst_share_is_the_largest_of_all_mixes(oils):
    plan = a_class(oils, bottle="10 mL", strength="7 %")
    card = card_of(plan)
    fields, carrier = plan.fields, catalogue.carrier(card.worst_carrier)
    largest = dict.fromkeys((p.rule.rule_set + p.rule.subject for p in card.proofs), 0.0)
    for drops in every_mix(card):
        m3 = {name: n / fields.drops_per_ml_of(name) * 1e-6 for name, n in drops.items()}
        kg = {name: v * catalogue.oil(name).density_kg_per_m3 for name, v in m3.items()}
        rest = (fields.liquid_m3 - sum(m3.values())) * carrier.density_kg_per_m3
        whole = sum(kg.values()) + rest
        for proof in card.proofs:
            key = proof.rule.rule_set + proof.rule.subject
            share = proof.rule.share({name: mass / whole for name, mass in kg.items()})
            largest[key] = max(largest[key], share)
    for proof in card.proofs:
        key = proof.rule.rule_set + proof.rule.subject
        assert float(proof.worst_share) == pytest.approx(largest[key], rel=1e-9)
        assert isinstance(proof.worst_share, Fraction)


@pytest.mark.parametrize("oils", [*PALETTES[:4], [e["id"] for e in example_class()["oils"]]],
                         ids=lambda oils: oils[0])  # fmt: skip
def test_every_share_is_at_most_one_and_no_cap_can_be_raised(oils):
    plan = a_class(oils, bottle="20 mL", margin="100 %")
    card = card_of(plan)
    assert all(0 <= proof.worst_share <= 1 for proof in card.proofs)
    for name, cap in card.caps.items():
        if cap == card.total_drops or cap == card.most_suns // card.suns.get(name, 10**9):
            continue
        if card.suns.get(name) and (cap + 1) * card.suns[name] > card.most_suns:
            continue
        # one drop more, with the worst of what the other caps still allow, is over some limit
        raised = {**card.caps, name: cap + 1}
        others = [n for n in raised if n != name]
        assert any(
            over_in_the_bottle(plan, mix, card.worst_carrier)
            for mix in mixes_with(card, name, cap + 1, others)
        )


def largest_share(plan: ClassPlan, drops: dict[str, int], drop=1.0, fill=1.0) -> float:
    """The largest share of a limit in a bottle with other drops, filled otherwise. [-]"""
    carrier = min(plan.carriers, key=lambda each: each.density_kg_per_m3)
    sizes = {name: 1e-6 * drop / plan.fields.drops_per_ml_of(name) for name in drops}
    kg = {n: c * sizes[n] * catalogue.oil(n).density_kg_per_m3 for n, c in drops.items()}
    oils_m3 = sum(count * sizes[name] for name, count in drops.items())
    rest = (plan.fields.liquid_m3 * fill - oils_m3) * carrier.density_kg_per_m3
    whole = sum(kg.values()) + rest
    fractions = {name: mass / whole for name, mass in kg.items()}
    rules = rules_for(list(drops), plan.market.region, plan.market.use)
    return max((rule.share(fractions) for rule in rules if rule.ceiling is not None), default=0)


@pytest.mark.parametrize("oils", PALETTES, ids=lambda oils: oils[0])
@pytest.mark.parametrize("margin", [None, "60 %"])
def test_every_mix_keeps_the_margin_and_a_slip_has_its_worst_of_all_mixes(oils, margin):
    plan = a_class(
        oils, strength="2 %", bottle="30 mL", **({"margin": margin} if margin else {})
    )
    card = card_of(plan)
    allowed = 0.85 if margin is None else 0.6
    mixes = list(every_mix(card))
    assert len(mixes) > 1
    shares = [largest_share(plan, drops) for drops in mixes]
    assert max(shares) <= allowed * (1 + 1e-12)
    assert max(shares) == pytest.approx(float(card.proofs[0].worst_share), rel=1e-9)
    for deviation in card.deviations:
        sizes = float(deviation.drop), float(deviation.fill)
        found = max(largest_share(plan, drops, *sizes) for drops in mixes)
        assert deviation.worst_share == pytest.approx(found, rel=1e-9)
    assert [float(each.drop) >= 1 >= float(each.fill) for each in card.deviations] == [True] * 3


def test_with_the_usual_margin_a_slip_is_within_the_limit_and_both_are_said_to_be_over():
    # 18 drops to the mL in place of 20, or 27 mL in place of 30: 0.85 / 0.9 is 0.944
    card = card_of(a_class(SPICY, bottle="30 mL"))
    bigger, short, both = card.deviations
    assert 0.85 < bigger.worst_share < 0.96
    assert 0.85 < short.worst_share < 0.96
    words = " ".join(proof_in_words(card))
    assert "27 mL in the bottle" in words
    assert "drops 11 % bigger" in words
    assert (both.worst_share > 1) == ("over it" in words)


def test_one_oil_with_suns_has_a_cap_and_no_suns():
    card = card_of(a_class(["lemon", "lavender"], bottle="30 mL"))
    assert card.suns == {}
    assert 0 < card.caps["lemon"] < card.total_drops
    (proof,) = [each for each in card.proofs if each.rule.kind == "phototoxic sum"]
    assert proof.worst_share <= Fraction(85, 100)
    # bergamot has no drop in this bottle, so lemon shares its budget with nobody
    assert card_of(a_class(["bergamot", "lemon"], bottle="10 mL")).suns == {}


@pytest.mark.parametrize("margin", ["0 %", "120 %", 85, "much"])
def test_a_margin_that_is_none_is_refused(margin):
    with pytest.raises(BadClass, match="margin"):
        a_class(SUNNY, margin=margin)


def mixes_with(card, name: str, count: int, others: list[str]):
    """The raised oil with the corners of what else the card allows."""
    for order in itertools.permutations(others, min(len(others), 3)):
        mix = {name: count}
        for other in order:
            room = card.total_drops - sum(mix.values())
            suns = card.most_suns - card.suns_of(mix)
            fit = suns // card.suns[other] if card.suns.get(other) else room
            if (take := min(card.caps[other], room, fit)) > 0:
                mix[other] = take
        yield mix


def test_phototoxic_oils_share_one_budget():
    card = card_of(a_class(SUNNY))
    assert set(card.suns) == set(SUNNY)
    alone = {name: card.most_suns // cost for name, cost in card.suns.items()}
    assert all(card.caps[name] <= drops for name, drops in alone.items())
    both = {name: card.caps[name] for name in SUNNY}
    assert any("suns" in line for line in card.check_mix(both))


def test_a_constituent_of_several_oils_is_summed():
    together, alone = (
        card_of(a_class(oils, margin="100 %")) for oils in (CITRAL, ["lemongrass"])
    )
    citral = [p for p in together.proofs if "citral" in p.rule.subject.lower()]
    assert any(len(proof.rule.weights) == 3 for proof in citral)
    assert together.caps["lemongrass"] <= alone.caps["lemongrass"]


def test_an_oil_of_which_no_drop_fits_is_left_out_in_words():
    # bergamot may be 0.4 % of the bottle; a drop of a twentieth of a millilitre is 0.5 % of it
    card = card_of(a_class(["bergamot", "lavender"]))
    assert card.caps["bergamot"] == 0
    assert "over the limit" in card.left_out["bergamot"]
    assert "bergamot" not in card.suns
    assert any("Bergamot" in line for line in proof_in_words(card))


def test_where_no_drop_of_anything_fits_it_is_refused():
    with pytest.raises(BadClass, match="not one drop of 1 oil"):
        card_of(a_class(["bergamot"]))


def test_an_oil_without_a_limit_is_named_and_not_passed_in_silence():
    card = card_of(a_class(["frankincense-carterii", "lemon"]))
    assert "frankincense-carterii" in card.without_figure
    assert any("not judged" in line for line in proof_in_words(card))


def test_the_lightest_carrier_counts():
    assert card_of(a_class(SUNNY, carriers=["castor", "squalane"])).worst_carrier == "squalane"
    heavy = card_of(a_class(["geranium"], carriers=["castor"]))
    light = card_of(a_class(["geranium"], carriers=["squalane"]))
    assert heavy.caps["geranium"] > light.caps["geranium"]


def test_without_advice_only_what_decides_counts():
    # the handbook would have less sandalwood than the standards
    plan = a_class(["sandalwood-album"])
    with_it, without = card_of(plan), card_of(plan, advice_binds=False)
    assert without.caps["sandalwood-album"] > with_it.caps["sandalwood-album"]
    assert all(proof.rule.decides for proof in without.proofs)


@settings(max_examples=25, deadline=None)
@given(st.data())
def test_no_mix_by_the_card_is_over_for_any_palette(data):
    known = list(catalogue.oils().index)
    oils = data.draw(st.lists(st.sampled_from(known), min_size=1, max_size=8, unique=True))
    plan = a_class(oils, bottle=data.draw(st.sampled_from(["10 mL", "30 mL"])))
    try:
        card = card_of(plan)
    except BadClass:
        return
    assert all(proof.worst_share <= 1 for proof in card.proofs)
    for _ in range(5):
        drops, suns, room = {}, card.most_suns, card.total_drops
        for name in data.draw(st.permutations(list(card.caps))):
            fit = suns // card.suns[name] if card.suns.get(name) else room
            count = data.draw(st.integers(0, min(card.caps[name], room, fit)))
            if count:
                drops[name] = count
                room -= count
                suns -= count * card.suns.get(name, 0)
        if drops:
            assert card.check_mix(drops) == []
            for carrier in plan.carriers:
                assert over_in_the_bottle(plan, drops, carrier.id) == []


def test_what_breaks_the_card_is_said():
    card = card_of(a_class([e["id"] for e in example_class()["oils"]]))
    lines = card.check_mix({"rose-absolute": 10, "lavender": 35})
    assert any("the card allows" in line and "Rose" in line for line in lines)
    assert any("in all" in line for line in lines)
    assert card.check_mix({"lavender": 8}) == []
    assert card.check_mix({"myrrh": 1})  # not on the palette


# --- own materials ------------------------------------------------------------------------


@pytest.mark.usefixtures("own_folder")
def test_a_carrier_that_brings_something_is_refused_since_no_card_counts_it():
    plain = bk.keep_mixture("plain (invented)", {"jojoba": 1, "squalane": 1}, note="carrier")
    plan = a_class(["geranium"], carriers=[plain.id])
    for drops in every_mix(card_of(plan)):
        assert not over_in_the_bottle(plan, drops, plain.id)
    infusion = {"clove-bud": 2, "jojoba": 98}
    clove = bk.keep_mixture("clove oil (invented)", infusion, note="carrier")
    inner = bk.keep_mixture("half of it (invented)", {clove.id: 1, "jojoba": 1}, note="carrier")
    petals = bk.keep_mixture("infusion (invented)", {"jojoba": 1}, botanicals="rose petals")
    for own, held in [(clove, "Clove bud"), (inner, "Clove bud"), (petals, "rose petals")]:
        with pytest.raises(
            BadClass, match=f"{own.name.split(' (')[0]}.*{held}.* in it"
        ) as caught:
            a_class(["lavender"], carriers=["jojoba", own.id])
        assert "no card counts what is poured" in str(caught.value)


@pytest.mark.usefixtures("own_folder")
def test_a_dilution_on_the_tables_counts_as_what_is_in_it():
    dilution = bk.keep_mixture("geranium 50 % (invented)", {"geranium": 1, "jojoba": 1})
    plan = a_class([dilution.id])
    card = card_of(plan)
    alone = card_of(a_class(["geranium"]))
    assert card.caps[dilution.id] > alone.caps["geranium"]
    for drops in every_mix(card):
        assert not over_in_the_bottle(plan, drops, "jojoba")


def test_a_set_blend_by_mass_is_refused_since_a_class_counts_drops():
    blend = {
        "bottle": "10 mL", "strength": "20 %", "by": "mass", "note_parts": {"middle": 1},
        "oils": [{"id": "lavender"}], "carriers": [{"id": "jojoba"}],
    }  # fmt: skip
    document = {**example_class(), "blends": [{"blend": blend}]}
    with pytest.raises(BadClass, match="got a blend by mass; needs a blend by drops"):
        read_class({key: each for key, each in document.items() if key != "oils"})
