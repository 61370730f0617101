"""Answers of noses in the journal: one row a tap, apart by nose, resumed, moved, not shared."""

from __future__ import annotations

import math
import zipfile
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import blendkit as bk
from blendkit.blend.blend import Blend
from blendkit.choosing.blind import plan
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.wear import film_of
from blendkit.foundation.data import example_document
from blendkit.foundation.errors import BadNumber, Refused
from blendkit.journal.records import AnswerRow
from blendkit.journal.store import now
from blendkit.keeping.answers import (
    BLIND,
    DUEL,
    LOUDNESS,
    MINE,
    READERS,
    as_smelt,
    keep_answer,
    kept_answers,
    maker_nose,
    noses,
)
from blendkit.keeping.open_store import let_go, the_journal

(SITTING,) = plan("paired", 1, "invented")
GOOD = {
    LOUDNESS: {"first": "patchouli", "first_at": "1 %", "second": "lavender",
               "second_at": "4 %", "stronger": "first"},
    DUEL: {"first": {"code": 417, "drops": {"lavender": 3, "patchouli": 1}},
           "second": {"code": 862, "drops": {"lavender": 0, "patchouli": 4}},
           "better": "cannot tell"},
    BLIND: {"kind": "paired", "first": "fresh (invented)", "second": "rested (invented)",
            "order": SITTING.order, "codes": list(SITTING.codes), "picked": SITTING.codes[1]},
}  # fmt: skip
LOUD = {**GOOD[LOUDNESS], "second_at": "16 %"}


@pytest.fixture
def journal(own_folder):
    return the_journal()


@pytest.mark.parametrize("kind", GOOD)
def test_an_answer_is_there_after_reopening_and_gone_after_undo(journal, kind):
    keep_answer(journal, kind, " Ada ", GOOD[kind])
    keep_answer(journal, kind, "Ben", GOOD[kind])
    let_go()
    (kept,) = kept_answers(the_journal(), kind, "Ada")
    assert kept.row.document == GOOD[kind]
    assert kept.read == READERS[kind](GOOD[kind])
    assert noses(the_journal()) == ["Ben", "Ada"]
    the_journal().withdraw(kept.row)
    let_go()
    assert not kept_answers(the_journal(), kind, "Ada")
    assert len(kept_answers(the_journal(), kind)) == 1  # the other nose keeps its own


def test_a_move_holds_answers_and_a_share_does_not(journal, tmp_path, monkeypatch):
    for kind, document in GOOD.items():
        keep_answer(journal, kind, "Ada", document)
    bk.export_store(tmp_path / "move.zip")
    bk.export_store(tmp_path / "share.zip", people=False)
    with zipfile.ZipFile(tmp_path / "share.zip") as share:
        assert not any(b"Ada" in share.read(name) for name in share.namelist())
        assert "answers.csv" not in share.namelist()
    let_go()
    monkeypatch.setenv("BLENDKIT_HOME", str(tmp_path / "other"))
    bk.import_store(tmp_path / "share.zip")
    assert noses(the_journal()) == []
    bk.import_store(tmp_path / "move.zip")
    found = {
        kind: [one.row.document for one in kept_answers(the_journal(), kind)] for kind in GOOD
    }
    assert found == {kind: [document] for kind, document in GOOD.items()}
    let_go()


@pytest.mark.parametrize(
    ("kind", "change"),
    [
        (LOUDNESS, {"stronger": "both"}),
        (LOUDNESS, {"second": "patchouli"}),
        (DUEL, {"first": {"code": 99, "drops": {"lavender": 3, "patchouli": 1}}}),
        (DUEL, {"second": {"code": 862, "drops": {"lemon": 4}}}),
        (DUEL, {"first": {"code": 417, "drops": {"lavender": 1.5, "patchouli": 1}}}),
        (DUEL, {"second": {"code": 862, "drops": {"lavender": 0, "patchouli": 0}}}),
        (DUEL, {"better": ["first"]}),
        (DUEL, {"first": "lavender"}),
        (BLIND, {"picked": 99}),
        (BLIND, {"order": "AAB"}),
        (BLIND, {"codes": "100"}),
        (BLIND, {"second": "fresh (invented)"}),
        (BLIND, {"first": " "}),
    ],
)
def test_a_broken_answer_is_refused_and_one_from_outside_passed_by(journal, kind, change):
    broken = {**GOOD[kind], **change}
    with pytest.raises(Refused):
        keep_answer(journal, kind, "Ada", broken)
    assert not journal.count(AnswerRow)
    journal.add(AnswerRow(kind=kind, nose="Ada", document=broken, answered_at=now()))
    keep_answer(journal, kind, "Ada", GOOD[kind])
    assert [one.row.document for one in kept_answers(journal, kind, "Ada")] == [GOOD[kind]]


VALUES = st.recursive(
    st.none()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=8,
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)
@given(st.sampled_from(sorted(GOOD)), st.integers(0, 9), VALUES)
def test_whatever_a_file_holds_no_answer_takes_the_others_with_it(journal, kind, place, value):
    key = sorted(GOOD[kind])[place % len(GOOD[kind])]
    row = AnswerRow(
        kind=kind, nose="odd", document={**GOOD[kind], key: value}, answered_at=now()
    )
    journal.add(row)
    keep_answer(journal, kind, "odd", GOOD[kind])
    assert kept_answers(journal, kind, "odd")[-1].row.document == GOOD[kind]


def test_a_nose_has_a_name(journal):
    with pytest.raises(BadNumber, match='a name, such as "mine"'):
        keep_answer(journal, LOUDNESS, "  ", GOOD[LOUDNESS])


def test_the_day_goes_by_the_makers_nose_and_by_a_guest_only_without_one(journal):
    film = film_of(Blend(example_document()).bottle, Conditions())
    assert as_smelt(film) == (film, "")
    keep_answer(journal, LOUDNESS, "Ada", LOUD)
    heard, words = as_smelt(film)
    assert words == "as the nose of Ada matched 2 of 6 oils"
    own = film.share_of_oil[film.oils.index("patchouli")] > 0.99
    louder = heard.curves.half_kg_per_m3[own] < film.curves.half_kg_per_m3[own]
    assert louder.all()
    other = {**GOOD[LOUDNESS], "stronger": "second", "first": "geranium"}
    row = keep_answer(journal, LOUDNESS, MINE, other)
    assert as_smelt(film)[1] == "as your nose matched 2 of 6 oils"
    assert np.array_equal(
        as_smelt(film)[0].curves.half_kg_per_m3[own], film.curves.half_kg_per_m3[own]
    )
    journal.withdraw(row)  # undone: the guest's again
    assert as_smelt(film)[1] == words
    loudness = maker_nose().loudness
    assert loudness.drops_as_loud("patchouli", "lavender")[0] > 0


def test_a_few_answers_leave_wide_bands_wide(journal):
    film = film_of(Blend(example_document()).bottle, Conditions())
    own = film.share_of_oil[film.oils.index("patchouli")] > 0.99
    spreads = [film.curves.log_spread[own].max()]
    for _ in range(3):
        keep_answer(journal, LOUDNESS, MINE, LOUD)
        spreads.append(as_smelt(film)[0].curves.log_spread[own].max())
    assert max(spreads[1:]) < spreads[0]
    assert min(spreads) > spreads[0] / 2
    assert all(math.isfinite(each) for each in spreads)


def test_answers_keep_the_moment_they_were_given(journal):
    row = keep_answer(journal, BLIND, "Ada", GOOD[BLIND])
    assert abs(now() - row.answered_at) < timedelta(minutes=5)
    assert row.answered_at.utcoffset() is not None
