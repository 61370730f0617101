"""Batch record: what was planned, what went in, what went wrong, and papers that only grow."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendkit import Blend, example_document
from blendkit.foundation.errors import BadNumber
from blendkit.foundation.units import G_PER_KG
from blendkit.journal.records import BatchMaterial, BatchPaperRow, BatchRow, Impression
from blendkit.journal.store import now, open_journal
from blendkit.making.bench_events import (
    AccidentalDrops,
    Drops,
    Measured,
    Remark,
    ScaleReading,
    Spilled,
    Start,
    Undo,
)
from blendkit.making.bench_log import Bench
from blendkit.selling.batch_record import CHECKS, bench_deviations, record_of
from blendkit.selling.papers import (
    LONGEST,
    RECORD,
    RELEASE,
    STABILITY,
    keep_paper,
    looks,
    looks_due,
    papers,
)

INVENTED = example_document() | {"name": "Quay at Dusk (invented)"}
MADE_ON = date(2026, 3, 2)


@pytest.fixture
def journal(tmp_path):
    with open_journal(tmp_path) as opened:
        yield opened


def made(journal, masses_g, **lots):
    """A batch of three bottles with these masses."""
    version = journal.new_blend(INVENTED["name"], INVENTED)
    row = BatchRow(version_id=version.id, lot="20260302-1", made_on=MADE_ON)
    materials = [
        BatchMaterial(batch_id="", material=name, mass_g=g, supplier_lot=lots.get(name, ""))
        for name, g in masses_g.items()
    ]
    return journal.make_batch(row, [(3, 10.0)], materials)


def mixed(*events):
    bench = Bench.of([Start(INVENTED)])
    for event in events:
        bench = bench.after(event)
    return bench


def batch_of(journal, bench):
    masses = {name: kg * G_PER_KG for name, kg in bench.mixture.masses_kg.items()}
    return made(journal, masses)


def as_planned():
    blend = Blend.from_dict(INVENTED)
    drops = [Drops(oil, count) for oil, count in blend.oil_drops.items()]
    poured = [
        Measured(p.material, f"{p.mass_kg * G_PER_KG:.9g} g") for p in blend.bottle.carriers
    ]
    return [*drops, *poured]


class TestAmounts:
    def test_a_bottle_as_planned_has_no_deviation(self, journal):
        bench = mixed(*as_planned())
        record = record_of(journal, batch_of(journal, bench), "x", bench=bench)
        assert record.deviations == ()
        assert [line.off for line in record.materials] == pytest.approx([0] * 8, abs=1e-6)
        assert {line.how for line in record.materials} == {"counted", "weighed"}

    def test_two_drops_by_accident_are_shown_against_eleven_planned(self, journal):
        planned = Blend.from_dict(INVENTED).oil_drops["bergamot-fcf"]
        bench = mixed(*as_planned(), AccidentalDrops("bergamot-fcf", 2))
        record = record_of(journal, batch_of(journal, bench), "x", bench=bench)
        (line,) = [one for one in record.materials if one.is_off]
        assert planned == 11
        assert line.off == pytest.approx(2 / 11)
        assert record.deviations[0].startswith("No. 10, 2 drops of Bergamot")
        assert record.deviations[1].endswith("+18.18 % of the planned amount.")

    def test_what_was_not_planned_and_what_is_missing(self, journal):
        rest = [e for e in as_planned() if e.material != "patchouli"]
        bench = mixed(*rest, Drops("vetiver", 3))
        record = record_of(journal, batch_of(journal, bench), "x", bench=bench)
        assert "Vetiver (Haiti): not planned." in record.deviations
        assert "Patchouli: planned, not in the batch." in record.deviations

    def test_a_weighing_list_is_the_plan_and_the_scale_is_typed(self, journal):
        batch = made(journal, {"lavender": 2.0, "jojoba": 20.0})
        blank = record_of(journal, batch, "x")
        assert [line.weighed_g for line in blank.materials] == [None, None]
        assert blank.deviations == ()
        typed = {"weighed": {"lavender": "2.03 g", "jojoba": "21 g"}, "tolerance": "2 %"}
        record = record_of(journal, batch, "x", typed=typed)
        assert [line.is_off for line in record.materials] == [False, True]
        assert [line.off for line in record.materials] == pytest.approx([0.015, 0.05])
        wide = record_of(journal, batch, "x", typed=typed | {"tolerance": "5 %"})
        assert not any(line.is_off for line in wide.materials)

    def test_one_step_of_the_scale_is_never_off(self, journal):
        batch = made(journal, {"vetiver": 0.05})
        typed = {"weighed": {"vetiver": "0.06 g"}}  # 20 % more, and 0.01 g
        assert record_of(journal, batch, "x", typed=typed).deviations == ()

    def test_two_lots_of_an_oil_are_one_planned_amount(self, journal):
        bench = mixed(*as_planned())
        masses = {name: kg * G_PER_KG for name, kg in bench.mixture.masses_kg.items()}
        half = masses.pop("lavender") / 2
        batch = made(journal, {"lavender": half, "lavender@A12": half} | masses)
        record = record_of(journal, batch, "x", bench=bench)
        assert record.deviations == ()

    @pytest.mark.parametrize("amount", ["2 mL", "nothing", "-1 g", "1e999 g", "0 g"])
    def test_a_weighing_that_is_no_mass_is_refused_by_its_material(self, journal, amount):
        batch = made(journal, {"lavender": 2.0})
        with pytest.raises(BadNumber, match="weighed, Lavender"):
            record_of(journal, batch, "x", typed={"weighed": {"lavender": amount}})


class TestSkin:
    def test_what_went_in_is_judged_and_not_what_was_planned(self, journal):
        blend = Blend(INVENTED)
        masses = {p.material: p.mass_kg * G_PER_KG for p in blend.bottle.portions}
        batch = made(journal, masses)
        planned = record_of(journal, batch, "x", blend)
        assert planned.judged.warning == ""
        typed = {"weighed": {"jojoba": "0.1 g", "mct-fractionated-coconut": "0.1 g"}}
        record = record_of(journal, batch, "x", blend, typed=typed)
        # a share of a limit is a mass over the whole: it grows as the whole shrinks
        whole, left = blend.bottle.mass_kg, sum(p.mass_kg for p in blend.bottle.oils) + 2e-4
        subject, share = planned.judged.closest
        assert record.judged.closest == (subject, pytest.approx(share * whole / left))
        assert share * whole / left > 1
        assert record.open_points[0] == "Skin limits not settled: do not mix yet."


class TestBenchLog:
    def test_accidents_spills_and_remarks_count_and_undone_ones_do_not(self):
        bench = mixed(*as_planned(), AccidentalDrops("lavender", 1), Remark("new dropper"))
        bench = bench.after(Undo(bench.last.number)).after(Spilled("1 g"))
        found = bench_deviations(bench)
        assert [one.split(",")[0] for one in found] == ["No. 10", "No. 13"]

    @pytest.mark.parametrize(("factor", "counts"), [(1.01, 0), (1.05, 1), (0.95, 1)])
    def test_a_reading_counts_beyond_two_per_cent(self, factor, counts):
        drops = [e for e in as_planned() if isinstance(e, Drops)]
        bench = mixed(*drops)
        reading = ScaleReading(f"{bench.mixture.mass_kg * G_PER_KG * factor:.6f} g")
        assert len(bench_deviations(bench.after(reading))) == counts

    @given(st.lists(st.floats(0.01, 0.9), max_size=4))
    def test_yield_is_what_the_spills_leave(self, tmp_path_factory, shares):
        """Each spill leaves its share of the rest: the yield is the product of all."""
        bench, left = mixed(*as_planned()), 1.0
        for share in shares:
            bench = bench.after(Spilled(f"{bench.mixture.mass_kg * G_PER_KG * share:.12g} g"))
            left *= 1 - share
        with open_journal(tmp_path_factory.mktemp("law")) as journal:
            record = record_of(journal, batch_of(journal, bench), "x", bench=bench)
        (words,) = record.yields
        percent = float(words.rpartition(": ")[2].removesuffix(" %."))
        assert percent == pytest.approx(left * 100, rel=6e-3)  # three digits are shown


class TestPapers:
    def test_a_second_record_corrects_the_first_which_stays(self, journal):
        batch = made(journal, {"lavender": 2.0})
        assert keep_paper(journal, batch, RECORD, {"made_by": "A"}, MADE_ON)
        assert not keep_paper(journal, batch, RECORD, {"made_by": "A"}, MADE_ON)
        assert keep_paper(journal, batch, RECORD, {"made_by": "B"}, MADE_ON)
        (kept,) = papers(journal, batch, RECORD)
        assert [r.document["made_by"] for r in journal.history(BatchPaperRow, kept.id)] == [
            "A", "B",
        ]  # fmt: skip
        assert record_of(journal, batch, "x").corrections == 1

    def test_decisions_add_up_and_the_last_one_counts(self, journal):
        batch = made(journal, {"lavender": 2.0})
        for decision, why in (("held back", "cloudy"), ("released", "")):
            document = {"decision": decision, "by": "B", "why": why}
            keep_paper(journal, batch, RELEASE, document, MADE_ON)
        record = record_of(journal, batch, "x")
        assert record.release == "released on 2026-03-02 by B"
        assert len(record.releases) == 2

    def test_held_back_is_not_released(self, journal):
        batch = made(journal, {"lavender": 2.0})
        held = {"decision": "held back", "by": "B"}
        keep_paper(journal, batch, RELEASE, held, MADE_ON)
        assert "Not released." in record_of(journal, batch, "x").open_points

    @pytest.mark.parametrize(
        ("kind", "document", "day", "words"),
        [
            (RELEASE, {"decision": "released", "by": ""}, MADE_ON, "decision by: got nobody"),
            (RELEASE, {"by": "B"}, MADE_ON - timedelta(1), "needs 2026-03-02 or later"),
            (STABILITY, {"words": "x" * (LONGEST + 1)}, MADE_ON, "words: got 121 characters"),
            (RECORD, {"checks": {"look": "x" * 999}}, MADE_ON, "look: got 999 characters"),
        ],
    )
    def test_refused_papers_write_nothing(self, journal, kind, document, day, words):
        batch = made(journal, {"lavender": 2.0})
        with pytest.raises(BadNumber, match=words):
            keep_paper(journal, batch, kind, document, day)
        assert journal.all(BatchPaperRow) == []

    @pytest.mark.parametrize(
        "document",
        [{"weighed": 3, "checks": "x"}, {"checks": [1], "lots": None}, {"made_by": ["A"]}],
    )
    def test_a_document_from_elsewhere_is_read_as_far_as_it_goes(self, journal, document):
        batch = made(journal, {"lavender": 2.0})
        row = BatchPaperRow(batch_id=batch.id, kind=RECORD, document=document, dated_on=MADE_ON)
        journal.add(row)
        record = record_of(journal, batch, "x")
        assert [check for check, _, _ in record.checks] == list(CHECKS)

    def test_blank_points_are_listed_until_they_are_filled(self, journal):
        batch, blend = made(journal, {"jojoba": 2.0}, jojoba="A12"), Blend(INVENTED)
        assert len(record_of(journal, batch, "x", blend).open_points) == 4
        document = {"made_by": "A", "sample": "1", "checks": dict.fromkeys(CHECKS, "ok")}
        keep_paper(journal, batch, RECORD, document, MADE_ON)
        keep_paper(journal, batch, RELEASE, {"decision": "released", "by": "B"}, MADE_ON)
        assert record_of(journal, batch, "x", blend).open_points == ()
        assert record_of(journal, batch, "x").open_points == ("Not judged on skin.",)


class TestLooks:
    def test_a_look_is_due_from_its_day_until_somebody_looks(self, journal):
        batch = made(journal, {"lavender": 2.0})
        due = lambda days: list(  # noqa: E731 - one line, used below only
            looks_due(journal, {"lot 1": batch}, MADE_ON + timedelta(days))
        )
        assert due(8) == []  # nobody began a paper of it
        keep_paper(journal, batch, RECORD, {"made_by": "A"}, MADE_ON)
        assert due(6) == []
        assert due(8) == ["lot 1: look of day 7, due since 2026-03-09."]
        keep_paper(journal, batch, STABILITY, {"words": "x"}, MADE_ON + timedelta(8))
        assert due(27) == []
        assert due(28) == ["lot 1: look of day 28, due since 2026-03-30."]
        assert due(400) == ["lot 1: look of day 365, due since 2027-03-02."]

    def test_sniffs_of_notebook_06_are_looks_too_and_wearings_are_not(self, journal):
        batch = made(journal, {"lavender": 2.0})
        for kind in ("sniff", "wear", "maceration"):
            one = Impression(kind=kind, happened_at=now(), words=kind, batch_id=batch.id)
            journal.add(one)
        assert [look.words for look in looks(journal, batch)] == ["sniff", "maceration"]
