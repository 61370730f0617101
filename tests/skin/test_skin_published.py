"""The skin check beside published limits and worked cases.

`published/skin_cases.csv` holds worked cases: percents by mass, the contents they assume, and
the arithmetic beside each line. Limits typed here come from the source named beside them.
"""

import math
from pathlib import Path

import pandas as pd
import pytest

from blendkit.foundation import data
from blendkit.skin import check
from tests.tools.skin import EU, IFRA, USED, blend_of, findings, stated

PUBLISHED = Path(__file__).parents[1] / "published"
CASES = pd.read_csv(PUBLISHED / "skin_cases.csv", dtype={"case": str})


def parts_of(text):
    """Names and numbers of "bergamot 0.30; lime-expressed 0.30"."""
    return {word.rsplit(" ", 1)[0]: float(word.rsplit(" ", 1)[1]) for word in text.split("; ")}


# --- worked cases -----------------------------------------------------------------------------


def case_findings(case):
    rows = CASES[CASES["case"] == case]
    text = rows["stated_contents"].iloc[0]
    contents = {} if pd.isna(text) else dict(word.split(": ") for word in text.split("; "))
    percents = parts_of(rows["percent_by_mass"].iloc[0])
    oils = [stated(name, contents.get(name, "")) for name in percents]
    return rows, findings(oils, percents)


@pytest.mark.parametrize("case", CASES["case"].unique())
def test_each_line_of_a_worked_case(case, beside_published):
    rows, found = case_findings(case)
    for row in rows.itertuples():
        [line] = [
            f
            for f in found
            if f.rule.rule_set == row.rule_set
            and f.rule.kind == row.kind
            and f.rule.subject.startswith(row.subject)
            and not math.isnan(f.share)
        ]
        # six digits, as many as the table prints
        assert line.amount * 100 == pytest.approx(row.amount_percent, rel=2e-6)
        assert line.rule.ceiling * 100 == pytest.approx(row.limit_percent)
        assert line.verdict == row.verdict
        beside_published(
            f"share of the limit: {row.percent_by_mass} %, {row.subject}",
            line.share,
            row.share_of_limit,
            row.share_of_limit * (1 - 2e-6),
            row.share_of_limit * (1 + 2e-6),
            source=row.source,
        )


@pytest.mark.parametrize("case", CASES["case"].unique())
def test_the_worst_share_of_a_worked_case_comes_first(case):
    rows, found = case_findings(case)
    assert found[0].share == pytest.approx(rows["worst_share"].iloc[0], rel=2e-6)
    is_over = {f.verdict for f in found} >= {"over"}
    assert is_over == (rows["worst_share"].iloc[0] > 1)


@pytest.mark.parametrize("case", CASES["case"].unique())
def test_shipped_compositions_give_the_same_verdict_as_the_worked_case(case):
    rows = CASES[CASES["case"] == case]
    found = check.skin_findings_of(parts_of(rows["percent_by_mass"].iloc[0]))
    assert (found["verdict"] == "over").any() == (rows["worst_share"].iloc[0] > 1)


def test_two_rule_sets_that_disagree_both_stand():
    # clove bud at 1 %: IFRA allows 2.5 % eugenol, the handbook 0.5 % of the oil
    found = check.skin_findings_of({"clove-bud": 1.0}).set_index(["rule_set", "subject"])
    assert found.loc[(IFRA, "eugenol"), "verdict"] == "within"
    advice = found.loc[("handbook dermal maximum", "Clove bud")]
    assert (advice["verdict"], advice["decides"]) == ("over", False)
    assert "Advice" in advice["remark"]


@pytest.mark.parametrize(("carrier", "is_over"), [("jojoba", True), ("castor", False)])
def test_percent_by_volume_is_judged_by_mass(carrier, is_over):
    # one drop of 1/25 mL in 10 mL is 0.40 % by volume; the handbook case of bergamot in
    # jojoba (over) and in the denser castor oil (within)
    blend = blend_of(
        ["bergamot"],
        [carrier],
        strength="0.4 %",
        strength_basis="volume",
        drops_per_ml={"default": 20, "bergamot": 25},
    )
    assert blend.oil_drops == {"bergamot": 1}
    oil, poured = (
        data.table(table).set_index("id").loc[name]
        for table, name in (("oils", "bergamot"), ("carriers", carrier))
    )
    oil, poured = (
        (row["density_low_g_per_ml"] + row["density_high_g_per_ml"]) / 2
        for row in (oil, poured)
    )
    by_hand = 0.04 * oil / (0.04 * oil + 9.96 * poured) * 100
    found = check.skin_findings(blend)
    [row] = found[(found["rule_set"] == IFRA) & (found["kind"] == "material")].itertuples()
    assert row.amount_percent == pytest.approx(by_hand)
    assert row.share_of_limit == pytest.approx(by_hand / 0.4)
    assert (row.verdict == "over") is is_over


# --- the limits on record ---------------------------------------------------------------------


# (rule set, scope, subject): percent. Typed by hand, after the rules named beside them
PUBLISHED = {
    # Regulation (EC) No 1223/2009, Annex III, entries 73, 102, 157, 324, 156, 308-309
    (EU, "any leave-on", "97-54-1"): 0.02,
    (EU, "perfume oil", "93-15-2"): 0.01,
    (EU, "body oil", "93-15-2"): 0.0002,
    (EU, "any leave-on", "rose-ketones"): 0.02,
    (EU, "any leave-on", "119-36-8"): 0.06,
    (EU, "any leave-on", "cumin"): 0.4,
    (EU, "any leave-on", "tagetes"): 0.01,
    # IFRA standards, category 4: phototoxic oils, citral, cinnamic alcohol, citronellal, mosses
    (IFRA, "perfume oil", "bergamot"): 0.4,
    (IFRA, "perfume oil", "lime-expressed"): 0.7,
    (IFRA, "perfume oil", "lemon"): 2.0,
    (IFRA, "perfume oil", "bitter-orange"): 1.25,
    (IFRA, "perfume oil", "grapefruit"): 4.0,
    # Tisserand & Young, 2nd ed. 2014: 0.78 and 0.8 are both recalled; the stricter counts
    (IFRA, "perfume oil", "angelica-root"): 0.78,
    (IFRA, "perfume oil", "rue"): 0.15,
    (IFRA, "perfume oil", "citral"): 0.6,
    (IFRA, "perfume oil", "104-54-1"): 1.2,
    (IFRA, "perfume oil", "106-23-0"): 0.49,
    (IFRA, "perfume oil", "mosses"): 0.1,
    (IFRA, "perfume oil", "rose-ketones"): 0.043,
    # prohibitions: EU Annex II entries 1136, 450, 436, 1133
    (EU, "any leave-on", "peru-balsam"): 0.0,
    (EU, "any leave-on", "lemon-verbena-oil"): 0.0,
    (EU, "any leave-on", "fig-leaf-absolute"): 0.0,
    (EU, "any leave-on", "costus-root"): 0.0,
}


@pytest.mark.parametrize(("key", "percent"), PUBLISHED.items(), ids=str)
def test_published_limits(key, percent, beside_published):
    rule_set, scope, subject = key
    rows = USED[
        (USED["rule_set"] == rule_set)
        & (USED["scope"] == scope)
        & (USED["subject"] == subject)
        & (USED["kind"] != "specification")
    ]
    [ours] = rows["limit_percent"]
    words = f"limit of {rows['subject_name'].iloc[0]}, {scope}"
    beside_published(words, ours, percent, percent, percent, unit="%", source=rule_set)
