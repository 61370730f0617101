"""The verdict on a blend: what it says, what it rests on, and what a maker may accept."""

import re

import pytest

import blendkit as bk
from blendkit.blend.market import Market, not_offered, uses
from blendkit.foundation import data, schema
from blendkit.materials import catalogue
from blendkit.materials.catalogue import Share
from blendkit.skin.finding_words import CAUTION_FROM
from blendkit.skin.limits import NOT_SETTLED, OVER, WITHIN
from blendkit.skin.reformulation import reformulate
from blendkit.skin.verdict import CLOSE, verdict
from tests.tools.skin import EU, blend_of

HEXENAL = "trans-2-hexenal"
ACCEPTED = {"limit": f"{EU}: {HEXENAL}", "reason": "the supplier's certificate names none"}


def by_mass(percents, **more):
    """A litre with oils in percents by mass, so that whole drops hardly round."""
    notes: dict[str, float] = {}
    for name, percent in percents.items():
        note = catalogue.oil(name).note
        notes[note] = notes.get(note, 0) + percent
    return blend_of(
        percents,
        bottle="1000 mL",
        strength=f"{sum(percents.values())} %",
        strength_basis="mass",
        note_parts=notes,
        oils=[{"id": name, "parts": percent} for name, percent in percents.items()],
        **more,
    )


# --- three verdicts ---------------------------------------------------------------------------


def test_an_old_bound_alone_is_not_settled_and_says_what_would_settle_it():
    found = verdict(by_mass({"peppermint": 3}))
    assert found.over == ()
    assert found.not_settled[0] == HEXENAL
    # the table: at most 0.1 %; EU Annex III entry 166: 0.002 %
    assert found.closest == (HEXENAL, pytest.approx(0.03 * 0.1 / 0.002, rel=2e-3))
    assert str(found).startswith(f"Not settled: {HEXENAL} ({EU}) may be 1.5")
    assert "a certificate for (E)-2-hexenal in Peppermint (only an old bound" in str(found)
    assert "Or take out" in str(found)  # a certificate would do as well
    assert found.state == NOT_SETTLED
    assert "not settled" in found.warning
    assert not found.passes


def test_an_unknown_kind_is_asked_for():
    found = verdict(by_mass({"german-chamomile": 13}))
    assert found.not_settled == ("alpha-bisabolol",)
    assert "Ask for the kind of German chamomile" in str(found)
    assert verdict(by_mass({"german-chamomile-oxide": 13})).passes


def test_what_even_typical_figures_pass_is_over_with_the_drops_to_take_out():
    blend = by_mass({"clove-bud": 4})
    found = verdict(blend)
    assert "eugenol" in found.over
    assert found.state == OVER
    assert found.warning.startswith("Over")
    assert ". Take out" in str(found)
    fewer = int(str(found).partition("→ ")[2].partition(")")[0])
    assert not verdict(blend.with_(drops={"clove-bud": fewer})).over
    assert not verdict(blend.with_(drops={"clove-bud": fewer})).not_settled
    one_more = verdict(blend.with_(drops={"clove-bud": fewer + 1}))
    assert one_more.over or one_more.not_settled


@pytest.mark.parametrize(
    ("percents", "subject", "name"),
    [
        # the heaviest brings nothing; what holds most of it is hardly there
        ({"lavender": 15, "clove-bud": 4}, "eugenol", "Clove bud"),
        ({"palmarosa": 1, "geranium": 35}, "geraniol", "Geranium"),
    ],
)
def test_drops_come_out_of_the_oil_that_brings_most(percents, subject, name):
    found = verdict(by_mass(percents))
    assert found.over[0] == subject
    assert re.search(rf"Take out \d+ drops of {name}", str(found))


def test_where_one_oil_without_a_drop_is_not_enough_others_have_to_move():
    found = verdict(by_mass({"clove-bud": 4, "clove-leaf": 4}))
    assert "Even without Clove bud, which weighs most, this limit is not kept" in str(found)
    # each of the two is over by itself
    assert all("eugenol" in verdict(by_mass({o: 4})).over for o in ("clove-bud", "clove-leaf"))


def test_other_limits_are_told_as_over_or_as_not_settled():
    found = verdict(by_mass({"clove-bud": 4, "peppermint": 3}))
    assert (found.over, found.not_settled) == (("eugenol",), (HEXENAL,))
    assert str(found).endswith(f"Also not settled: {HEXENAL}.")
    assert "Also over" not in str(found)


def test_within_names_the_closest_limit_and_warns_where_little_is_left():
    shares = {percent: verdict(by_mass({"lemongrass": percent})) for percent in (0.3, 0.55)}
    for percent, found in shares.items():
        subject, share = found.closest
        assert found.passes
        assert f"Closest: {subject}" in str(found)
        assert ("Take care" in str(found)) is (share >= CAUTION_FROM), percent
    assert shares[0.3].closest[1] < CAUTION_FROM <= shares[0.55].closest[1] <= 1
    assert (shares[0.3].state, shares[0.55].state) == (WITHIN, CLOSE)


def test_just_below_a_limit_is_never_rounded_up_to_it():
    found = verdict(by_mass({"lavender": 20}))
    assert found.closest[1] == pytest.approx(0.9998, abs=2e-4)
    assert "99.9 % of its limit" in str(found)


def test_advice_is_no_part_of_the_verdict():
    found = verdict(by_mass({"clove-bud": 0.6}, market={"region": "US"}))
    assert found.passes
    assert str(found).startswith("Within")
    assert any("Advice, not law: Clove bud" in words for words in found.advice)
    assert "Advice" not in str(found)


def test_the_market_is_the_blends_own_unless_another_is_asked_for():
    blend = by_mass({"rose-otto": 0.02})
    assert verdict(blend).passes
    body = verdict(blend, Market(use="body oil"))
    assert "methyl eugenol" in body.over
    assert "Category 5A" in body.judged_as
    assert bk.verdict(blend.to_dict()) == verdict(blend)


@pytest.mark.parametrize("use", uses())
def test_it_says_as_what_it_judged(use):
    said = verdict(by_mass({"lavender": 1}), Market("UK", use)).judged_as
    row = data.table("uses").set_index("use").loc[use]
    assert said.startswith(f"Judged for the UK as {row['ifra_category']}, {row['eu_scope']}: ")
    assert "not lips" in said


@pytest.mark.parametrize(
    ("oil_id", "percent", "known"),
    [
        ("rose-otto", 0.2, "law: Regulation (EC)"),
        ("litsea-cubeba", 0.3, "an upper bound, the true limit may be lower: "),
        ("german-chamomile", 5, "not confirmed at its source: IFRA Standard"),
    ],
)
def test_it_says_how_the_deciding_limit_is_known(oil_id, percent, known):
    found = verdict(by_mass({oil_id: percent}))
    assert found.known_by.startswith(known)
    assert found.known_by.count("not confirmed") <= 1


# --- not checked ------------------------------------------------------------------------------


def test_the_shipped_example_has_nothing_unchecked():
    found = verdict(bk.example_document())
    assert found.not_checked == ()
    assert found.passes


def test_an_oil_without_an_analysis_is_named_and_is_no_pass():
    found = verdict(by_mass({"oud": 1, "lavender": 1}))
    assert found.not_checked == ("Not checked: Oud (agarwood) (no analysis on record).",)
    assert not found.passes
    assert str(found).endswith(found.not_checked[0])
    without = by_mass({"oud": 1, "lavender": 1}).with_(drops={"oud": 0})
    assert verdict(without).not_checked == ()  # nothing of it is in the bottle
    alone = verdict(by_mass({"oud": 1}))
    assert alone.closest is None
    assert str(alone).startswith("No limit on record applies")


def test_dried_botanicals_are_not_checked():
    found = verdict(by_mass({"lavender": 1}, botanicals="5 mL"))
    assert found.not_checked == (
        "Not checked: what the dried botanicals in the bottle give off.",
    )


def test_undescribed_mass_is_one_line_with_two_oils_and_only_where_it_is_much():
    oils = {"frankincense-carterii", "vetiver-haiti", "spikenard", "lavender"}
    known = {o for o in catalogue.oil_ids() if catalogue.oil(o).composition_known}
    much = sorted(
        (oil for oil in known if 0.12 < catalogue.oil(oil).unidentified_fraction < 0.5),
        key=lambda oil: -catalogue.oil(oil).unidentified_fraction,
    )[:4]
    assert len(much) == 4
    # about as little is known of each: most of it is in the two of which there is more
    percents = dict(zip(reversed(much), (0.05, 0.05, 0.1, 0.1), strict=True))
    [line] = verdict(by_mass(percents)).not_checked
    assert [catalogue.oil(name).name in line for name in much] == [True, True, False, False]
    for name in (*much, "carrot-seed"):
        [line] = verdict(by_mass({name: 0.05})).not_checked
        told = float(re.search(r"(\d+) % of the oils' mass", line)[1])
        assert told == pytest.approx(100 * catalogue.oil(name).unidentified_fraction, abs=0.5)
    little = {o for o in known & oils if catalogue.oil(o).unidentified_fraction < 0.1}
    assert verdict(by_mass(dict.fromkeys(little, 0.05))).not_checked == ()


@pytest.mark.parametrize(
    ("name", "limit"),
    [
        ("Eugenol acetate-like", "eugenol"),
        ("beta-damascone-like", "Rose ketones"),  # by the name of a member of the group
        ("Citral-like", "Citral"),
        ("Rose ketones of some kind", "Rose ketones"),  # by the name of the group
    ],
)
@pytest.mark.usefixtures("own_folder")
def test_a_limited_name_that_nothing_matches_is_not_settled_however_little(name, limit):
    text = f"linalool 60 %\n{name}\t0.001 %\nmystery 3 %"
    lot = bk.keep_lot("lavender", "A12", bk.read_analysis(text, reporting_limit="0.0001 %"))
    blend = by_mass({lot.id: 0.01})
    found = verdict(blend)
    subject = next(text for text in lot.unmatched if "mystery" not in text)
    assert found.not_settled == (f"{subject} in Lavender, lot A12",)
    assert not found.passes
    assert found.warning
    assert f"has a limit ({limit}" in str(found)
    assert "and was not counted. Write its usual name" in str(found)
    [row] = bk.skin_findings(blend).query("verdict == 'not settled'").to_dict("records")
    assert row["subject"] == found.not_settled[0]
    assert "was not counted" in row["to_settle"]
    one = {"limit": f"{row['rule_set']}: {row['subject']}", "reason": "it is the acetate"}
    assert verdict(blend.with_(accepted=[one])).not_settled == ()
    with pytest.raises(bk.Infeasible, match="Write its usual name"):
        reformulate(blend)


# --- what a maker accepts ---------------------------------------------------------------------


def test_an_accepted_limit_passes_with_its_reason_everywhere_it_is_printed():
    blend = by_mass({"peppermint": 2.4}, accepted=[ACCEPTED])
    assert blend.to_dict()["accepted"] == [ACCEPTED]
    found = verdict(blend)
    assert HEXENAL not in found.not_settled
    [said] = found.accepted
    assert ACCEPTED["reason"] in said
    rows = bk.skin_findings(blend).set_index(["rule_set", "subject"])
    assert rows.loc[(EU, HEXENAL), "verdict"] == "not settled"
    assert rows.loc[(EU, HEXENAL), "accepted"] == ACCEPTED["reason"]
    assert any(ACCEPTED["reason"] in words for words in bk.label(blend).unknown)
    assert not any(HEXENAL in words for words in bk.label(blend).over)
    assert any(HEXENAL in words for words in bk.label(blend.with_(accepted=[])).over)


def test_the_nearest_blend_moves_nothing_for_an_accepted_limit():
    blend = by_mass({"peppermint": 2.4})
    assert reformulate(blend).moved > 0
    accepted = blend.with_(accepted=[ACCEPTED])
    assert reformulate(accepted).moved == 0


def test_what_is_over_by_typical_figures_cannot_be_accepted():
    limit = f"{EU}: methyl eugenol"
    blend = by_mass({"rose-otto": 2}, accepted=[{"limit": limit, "reason": "I like it"}])
    found = verdict(blend)
    assert "methyl eugenol" in found.over
    assert any("accepting it changes nothing" in words for words in found.accepted)
    assert reformulate(blend).moved > 0


def test_an_accepted_limit_that_does_not_apply_is_told():
    one = {"limit": "no such limit", "reason": "none"}
    [said] = verdict(by_mass({"lavender": 1}, accepted=[one])).accepted
    assert said == "Accepted, but no limit that applies has this name: no such limit."


@pytest.mark.parametrize(
    "accepted",
    [
        "all", ["all"], [{}], [{"limit": "a"}], [{"limit": "a", "reason": " "}],
        [{"limit": "a", "reason": "b", "more": 1}], [{"limit": 3, "reason": "b"}],
        [{"limit": "a", "reason": "b"}, {"limit": "a", "reason": "c"}],
        [{"limit": "a", "reason": "b" * 501}], [{"limit": "a", "reason": "\ud800"}],
    ],
)  # fmt: skip
def test_acceptances_that_mean_nothing_are_refused(accepted):
    with pytest.raises(bk.BadBlend, match="accepted"):
        by_mass({"lavender": 1}, accepted=accepted)


# --- places -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("asked", "place"),
    [("Lip balm", "lips"), ("armpit roll-on", "armpits"), ("baby oil", "babies")],
)
def test_a_product_for_a_place_that_is_not_offered_is_refused_with_its_reason(asked, place):
    with pytest.raises(bk.BadNumber, match=f"Not offered for {place}: "):
        Market("EU", asked)


@pytest.mark.parametrize("place", not_offered())
def test_uses_that_are_not_offered_are_refused_with_a_reason(place):
    blend = by_mass({"lavender": 1})
    reason = f"Not offered for {place}: {re.escape(not_offered()[place])}"
    with pytest.raises(bk.BadNumber, match=reason):
        bk.skin_findings(blend, use=place)
    with pytest.raises(bk.BadNumber, match=reason):
        Market(use=place.upper())
    with pytest.raises(bk.BadBlend, match=reason):
        bk.Blend({**blend.to_dict(), "market": {"use": place}})


def test_a_label_that_names_another_use_is_told():
    details = bk.LabelDetails(identity="Massage oil")
    notes = bk.label(by_mass({"lavender": 1}), details).notes
    assert any("judged a perfume oil" in note for note in notes)
    assert not any("judged" in note for note in bk.label(by_mass({"lavender": 1})).notes)
    body = bk.label(by_mass({"lavender": 1}), details, use="body oil")
    assert not any("judged a" in note for note in body.notes)


def test_a_share_below_a_guessed_typical_settles_at_its_low_end():
    assert Share("x", 0.0, 0.02, 0.1, "", "estimated", is_old_bound=True).settled == 0
    for grade in {*schema.GRADES} - {"estimated"}:
        assert Share("x", 0.1, 0.2, 1.0, "", grade, is_old_bound=True).settled == 0.2


@pytest.mark.parametrize("name", ["methyl eugenol", "bergamot", "oakmoss-absolute"])
def test_provenance_tells_how_each_limit_is_known(name):
    rows = bk.provenance(name)
    limits = rows[rows["figure"].str.startswith("limit on")]
    assert len(limits)
    assert set(limits["confirmed"]) <= {"read", "law", "upper bound", "not confirmed"}
    assert set(rows.loc[~rows.index.isin(limits.index), "confirmed"]) == {""}
