"""One rule by hand: what it weighs, where it ends, and in which order findings stand."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendkit.foundation import schema
from blendkit.skin import limits
from blendkit.skin.limits import findings_of
from blendkit.skin.rules import oils_in_words


def rule_of(ceiling, weights, decides=True, subject="a substance (invented)"):
    return limits.Rule(
        "rules (invented)", subject, "material", weights, ceiling, decides, "read", "invented"
    )


def test_a_rule_weighs_what_it_counts_and_nothing_else():
    rule = rule_of(0.04, {"a": 1.0, "b": 0.5})
    # 0.01 of a and half of 0.02 of b are 0.02, half of 0.04
    fractions = {"a": 0.01, "b": 0.02, "c": 0.3}
    assert rule.amount(fractions) == pytest.approx(0.02)
    assert rule.share(fractions) == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("over_by", "verdict"),
    [(0, "within"), (5e-10, "within"), (2e-9, "over"), (1e-6, "over")],
)
def test_the_limit_itself_is_still_within_and_a_billionth_over_is_rounding(over_by, verdict):
    assert rule_of(0.25, {"a": 1.0}).verdict({"a": 0.25 * (1 + over_by)}) == verdict


def test_none_of_what_is_prohibited_is_within_and_a_trace_is_over():
    rule = rule_of(0.0, {"a": 1.0})
    assert (rule.share({"b": 0.5}), rule.verdict({"b": 0.5})) == (0, "within")
    assert (rule.share({"a": 1e-9}), rule.verdict({"a": 1e-9})) == (math.inf, "over")


def test_a_finding_names_the_oils_that_bring_the_amount_largest_first():
    rule = rule_of(0.1, {"a": 0.5, "b": 1.0, "c": 1.0, "d": 1.0})
    # half of 0.01 from a, 0.02 from b, nothing of c, and d is not in the bottle at all
    [finding] = findings_of([rule], {"a": 0.01, "b": 0.02, "c": 0.0})
    assert finding.from_oils == (("b", pytest.approx(0.02)), ("a", pytest.approx(0.005)))


def test_the_worst_finding_stands_first_and_the_unknown_last():
    rules = [
        rule_of(None, {"a": 0.1}, subject="unknown, little"),
        rule_of(0.5, {"a": 1.0}, False, "advice, twice over"),
        rule_of(None, {"a": 1.0}, subject="unknown, much"),
        rule_of(0.5, {"a": 1.0}, True, "law, twice over"),
        rule_of(0.25, {"a": 1.0}, False, "advice, four times over"),
        rule_of(0.0, {"a": 1.0}, subject="prohibited"),
        rule_of(2.0, {"a": 1.0}, subject="half used"),
    ]
    found = findings_of(rules, {"a": 1.0})
    assert [finding.rule.subject for finding in found] == [
        "prohibited", "advice, four times over", "law, twice over", "advice, twice over",
        "half used", "unknown, much", "unknown, little",
    ]  # fmt: skip


@given(st.lists(st.sampled_from(schema.GRADES)))
def test_weakest_grade(grades):
    assert limits.weakest(grades) == max(["read", *grades], key=schema.GRADES.index)


def test_amounts_read_as_percents_by_the_oils_names():
    rule = rule_of(0.1, {"lemon": 1.0, "clove-bud": 1.0})
    [finding] = findings_of([rule], {"lemon": 0.0002, "clove-bud": 0.01})
    assert oils_in_words(finding.from_oils) == "Clove bud 1 %, Lemon 0.02 %"
