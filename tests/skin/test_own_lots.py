"""A maker's own lot on skin: its analysed figures first, usual ones where it is silent."""

from dataclasses import replace

import pytest

from blendkit.blend.market import Market
from blendkit.foundation import data
from blendkit.keeping.own_materials import keep_lot
from blendkit.materials import catalogue
from blendkit.materials.analyses import read_analysis
from blendkit.materials.catalogue import Share
from blendkit.skin import check
from blendkit.skin.contents import content_in
from blendkit.skin.rules import NO_RULE, rules_of
from tests.tools.skin import EU, IFRA, findings, stated

BERGAPTEN, GERANIAL = "484-20-8", "141-27-5"


def highest(oil_id, number):
    """The highest content on record for an oil, straight from the table."""
    rows = data.table("compositions").query("oil == @oil_id and constituent == @number")
    return rows["high_percent"].max() / 100


def test_an_own_lot_takes_its_own_figures_and_the_natural_limits(tmp_path, monkeypatch):
    monkeypatch.setenv("BLENDKIT_HOME", str(tmp_path))
    lot = keep_lot("ylang-extra", "A1", read_analysis("isoeugenol 0.5 %\nlinalool 20 %"))
    found = check.skin_findings_of({lot.id: 0.9}).set_index(["rule_set", "subject"])
    # 0.9 % x 0.005 / 0.02
    isoeugenol = found.loc[(EU, "isoeugenol")]
    assert isoeugenol["share_of_limit"] == pytest.approx(0.225)
    percents = isoeugenol[["amount_percent", "limit_percent"]]
    assert list(percents) == pytest.approx([0.0045, 0.02])
    assert found.loc[(IFRA, "Ylang ylang extra"), "share_of_limit"] == pytest.approx(0.9 / 0.73)


@pytest.mark.parametrize("described", ["limonene 30", "limonene 40, linalyl acetate 60"])
def test_what_a_lots_analysis_does_not_name_counts_as_the_highest_on_record(described):
    # bergapten escapes the usual analysis, geranial does not: neither silence is a zero
    lot = stated("bergamot", described, lot=True)
    for number in (BERGAPTEN, GERANIAL):
        held = content_in(lot, {number})
        assert held.fraction == highest("bergamot", number) > 0
        assert held.typical == 0
        assert not held.is_measured


def test_a_reporting_limit_bounds_what_evaporates_and_nothing_else():
    lot = replace(stated("bergamot", "limonene 100", lot=True), reporting_limit=0.0005)
    assert content_in(lot, {GERANIAL}).fraction == 0.0005
    assert content_in(lot, {BERGAPTEN}).fraction == highest("bergamot", BERGAPTEN)
    generous = replace(lot, reporting_limit=0.5)
    assert content_in(generous, {GERANIAL}).fraction == highest("bergamot", GERANIAL)


def test_not_detected_counts_at_the_limit_stated_and_without_one_as_silence():
    lot = stated("bergamot", "limonene 95", lot=True)
    named = replace(
        lot, composition=(*lot.composition, Share(GERANIAL, 0, 0, 1e-4, "", "read"))
    )
    held = content_in(named, {GERANIAL})
    assert (held.fraction, held.typical, held.is_measured) == (1e-4, 0, True)
    blank = replace(lot, composition=(*lot.composition, Share(GERANIAL, 0, 0, 0, "", "read")))
    assert content_in(blank, {GERANIAL}) == content_in(lot, {GERANIAL})


def test_a_reporting_limit_is_kept_with_the_lot(tmp_path, monkeypatch):
    monkeypatch.setenv("BLENDKIT_HOME", str(tmp_path))
    text = "limonene 90\nsome unheard of thing 2"
    analysis = read_analysis(text, reporting_limit="0.05 %")
    keep_lot("bergamot", "B7", analysis)
    lot = catalogue.oil("bergamot@B7")
    assert lot.reporting_limit == pytest.approx(5e-4)
    assert lot.unmatched == ("some unheard of thing",)


def test_a_rule_says_where_a_lots_analysis_is_silent():
    lot = stated("rose-otto", "citronellol 60, geraniol 40", lot=True)
    usual = highest("rose-otto", "93-15-2")
    [rule] = [
        r
        for r in rules_of((lot,), Market())
        if (r.rule_set, r.subject) == (EU, "methyl eugenol")
    ]
    assert rule.weights == {lot.id: pytest.approx(usual)}
    assert rule.typical == {lot.id: 0}
    assert "its analysis is silent on methyl eugenol; the highest on record" in rule.remark


def test_an_analysis_takes_the_place_of_a_limit_derived_from_usual_contents():
    # bitter fennel has no limit of its own; one is derived from 10 % estragole, recalled
    derived = {
        contents: [
            r
            for r in rules_of((stated("fennel-bitter", contents, lot=True),), Market())
            if r.kind == "material" and r.decides
        ]
        for contents in ("anethole 70", "anethole 70, estragole 2")
    }
    [rule] = derived["anethole 70"]
    # 0.014 / 0.10
    assert rule.ceiling == pytest.approx(0.0014)
    assert "derived" in rule.source
    assert not derived["anethole 70, estragole 2"]


def test_a_lot_with_a_scanty_analysis_counts_as_unknown():
    full = stated("ylang-extra", "linalool 60", lot=True)
    scanty = stated("ylang-extra", "linalool 5", lot=True)
    for lot, is_unknown in ((full, False), (scanty, True)):
        rules = rules_of((lot,), Market())
        assert any(r.rule_set == NO_RULE for r in rules) is is_unknown


def test_the_15_ppm_route_needs_measured_lots():
    # bergapten 0.2 % in 1 % of the product: 0.002 %, over 0.0015 % (15 ppm)
    lot = stated("bergamot", "limonene 90, bergapten 0.2", lot=True)
    found = findings([lot], {lot.id: 1})
    [line] = [f for f in found if f.rule.subject.startswith("bergapten, as measured")]
    assert line.share == pytest.approx(0.002 / 0.0015)
    assert (line.verdict, line.rule.decides) == ("over", False)
    shipped = findings([catalogue.oil("bergamot")], {"bergamot": 1})
    assert not [f for f in shipped if f.rule.subject.startswith("bergapten, as measured")]
    silent = stated("bergamot", "limonene 90", lot=True)
    unmeasured = findings([silent], {silent.id: 1})
    assert not [f for f in unmeasured if f.rule.subject.startswith("bergapten, as measured")]
    mixed = findings([lot, catalogue.oil("lemon")], {lot.id: 1, "lemon": 1})
    [line] = [f for f in mixed if f.rule.subject.startswith("bergapten, as measured")]
    assert "Too low: not measured in Lemon" in line.rule.remark


def test_the_announced_threshold_judges_nothing():
    found = findings([catalogue.oil("bergamot")], {"bergamot": 20})
    [line] = [f for f in found if f.rule.subject == "sum of furocoumarins"]
    assert line.verdict == "no limit on record"
    assert not line.rule.decides
    assert "5 ppm" in line.rule.remark
