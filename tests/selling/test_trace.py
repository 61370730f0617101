"""A supplier's lot is found in every batch that holds it, and in every bottle handed out."""

from __future__ import annotations

import dataclasses
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

import blendkit as bk
from blendkit import example_document
from blendkit.foundation.errors import BadNumber
from blendkit.journal.records import BatchMaterial, BatchRow, HandoverRow, MakingRow
from blendkit.keeping.handing import hand_out, name_of, note_reaction, people_on_record
from blendkit.keeping.makings import make_mixture
from blendkit.keeping.open_store import the_journal
from blendkit.selling.reactions import last_day, reaction_duties
from blendkit.selling.trace import Source, lots, recall, trails

pytestmark = pytest.mark.usefixtures("own_folder")
DAY = date(2026, 12, 1)


def batch(*materials, lot="B1", made_on=DAY, bottles=12):
    """A batch of materials, each with its supplier's lot."""
    journal = the_journal()
    version = journal.new_blend("Quay at Dusk (invented)", example_document())
    rows = [
        BatchMaterial(batch_id="", material=id, mass_g=1.0, supplier_lot=lot)
        for id, lot in materials
    ]
    row = BatchRow(version_id=version.id, lot=lot, made_on=made_on)
    return journal.make_batch(row, [(bottles, 10.0)], rows)


def found(material, lot):
    one = recall(trails(the_journal()), the_journal(), material, lot)
    return [t.batch.lot for t in one.certain], [t.batch.lot for t in one.possible], one.mixtures


def trail_of(row):
    return next(each for each in trails(the_journal()) if each.batch.id == row.id)


def test_a_lot_is_found_in_batches_that_name_it_and_where_none_was_written():
    batch(("lavender", "A12"), ("jojoba", "J1"), lot="B1")
    batch(("lavender", ""), lot="B2")
    batch(("lavender", "A13"), lot="B3")
    batch(("patchouli", "A12"), lot="B4")
    batch(("lavender@A12", ""), lot="B5")
    batch(("lavender", " a 12"), lot="B6")
    assert found("lavender", "A12") == (["B6", "B5", "B1"], ["B2"], ())
    assert found("patchouli", "A12") == (["B4"], [], ())
    assert found("lavender", "A99") == ([], ["B2"], ())
    assert Source("jojoba", "J1") in lots(trails(the_journal()))


def test_a_batch_that_was_withdrawn_is_in_no_trail():
    the_journal().withdraw(batch(("lavender", "A12")))
    assert trails(the_journal()) == ()


def mixture(lot, made_on="2026-11-01", parts=("lavender@A12", "jojoba")):
    """A batch of an own mixture with an analysed lot of lavender in it."""
    bk.keep_lot("lavender", "A12", bk.read_analysis("Linalool 30\nLinalyl acetate 40"))
    own = bk.keep_mixture("Soft lavender (invented)", dict.fromkeys(parts, 1.0))
    return own.id, make_mixture(the_journal(), own.id, "10 mL", made_on=made_on, lot=lot)


def test_a_mixture_in_between_is_followed_through():
    own, _ = mixture("M1")
    batch((own, "M1"), lot="B1")
    batch((own, "M2"), lot="B2")  # of a making that is not on record: its parts are
    batch(("patchouli", "P1"), lot="B3")
    certain, possible, mixtures = found("lavender", "A12")
    assert (certain, possible, mixtures) == (["B2", "B1"], [], ("M1",))
    (source,) = (s for s in trail_of_lot("B1").sources if s.material == "lavender")
    assert source == Source("lavender", "A12", ("M1",), True)


def trail_of_lot(lot):
    return next(each for each in trails(the_journal()) if each.batch.lot == lot)


def test_a_mixture_of_a_mixture_and_one_still_on_the_shelf_are_found():
    inner, _ = mixture("M1")
    outer = bk.keep_mixture("Softer (invented)", {inner: 1.0, "jojoba": 1.0}).id
    make_mixture(the_journal(), outer, "5 mL", made_on="2026-11-02", lot="N1")
    assert found("lavender", "A12") == ([], [], ("M1", "N1"))
    batch((outer, "N1"))
    (source,) = (s for s in trail_of_lot("B1").sources if s.material == "lavender")
    assert source.through == ("N1", "M1")


def test_where_two_makings_may_have_gone_in_neither_is_ruled_out():
    own, _ = mixture("M1")
    make_mixture(the_journal(), own, "10 mL", made_on="2026-11-20", lot="M2")
    making = next(m for m in the_journal().all(MakingRow) if m.lot == "M2")
    the_journal().correct(making, taken_ml={"lavender@B7": 5.0, "jojoba": 5.0})
    batch((own, ""), lot="B1")
    batch((own, ""), lot="B2", made_on=date(2026, 11, 10))  # only M1 was there then
    assert found("lavender", "A12") == (["B2"], ["B1"], ("M1",))
    assert found("lavender", "B7")[:2] == ([], ["B1"])


def test_makings_that_name_one_another_end():
    own, making = mixture("M1")
    the_journal().correct(making, taken_ml={own: 5.0, "lavender@A12": 5.0})
    batch((own, "M1"))
    assert found("lavender", "A12")[0] == ["B1"]


@given(st.lists(st.tuples(st.sampled_from(["lavender", "jojoba"]),
                          st.sampled_from(["A", "B", ""])), min_size=1, max_size=4),
       st.sampled_from(["A", "B"]))  # fmt: skip
def test_nothing_that_may_hold_a_lot_is_ever_ruled_out(held, lot):
    from blendkit.selling.trace import Recall, Trail

    sources = tuple(Source(*each) for each in held)
    row = BatchRow(version_id="0" * 32, lot="B1", made_on=DAY)
    one = Trail(row, "", 1, sources, ())
    result: Recall = recall([one], the_journal(), "lavender", lot)
    certain = ("lavender", lot) in held
    assert (one in result.certain) == certain
    assert (one in result.possible) == (not certain and ("lavender", "") in held)


# --- handovers and people -------------------------------------------------------------------


def give(row, bottles=1, person=None, way="gift", day=""):
    person = person or {"name": "Somebody (invented)"}
    return hand_out(the_journal(), trail_of(row), way, bottles, day, person)


def test_bottles_are_counted_down_and_no_more_are_handed_out_than_are_left():
    row = batch(("lavender", "A12"), bottles=3)
    first = give(row, 2)
    assert trail_of(row).here == 1
    with pytest.raises(BadNumber, match="1 of 3 are left"):
        give(row, 2)
    give(row, 1, person=first.person, way="sale", day="2026-12-05")
    assert [r.way for r in trail_of(row).handed] == ["gift", "sale"]
    people = people_on_record(the_journal())
    assert {name_of(people, r.person) for r in trail_of(row).handed} == {"Somebody (invented)"}
    assert len(people) == 1


@pytest.mark.parametrize(("bottles", "day"), [(0, ""), ("x", ""), (1.5, ""), (1, "yesterday")])
def test_a_handover_that_cannot_be_is_refused_whole(bottles, day):
    row = batch(("lavender", "A12"))
    with pytest.raises(BadNumber):
        give(row, bottles, day=day)
    assert the_journal().all(HandoverRow) == []
    assert people_on_record(the_journal()) == {}


def test_a_forgotten_person_is_somebody_and_cannot_be_given_a_reaction():
    row = batch(("lavender", "A12"))
    given_to = give(row).person
    the_journal().forget(given_to)
    assert name_of(people_on_record(the_journal()), given_to) == "somebody, forgotten"
    assert trail_of(row).handed[0].bottles == 1
    report = {"what": "itch", "serious": "no", "noticed_on": "2026-12-03",
              "heard_on": "2026-12-04"}  # fmt: skip
    with pytest.raises(bk.BlendkitError, match="forgotten"):
        note_reaction(the_journal(), given_to, report)
    assert people_on_record(the_journal())[given_to].document == {}


# --- deadlines ------------------------------------------------------------------------------


def test_deadlines_of_regions_are_those_on_record():
    heard = date(2026, 12, 1)  # a Tuesday
    due = {region: [each["due"] for each in reaction_duties(region, heard) if each["due"]]
           for region in ("EU", "UK", "US", "Canada", "other")}  # fmt: skip
    # 20 days: guidelines of the European Commission, July 2013, as authorities restate them;
    # 15 business days: 21 U.S.C. 364a, seen restated; none in the UK's Article 23
    assert due.pop("EU") == [date(2026, 12, 21)]
    assert due.pop("US") == [date(2026, 12, 22)]
    assert due == {"UK": [], "Canada": [], "other": []}
    for region in ("EU", "UK", "US", "Canada", "other"):
        assert any("reaction" in each["step"] for each in reaction_duties(region, heard))


@given(st.dates(date(2020, 1, 1), date(2040, 1, 1)), st.integers(1, 30))
def test_business_days_are_no_saturday_and_no_sunday(day, days):
    end = last_day(day, days, "business")
    between = [date.fromordinal(n) for n in range(day.toordinal() + 1, end.toordinal() + 1)]
    assert sum(each.weekday() < 5 for each in between) == days
    assert end.weekday() < 5


def test_a_trail_is_a_value_that_nobody_changes():
    row = batch(("lavender", "A12"))
    with pytest.raises(dataclasses.FrozenInstanceError):
        trail_of(row).bottles = 5
