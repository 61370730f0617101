"""Which limits apply to some oils, region by region, and what each rule counts together."""

import dataclasses
import math

import pytest

from blendkit.blend.market import uses
from blendkit.foundation import data
from blendkit.materials import catalogue
from blendkit.skin import check, limits
from blendkit.skin.verdict import verdict
from tests.tools.skin import EU, IFRA, blend_of, findings, rules_for, shares, stated


def sets_that_decide(region, oil_ids=("rose-otto", "clove-bud", "tea-tree", "styrax")):
    return {rule.rule_set for rule in rules_for(oil_ids, region) if rule.decides}


def test_regions():
    law = {EU, "EU scientific opinion"}
    assert sets_that_decide("EU") == {IFRA, *law}
    assert sets_that_decide("UK") == {IFRA, "UK Cosmetics Regulation", *law}
    # Canada's own list was not read, so nothing there is laxer than in the EU
    assert sets_that_decide("Canada") == sets_that_decide("EU")
    assert sets_that_decide("US") == sets_that_decide("other") == {IFRA}


@pytest.mark.parametrize(("region", "why"), [("UK", "incomplete"), ("Canada", "not read")])
def test_eu_limits_elsewhere_say_why_they_are_there(region, why):
    remarks = [r.remark for r in rules_for(["clove-bud"], region) if r.rule_set == EU]
    assert remarks
    assert all(why in remark for remark in remarks)


def test_only_the_uk_is_told_of_its_missing_rules():
    for region in ("EU", "US", "other"):
        rules = rules_for(["clove-bud"], region)
        assert not [rule for rule in rules if "UK rules" in rule.remark]


def test_advice_says_so_first_in_one_sentence():
    rules = [r for r in rules_for(["clove-bud"]) if r.rule_set == limits.HANDBOOK]
    assert rules
    for rule in rules:
        assert not rule.decides
        assert f"{rule.remark} ".startswith("Advice of a handbook, not a law. ")
        assert ".." not in rule.remark


def test_the_strictest_rule_decides_isoeugenol():
    # EU 0.02 %, IFRA 0.11 %: 0.05 % of the product is over in the EU only
    oil = stated("clove-bud", "isoeugenol 10")
    verdicts = {
        region: {
            f.verdict for f in findings([oil], {"clove-bud": 0.5}, region) if f.rule.decides
        }
        for region in ("EU", "US")
    }
    assert "over" in verdicts["EU"]
    assert "over" not in verdicts["US"]


def test_a_body_oil_is_stricter():
    # methyl eugenol: EU 0.01 % in fine fragrance, 0.0002 % in other leave-on products
    oil = stated("rose-otto", "methyl eugenol 1")
    found = shares(findings([oil], {"rose-otto": 0.5}, use="body oil"))
    assert found[(EU, "methyl eugenol", "constituent")] == pytest.approx(0.005 / 0.0002)


def test_any_leave_on_limits_hold_for_both_uses():
    for use in uses():
        rules = rules_for(["clove-bud"], "EU", use)
        [rule] = [r for r in rules if (r.rule_set, r.subject) == (EU, "isoeugenol")]
        assert rule.ceiling == pytest.approx(0.0002)


@pytest.mark.parametrize("oil_id", ["costus-root", "lemon-verbena-oil", "peru-balsam", "cade"])
def test_what_is_prohibited_has_limit_0_and_is_over(oil_id):
    found = check.skin_findings_of({oil_id: 0.001})
    row = found.iloc[0]
    assert (row["limit_percent"], row["verdict"], row["decides"]) == (0, "over", True)
    assert row["share_of_limit"] == math.inf


def test_a_ban_on_adding_a_substance_fails_no_oil_but_is_told():
    # EU Annex II entry 427 bans dihydrocoumarin as an added ingredient; tonka holds it
    rules = rules_for(["tonka-absolute"])
    assert not [r for r in rules if r.ceiling == 0]
    told = " ".join(check.questions(blend_of(["tonka-absolute"])))
    assert "May not be added (EU Cosmetics Regulation, dihydrocoumarin)" in told


def test_constituents_are_summed_over_all_oils():
    # geraniol 20 % of 2 % and 10 % of 3 %: 0.4 + 0.3 = 0.7 % of the product, of 4.7 % allowed
    oils = [stated("geranium", "geraniol 20"), stated("palmarosa", "geraniol 10")]
    found = shares(findings(oils, {"geranium": 2, "palmarosa": 3}))
    assert found[(IFRA, "geraniol", "constituent")] == pytest.approx(0.7 / 4.7)


def test_two_mosses_share_one_ceiling():
    found = shares(
        findings(
            [stated("oakmoss-absolute"), stated("treemoss-absolute")],
            {"oakmoss-absolute": 0.06, "treemoss-absolute": 0.06},
        )
    )
    # each within its 0.1 %, together 0.12 / 0.1
    assert found[(IFRA, "Oakmoss absolute", "material")] == pytest.approx(0.6)
    assert found[(IFRA, "Oakmoss + treemoss extracts", "shared")] == pytest.approx(1.2)


def test_each_limit_is_weighed_at_the_high_end_and_typically():
    [line] = [
        f
        for f in findings([catalogue.oil("rose-otto")], {"rose-otto": 0.1})
        if (f.rule.rule_set, f.rule.subject) == (EU, "methyl eugenol")
    ]
    [row] = (
        data.table("compositions")
        .query("oil == 'rose-otto' and constituent == '93-15-2'")
        .itertuples()
    )
    assert line.share == pytest.approx(0.1 * row.high_percent / 100 / 0.01)
    assert line.share_typical == pytest.approx(0.1 * row.typical_percent / 100 / 0.01)


def test_the_weakest_grade_is_carried_to_the_verdict():
    shares_of_oil = tuple(
        dataclasses.replace(share, grade=grade)
        for share, grade in zip(
            stated("lemongrass", "geranial 40, neral 30").composition,
            ("read", "memory"),
            strict=True,
        )
    )
    oil = dataclasses.replace(stated("lemongrass"), composition=shares_of_oil)
    [line] = [
        f
        for f in findings([oil], {"lemongrass": 0.1})
        if f.rule.rule_set == EU and f.rule.kind == "shared"
    ]
    assert line.rule.figure_basis == "memory"  # the limit itself is read


def test_a_recalled_limit_that_decides_says_so():
    # tea leaf absolute: IFRA figure recalled, the stricter of two
    rules = [r for r in rules_for(["tea-absolute"]) if r.decides]
    assert [r.figure_basis for r in rules] == ["memory"]
    assert "recalled, not read" in rules[0].remark
    assert [r.confirmed for r in rules] == ["not confirmed"]
    assert verdict(blend_of(["tea-absolute"])).known_by.startswith("not confirmed")


# --- the phototoxic sum -----------------------------------------------------------------------


def test_all_oils_with_a_phototoxic_limit_are_in_the_sum_with_it():
    table = data.table("phototoxic").query("limit_percent > 0").set_index("material")
    for oil_id in set(table.index) & set(catalogue.oil_ids()):
        [rule] = [r for r in rules_for([oil_id]) if r.subject.startswith("phototoxic")]
        assert rule.decides
        at_the_limit = {oil_id: table.loc[oil_id, "limit_percent"] / 100}
        assert rule.share(at_the_limit) == pytest.approx(1.0)


def test_the_phototoxic_sum_says_whom_it_counts_out_of_caution():
    # IFRA limits bergamot; the other two have the figure of a law and of a handbook
    beside = ["tagetes-minuta", "petitgrain-mandarin"]
    for oil_ids in (["bergamot", *beside], ["bergamot"]):
        [rule] = [r for r in rules_for(oil_ids) if r.subject.startswith("phototoxic")]
        names = [catalogue.oil(name).name for name in oil_ids[1:]]
        note = f" Counted in out of caution: {', '.join(names)}." if names else ""
        assert rule.remark.endswith(f" may not pass the whole (100 %).{note}")


def test_a_citrus_oil_of_unknown_kind_counts_as_expressed():
    unknown = dataclasses.replace(
        stated("sweet-orange"), id="citrus", based_on="citrus", process="unknown"
    )
    # 0.4 %, the strictest figure for an expressed citrus oil (bergamot)
    found = shares(findings([unknown], {"citrus": 0.5}))
    assert found[
        (IFRA, "phototoxic oils, each as a share of its own limit", "phototoxic sum")
    ] == (pytest.approx(0.5 / 0.4))
