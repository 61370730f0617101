"""The ten steps of "Why it fades": each builds, answers, refuses in words, and is physics."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

from blendkit.evaporation.molecules import kind_of_carrier
from blendkit.foundation.errors import BadNumber
from blendkit.materials import catalogue
from blendkit.panels import lesson
from blendkit.panels.day.lesson import STEPS
from blendkit.panels.kit.parts import SlidingNumber
from blendkit.showing.day import charts as day_charts
from blendkit.showing.lesson import charts as lesson_charts
from blendkit.showing.lesson import rows as lesson_rows
from blendkit.showing.lesson.rows import (
    AIR,
    AS_SET,
    AS_USUAL,
    CARRIER,
    CAUSES,
    CLOCK_ALONE,
    FATS_AND_WAX,
    MOLECULES_ALONE,
    NO_CARRIER,
    NOTICED,
    OILS,
    OWN_AMOUNT,
    SHARE_LEFT,
    SKIN,
    VAPOUR,
)
from tests.tools.renew_charts import document_of

NOTEBOOK = Path(__file__).parents[2] / "notebooks" / "05_why_it_fades.ipynb"
ALL = sorted(STEPS)
SLIDING = [step for step in ALL if step != 1]  # step 1 is a choice and not a number
NOTES = ("top", "middle", "base")


@pytest.fixture(scope="module")
def panels():
    return {step: lesson(step) for step in ALL}


def is_stale(panel) -> bool:
    return "bk-stale" in panel.found._dom_classes


def line(shown, note: str, series: str) -> list[float]:
    chosen = [row for row in shown.rows if (row["note"], row["series"]) == (note, series)]
    return [row["value"] for row in sorted(chosen, key=lambda row: row["hours"])]


def by(shown, name: str, value: str) -> dict[str, float]:
    return {row[name]: row[value] for row in shown.rows}


# --- the panels ---------------------------------------------------------------------------


def test_there_are_ten_steps_and_the_notebook_shows_each_once():
    assert list(range(1, 11)) == ALL
    cells = json.loads(NOTEBOOK.read_text(encoding="utf-8"))["cells"]
    code = "".join("".join(cell["source"]) for cell in cells if cell["cell_type"] == "code")
    assert [code.count(f"panels.lesson({step})") for step in ALL] == [1] * 10


@pytest.mark.parametrize("step", [0, 11, "two", None])
def test_an_unknown_step_is_refused_in_words(step):
    with pytest.raises(BadNumber, match="a whole number from 1 to 10"):
        lesson(step)


@pytest.mark.parametrize("step", ALL)
class TestEachStep:
    def test_opens_with_rows_a_sentence_and_its_basis(self, panels, step):
        panel = panels[step]
        assert panel.chart.rows == panel.shown.rows != []
        assert not is_stale(panel)
        assert panel.shown.sentence in panel.chart.label  # for people who cannot see it
        assert "nan" not in panel.shown.sentence
        assert panel.step.basis

    def test_rows_are_plain_and_finite(self, panels, step):
        text = json.dumps(panels[step].chart.rows, allow_nan=False)
        assert json.loads(text) == panels[step].chart.rows

    def test_every_control_changes_the_rows_and_not_the_chart(self, step):
        panel = lesson(step)
        for control in panel.controls:
            before, document = panel.chart.rows, panel.chart.spec
            if isinstance(control, SlidingNumber):
                slider = control.slider
                slider.value = slider.min if slider.value > slider.min else slider.max
            else:
                control.value = next(v for _, v in control.options if v != control.value)
            assert panel.chart.rows != before
            assert panel.chart.spec is document
            assert not is_stale(panel)

    def test_the_chart_names_only_fields_that_its_rows_have(self, panels, step):
        chart = document_of(getattr(lesson_charts, STEPS[step].chart)())
        fields = {
            part["field"]
            for layer in chart.get("layer", [chart])
            for part in (each for each in _encodings(layer["encoding"]) if "field" in each)
        }
        assert fields <= set(panels[step].chart.rows[0])


@pytest.mark.parametrize("name", sorted({step.chart for step in STEPS.values()}))
def test_no_chart_clips_since_clips_of_several_charts_share_names(name):
    assert '"clip": true' not in json.dumps(document_of(getattr(lesson_charts, name)()))


@pytest.mark.parametrize(
    "chart",
    [
        day_charts.fade_chart,
        lesson_charts.lift_chart,
        lesson_charts.amounts_chart,
        lesson_charts.nose_chart,
    ],
)
def test_no_line_runs_from_one_note_to_another(chart):
    spec = document_of(chart())
    lines = [
        {
            part.get("field")
            for part in _encodings(
                {k: v for k, v in layer["encoding"].items() if k in _PARTING}
            )
        }
        for layer in _flat(spec)
        if layer["mark"]["type"] == "line"
    ]
    assert len(lines) == 2
    assert all({"note", "series"} <= fields for fields in lines)


_PARTING = ("color", "detail", "strokeDash")  # what a line is parted by


def _flat(spec):
    for layer in spec.get("layer", [spec]):
        yield from _flat(layer) if "layer" in layer else [layer]


def _encodings(encoding):
    for part in encoding.values():
        yield from part if isinstance(part, list) else [part]


@pytest.mark.parametrize("step", SLIDING)
@pytest.mark.parametrize("text", ["", "two", "-1", "1e999", "nan", "<b>", "7 apples"])
def test_a_bad_number_is_said_and_kept_and_the_last_good_rows_stay(panels, step, text):
    panel = panels[step]
    box, rows = panel.controls[0].box, panel.chart.rows
    good = box.value
    box.value = text
    assert box.value == text  # nothing is clamped
    assert "bk-refusal" in panel.message.view.value
    assert "Something broke" not in panel.message.view.value
    assert "<b>&" not in panel.message.view.value
    assert panel.chart.rows == rows
    assert is_stale(panel)
    box.value = good
    assert not is_stale(panel)
    assert "bk-refusal" not in panel.message.view.value


@pytest.mark.defect
@pytest.mark.usefixtures("own_folder")
def test_a_defect_is_said_and_not_hidden(monkeypatch):
    panel = lesson(6)
    broken = panel.step._replace(rows=lambda load: 1 / 0)
    monkeypatch.setattr(panel, "step", broken)
    panel.controls[0].value = "10 g/m**2"
    assert "ZeroDivisionError" in panel.message.view.value


@pytest.mark.parametrize("lines", [2.5, 1, 101, "many", math.nan])
def test_lines_are_whole(lines):
    with pytest.raises(BadNumber, match="lines"):
        lesson_rows.draws("top", CAUSES[0], lines)


@pytest.mark.parametrize("step", ALL)
def test_nobody_is_promised_anything(panels, step):
    panel = panels[step]
    assert "safe" not in (panel.shown.sentence + panel.step.basis + panel.step.label).lower()
    assert "safe" not in NOTEBOOK.read_text(encoding="utf-8").lower()


# --- the physics --------------------------------------------------------------------------


def test_1_molecules_stand_from_the_quickest_to_the_slowest():
    for _, oil in lesson_rows.oils_to_choose():
        pressures = [row["pressure"] for row in lesson_rows.pressures(oil).rows]
        assert pressures == sorted(pressures, reverse=True)
        assert all(
            r["low"] <= r["pressure"] <= r["high"] for r in lesson_rows.pressures(oil).rows
        )


def test_2_warmer_is_more_vapour_and_most_for_the_heavy():
    at = {c: by(lesson_rows.warmth(f"{c} degC"), "note", "times") for c in (20, 25, 32, 40)}
    for note in NOTES:
        assert at[20][note] < 1 < at[32][note] < at[40][note]
        assert at[25][note] == pytest.approx(1)
    assert at[40]["top"] < at[40]["middle"] < at[40]["base"]


def test_3_shares_sum_to_one_and_less_oil_is_slower():
    thin, strong = (lesson_rows.shares(text) for text in ("5 %", "40 %"))
    for shown in (thin, strong):
        for kind in ("count", "mass"):
            assert sum(row[kind] for row in shown.rows) == pytest.approx(1)
    for note in NOTES:
        assert by(thin, "note", "speed")[note] < by(strong, "note", "speed")[note]
    carrier = strong.rows[-1]
    assert carrier["count"] < carrier["mass"]  # big molecules


def test_3_pure_oil_has_no_carrier_but_its_own_wax():
    assert lesson_rows.shares("100 %").rows[-1]["mass"] < 0.05


def test_4_the_share_of_the_base_rises_while_its_amount_falls():
    shown = lesson_rows.lift("20 %")
    share, amount = (line(shown, "base", series) for series in (SHARE_LEFT, OWN_AMOUNT))
    assert max(share) > 1.2
    assert amount == sorted(amount, reverse=True)
    assert max(line(lesson_rows.lift("5 %"), "base", SHARE_LEFT)) < max(share)
    assert max(line(shown, "top", SHARE_LEFT)) == 1


def test_5_more_carrier_slows_every_oil_about_alike():
    some, more = (by_oil(lesson_rows.carriers(text), CARRIER) for text in ("20 %", "10 %"))
    slower = [more[note] / some[note] for note in NOTES]
    assert min(slower) > 1.5
    assert max(slower) / min(slower) < 1.2
    none = by_oil(lesson_rows.carriers("20 %"), NO_CARRIER)
    assert all(none[note] < some[note] for note in NOTES)


def by_oil(shown, carrier: str) -> dict[str, float]:
    name = carrier if carrier == NO_CARRIER else catalogue.carrier(carrier).name
    return {row["note"]: row["hours"] for row in shown.rows if row["carrier"] == name}


def test_5_kinds_of_carrier_are_close_per_gram():
    shown = lesson_rows.carriers("20 %")
    kinds = {row["kind"] for row in shown.rows} - {NO_CARRIER}
    assert kinds == set(kind_of_carrier().values())
    for note in NOTES:
        held = {r["kind"]: r["hours"] for r in shown.rows if r["note"] == note}
        of_fats = [held[kind] for kind in FATS_AND_WAX]
        everywhere = [held[kind] for kind in kinds]
        assert max(of_fats) / min(of_fats) < 2
        assert max(everywhere) / min(everywhere) < 4


@pytest.mark.parametrize("note", NOTES)
def test_6_more_put_on_is_slower_and_time_scales_with_it(note):
    twice = lesson_rows.amounts(film="40 g/m**2")
    set_here, usual = (line(twice, note, series) for series in (AS_SET, AS_USUAL))
    assert all(a >= b for a, b in zip(set_here, usual, strict=True))
    hours = sorted({row["hours"] for row in twice.rows})
    at = dict(zip(hours, set_here, strict=True))
    half_as_long = dict(zip(hours, usual, strict=True))
    assert at[4.0] == pytest.approx(half_as_long[2.0], abs=2e-4)


@pytest.mark.parametrize("note", NOTES)
def test_7_a_breeze_is_faster_and_still_air_slower(note):
    usual = line(lesson_rows.amounts(), note, AS_USUAL)
    for speed, faster in (("1.5 m/s", True), ("0.05 m/s", False)):
        now = line(lesson_rows.amounts(air_speed=speed), note, AS_SET)
        assert all((a <= b) == faster or a == b for a, b in zip(now, usual, strict=True))
    assert line(lesson_rows.amounts(), note, AS_SET) == usual


def test_8_a_thirstier_skin_takes_more_and_shares_sum_to_one():
    takes = {}
    for factor in (0.2, 1, 5):
        rows = lesson_rows.skin(factor).rows
        takes[factor] = {r["molecule"]: r["share"] for r in rows if r["way"] == SKIN}
        to_air = {r["molecule"]: r["share"] for r in rows if r["way"] == AIR}
        assert all(to_air[m] + takes[factor][m] == pytest.approx(1) for m in to_air)
    for molecule in takes[1]:
        assert takes[0.2][molecule] < takes[1][molecule] < takes[5][molecule]
    assert takes[1]["limonene"] < 0.01 < takes[1]["eugenol"] < takes[1]["vanillin"]


@pytest.mark.parametrize("note", NOTES)
def test_9_the_nose_follows_the_power_law(note):
    for exponent in (0.2, 0.35, 1):
        shown = lesson_rows.nose(exponent)
        noticed, vapour = (line(shown, note, series) for series in (NOTICED, VAPOUR))
        for seen, there in zip(noticed, vapour, strict=True):
            if there > 0.01:  # rows are rounded to four places
                assert seen == pytest.approx(there**exponent, abs=2e-3)


def test_10_each_cause_alone_is_narrower_than_all_at_once():
    def spread(cause: str) -> float:
        shown = lesson_rows.draws("middle", cause, 100)
        after_two = sorted(r["value"] for r in shown.rows if r["hours"] == 2 and r["line"])
        return after_two[83] - after_two[16]

    both = spread(CAUSES[0])
    assert 0 < spread(CLOCK_ALONE) < both
    assert 0 < spread(MOLECULES_ALONE) < both


def test_10_the_plain_forecast_does_not_depend_on_the_draws():
    plain = [
        [r["value"] for r in lesson_rows.draws("base", cause, count).rows if r["line"] == 0]
        for cause, count in zip(CAUSES, (5, 20, 60), strict=True)
    ]
    assert plain[0] == plain[1] == plain[2]


def test_the_mixture_has_one_oil_of_each_note():
    assert tuple(catalogue.oil(name).note for name in OILS) == NOTES
