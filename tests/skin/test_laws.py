"""Laws of the skin check that hold for any oils, amounts, regions and uses."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blendkit.foundation import data
from blendkit.materials import catalogue
from blendkit.skin.limits import findings_of
from tests.tools.skin import REGIONS, rules_for, shares, verdicts_of

some_oils = st.lists(st.sampled_from(catalogue.oil_ids()), min_size=1, max_size=6, unique=True)
amounts = st.floats(1e-6, 0.08)
regions = st.sampled_from(REGIONS)
uses = st.sampled_from(["perfume oil", "body oil"])


@st.composite
def products(draw):
    oils = draw(some_oils)
    return {name: draw(amounts) for name in oils}, draw(regions), draw(uses)


@settings(deadline=None, max_examples=60)
@given(products())
def test_twice_the_oils_is_twice_every_amount(product):
    fractions, region, use = product
    rules = rules_for(fractions, region, use)
    for rule in rules:
        twice = rule.amount({name: 2 * part for name, part in fractions.items()})
        assert twice == pytest.approx(2 * rule.amount(fractions))


@settings(deadline=None, max_examples=60)
@given(products(), st.floats(0.0, 3.0))
def test_more_carrier_never_raises_a_share(product, carrier):
    fractions, region, use = product
    rules = rules_for(fractions, region, use)
    thinner = {name: part / (1 + carrier) for name, part in fractions.items()}
    for rule in rules:
        if rule.ceiling is not None:
            assert rule.share(thinner) <= rule.share(fractions) * (1 + 1e-12)


@settings(deadline=None, max_examples=60)
@given(products(), st.randoms(use_true_random=False))
def test_the_order_of_the_oils_does_not_matter(product, random):
    fractions, region, use = product
    shuffled = list(fractions)
    random.shuffle(shuffled)
    one = findings_of(rules_for(fractions, region, use), fractions)
    other = findings_of(rules_for(shuffled, region, use), fractions)
    assert shares(one) == pytest.approx(shares(other))
    assert sorted(f.verdict for f in one) == sorted(f.verdict for f in other)


@settings(deadline=None, max_examples=60)
@given(products())
def test_verdicts_are_four_and_no_figure_never_passes(product):
    fractions, region, use = product
    for finding in findings_of(rules_for(fractions, region, use), fractions):
        assert finding.verdict in {"within", "not settled", "over", "no limit on record"}
        if finding.rule.ceiling is None or math.isnan(finding.rule.ceiling):
            assert finding.verdict == "no limit on record"


@settings(deadline=None, max_examples=60)
@given(
    products(),
    st.sampled_from(data.table("oils").query("composition_known == 'no'")["id"].tolist()),
)
def test_no_all_clear_with_an_oil_of_unknown_composition(product, unknown):
    fractions, region, use = product
    rules = rules_for([*fractions, unknown], region, use)
    assert verdicts_of(rules, {**fractions, unknown: 1e-9}) != {"within"}


@settings(deadline=None, max_examples=40)
@given(products())
def test_every_oil_appears_somewhere(product):
    fractions, region, use = product
    rules = rules_for(fractions, region, use)
    assert set(fractions) == {name for rule in rules for name in rule.weights}


@settings(deadline=None, max_examples=40)
@given(products())
def test_the_eu_is_never_laxer_than_the_us(product):
    fractions, _, use = product
    worst = {}
    for region in ("EU", "US"):
        found = findings_of(rules_for(fractions, region, use), fractions)
        by_subject: dict[str, float] = {}
        for finding in found:
            if finding.rule.ceiling is not None:
                most = max(finding.share, by_subject.get(finding.rule.subject, 0.0))
                by_subject[finding.rule.subject] = most
        worst[region] = by_subject
    for subject, share in worst["US"].items():
        assert worst["EU"][subject] >= share, subject
