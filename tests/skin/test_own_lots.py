"""A maker's own lot on skin: its analysed figures first, usual ones where it is silent."""

from dataclasses import replace

import pytest

from blendkit.blend.market import Market
from blendkit.foundation import data
from blendkit.keeping.own_materials import keep_lot
from blendkit.materials import catalogue
from blendkit.materials.analysed_lots import own_oil
from blendkit.materials.analyses import read_analysis
from blendkit.materials.catalogue import Share
from blendkit.skin import check
from blendkit.skin.contents import content_in
from blendkit.skin.limits import NOT_FOUND, SILENT
from blendkit.skin.published_limits import in_force
from blendkit.skin.rules import NO_RULE, rules_of
from tests.tools.skin import EU, IFRA, USED, findings, stated

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
        assert [doubt.why for doubt in held.doubts] == [SILENT]


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
    assert (held.fraction, held.typical, held.doubts[0].why) == (1e-4, 0, NOT_FOUND)
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
    assert " 0.0005 % (5 ppm) " in line.rule.remark


# --- a certificate of some constituents only --------------------------------------------------

EUGENOL, METHYL_EUGENOL, HUMULENE = "97-53-0", "93-15-2", "6753-98-6"
DESCRIBED = [n for n in catalogue.shipped_oils().index if catalogue.oil(n).composition]


def partial(oil_id, percents):
    figures = {name: [figure] * 3 for name, figure in percents.items()}
    return own_oil(oil_id, "part", {"percents": figures, "whole": False})


@pytest.mark.usefixtures("own_folder")
def test_a_certificate_of_two_constituents_replaces_these_and_leaves_the_rest():
    text = "eugenol 0.4 %\nmethyl eugenol < 0.01 %"
    analysis = read_analysis(text, whole=False)
    assert "the rest of the oil stays as recorded" in str(analysis)
    lot, shipped = keep_lot("rose-otto", "R1", analysis), catalogue.oil("rose-otto")
    assert catalogue.oil("rose-otto@R1") == lot
    held = content_in(lot, {METHYL_EUGENOL})
    # "< 0.01 %": at most 1e-4 of the oil, typically none of it
    assert (held.fraction, held.typical) == (pytest.approx(1e-4), 0)
    assert content_in(lot, {EUGENOL}).fraction == pytest.approx(0.004)
    assert lot.analysed == {EUGENOL, METHYL_EUGENOL}
    for share in shipped.composition:
        if share.constituent not in lot.analysed:
            assert content_in(lot, {share.constituent}).fraction == share.high
    assert lot.reporting_limit is None
    assert lot.composition_known
    # shipped rose otto at 0.55 % is over the EU's methyl eugenol; this lot holds 0.000055 %
    found = check.skin_findings_of({lot.id: 0.55}).set_index(["rule_set", "subject"])
    limit = USED.query("rule_set == @EU and subject == @METHYL_EUGENOL")["limit_percent"].max()
    share = found.loc[(EU, "methyl eugenol"), "share_of_limit"]
    assert share == pytest.approx(0.55 * 0.0001 / limit)


@pytest.mark.usefixtures("own_folder")
def test_a_certificate_of_a_bound_alone_is_kept_and_settles_the_old_one():
    read = read_analysis("trans-2-hexenal nd", reporting_limit="0.001 %", whole=False)
    lot = keep_lot("peppermint", "P1", read)
    assert content_in(lot, set(lot.analysed)).fraction == pytest.approx(1e-5)
    by_oil = {
        oil_id: check.skin_findings_of({oil_id: 5}).set_index(["rule_set", "subject"])
        for oil_id in ("peppermint", lot.id)
    }
    verdicts = [f.loc[(EU, "trans-2-hexenal"), "verdict"] for f in by_oil.values()]
    assert verdicts == ["not settled", "within"]


def test_a_zero_is_silence_in_a_certificate_too():
    lot = partial("rose-otto", {METHYL_EUGENOL: 0, EUGENOL: 0.4})
    assert content_in(lot, {METHYL_EUGENOL}).fraction == highest("rose-otto", METHYL_EUGENOL)


def weights_of(lot, market):
    rules = rules_of((lot,), market)
    return {
        (r.name, r.ceiling): r.weights[lot.id]
        for r in rules
        if r.decides and r.ceiling is not None
    }


def test_a_constituent_left_out_of_a_certificate_never_turns_it_into_a_pass():
    market, tried = Market("UK"), 0  # its rules hold the EU's as well
    limited = {m for limit in in_force(market) if not limit.of_materials for m in limit.members}
    other = {HUMULENE: 0.01}  # which has no limit
    assert HUMULENE not in limited
    for oil in map(catalogue.oil, DESCRIBED):
        shipped, without = weights_of(oil, market), weights_of(partial(oil.id, other), market)
        assert without == pytest.approx(shipped)  # what it does not name stays as it was
        for share in oil.composition:
            if share.constituent not in limited or share.high == 0:
                continue
            own = share.high * 95  # percent: a little less than the highest on record
            named = partial(oil.id, {**other, share.constituent: own})
            assert content_in(named, {share.constituent}).fraction == pytest.approx(own / 100)
            with_it = weights_of(named, market)
            lower = [key for key, w in with_it.items() if without[key] < w * (1 - 1e-12)]
            assert not lower, (oil.id, share.constituent)
            tried += any(without[key] > with_it.get(key, 0.0) for key in without)
    assert tried > 100


def test_what_a_certificate_leaves_no_room_for_shrinks_its_high_ends_do_not():
    lot = partial("lavender", {"78-70-6": 90})
    rest = [s for s in lot.composition if s.constituent in lot.recorded]
    assert sum(share.typical for share in lot.composition) == pytest.approx(1.0)
    assert {s.constituent: s.high for s in rest} == {
        s.constituent: s.high
        for s in catalogue.oil("lavender").composition
        if s.constituent != "78-70-6"
    }


def test_a_limit_from_usual_contents_stays_where_the_certificate_is_silent():
    derived = [
        [r for r in rules_of((lot,), Market()) if r.kind == "material" and r.decides]
        for lot in (partial("fennel-bitter", {"4180-23-8": 70}),
                    partial("fennel-bitter", {"140-67-0": 2}))
    ]  # fmt: skip
    assert [len(rules) for rules in derived] == [1, 0]


def test_the_15_ppm_route_needs_bergapten_in_the_certificate():
    for named, is_measured in (({"5989-27-5": 40}, False), ({BERGAPTEN: 0.2}, True)):
        subjects = {r.subject for r in rules_of((partial("bergamot", named),), Market())}
        assert ("bergapten, as measured in the lots" in subjects) is is_measured
