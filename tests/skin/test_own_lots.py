"""A maker's own lot on skin: its analysed figures first, usual ones where it is silent."""

import pytest

from blendkit.blend.market import Market
from blendkit.keeping.own_lots import keep_lot
from blendkit.materials import catalogue
from blendkit.materials.analyses import read_analysis
from blendkit.skin import check
from blendkit.skin.limits import content
from blendkit.skin.rules import NO_RULE, rules_of
from tests.tools.skin import EU, IFRA, findings, stated

BERGAPTEN = "484-20-8"


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


def test_what_a_lots_analysis_does_not_name_counts_as_usual():
    # bergapten does not evaporate, so the usual analysis cannot see it
    shipped = catalogue.oil("bergamot").composition
    lot = stated("bergamot", "limonene 40, linalyl acetate 59.9", lot=True)
    held = content(lot.composition, {BERGAPTEN}, "high", shipped)
    [usual] = [share.high for share in shipped if share.constituent == BERGAPTEN]
    assert held.fraction == usual
    assert held.carried_over
    # geranial evaporates: it can be no more than the 0.1 % left undescribed
    held = content(lot.composition, {"141-27-5"}, "high", shipped)
    assert held.fraction == pytest.approx(0.001)


@pytest.mark.parametrize(
    ("described", "counted"), [("limonene 30", 0.5), ("limonene 60", 0.4), ("limonene 101", 0)]
)
def test_what_evaporates_is_no_more_than_the_analysis_leaves_undescribed(described, counted):
    # half of the usual oil is said to be geranial: 0.5, 1 - 0.6 and nothing
    lot, usual = (stated("bergamot", text).composition for text in (described, "geranial 50"))
    assert content(lot, {"141-27-5"}, "high", usual).fraction == pytest.approx(counted)


def test_a_rule_says_where_a_lots_analysis_is_silent():
    # 90 % described, so the 3.3 % or so of methyl eugenol usual in rose otto counts in full
    lot = stated("rose-otto", "citronellol 50, geraniol 40", lot=True)
    [usual] = [
        s.high for s in catalogue.oil("rose-otto").composition if s.constituent == "93-15-2"
    ]
    [rule] = [
        r
        for r in rules_of((lot,), Market(), "high")
        if (r.rule_set, r.subject) == (EU, "methyl eugenol")
    ]
    assert rule.weights == {lot.id: pytest.approx(usual)}
    assert "its analysis is silent" in rule.remark


def test_an_analysis_takes_the_place_of_a_limit_derived_from_usual_contents():
    # bitter fennel has no limit of its own; one is derived from 10 % estragole, recalled
    derived = {
        contents: [
            r
            for r in rules_of((stated("fennel-bitter", contents, lot=True),), Market(), "high")
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
        rules = rules_of((lot,), Market(), "high")
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
