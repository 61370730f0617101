"""Export at A, import at an empty B: everything a maker owns is there and says the same."""

from __future__ import annotations

import os
import subprocess
import sys
from datetime import date

import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import blendkit as bk
from blendkit.batch.cost import cost
from blendkit.batch.scaling import scale
from blendkit.journal.records import KINDS, BatchMaterial, BatchRow, Photo
from blendkit.journal.store import now
from blendkit.keeping import details
from blendkit.keeping.open_store import let_go, the_journal
from blendkit.keeping.stock_entries import buy, count, current_stock, drop_sizes, keep_drop_size
from blendkit.keeping.versions import keep_version, kept_versions
from blendkit.materials import catalogue
from tests.tools.journal_file import rows_of

OILS = ("bergamot-fcf", "lavender", "geranium", "patchouli", "clove-bud")
CARRIERS = ("jojoba", "mct-fractionated-coconut")
EMPTIED = ("why", "note")

lots = st.lists(
    st.tuples(
        st.sampled_from(OILS),
        st.sampled_from(("A1", "B 2", "=C3")),
        st.integers(10, 450).map(lambda tenths: tenths / 10),
    ),
    max_size=4,
)
bottles = st.lists(
    st.tuples(st.sampled_from((*OILS, *CARRIERS)), st.integers(1, 99), st.floats(0.1, 40)),
    max_size=5,
)
blends = st.lists(
    st.tuples(
        st.lists(st.integers(0, len(OILS) - 1), min_size=1, max_size=4, unique=True),
        st.sampled_from(("5 mL", "10 mL", "30 mL")),
        st.integers(1, 30),
        st.booleans(),
    ),
    min_size=1,
    max_size=3,
)


@pytest.fixture
def homes(tmp_path, monkeypatch):
    """Two makers' folders; the first one is in use."""
    folders = iter(range(1000))

    def new():
        let_go()
        home = tmp_path / f"{next(folders)}"
        monkeypatch.setenv("BLENDKIT_HOME", str(home))
        return home

    yield new
    let_go()


def fill_store(lots, bottles, blends):
    """An invented maker's store; blends use an own lot where there is one."""
    for oil, lot, percent in lots:
        bk.keep_lot(
            oil, lot, bk.read_analysis(f"Linalool {percent} %\nEugenol 3 %\nNobody 1.5 %")
        )
    journal = the_journal()
    for material, ml, price in bottles:
        buy(journal, material, f"{ml} mL", price=price, currency="EUR", opened_on="2026-02-01")
    count(journal, "jojoba", "40 g")
    keep_drop_size(journal, "lavender", 26.5, "drops weighed on a scale")
    details.keep_maker(journal, "A maker (invented)", "nowhere")
    details.keep_packs(journal, [{"material": "jojoba", "size": "50 mL", "price": "8"}])
    details.keep_class(journal, {"name": "Evening (invented)"})
    own = {oil.partition("@")[0]: oil for oil in catalogue.oil_ids() if "@" in oil}
    for number, (places, bottle, strength, uses_own) in enumerate(blends):
        chosen = [OILS[place] for place in places]
        chosen = [own.get(oil, oil) if uses_own else oil for oil in chosen]
        notes = {catalogue.oil(oil).note: 1 for oil in chosen}
        document = {
            "name": f"Quay {number} (invented)", "bottle": bottle, "strength": f"{strength} %",
            "drops_per_ml": {"default": 20, **drop_sizes(journal)}, "note_parts": notes,
            "oils": [{"id": oil} for oil in chosen], "carriers": [{"id": "jojoba"}],
        }  # fmt: skip
        document["drops_per_ml"].pop("lavender" if "lavender" not in chosen else "", None)
        try:
            kept, _ = keep_version(journal, bk.Blend.from_dict(document), "for somebody")
        except bk.BadBlend:
            continue  # a bottle too small for one drop of each
        row = BatchRow(version_id=kept.version.id, lot=f"{number}", made_on=date(2026, 11, 25))
        taken = [BatchMaterial(batch_id="", material=chosen[0], volume_ml=0.5)]
        journal.make_batch(row, [(1, 10.0)], taken)


def told(fade):
    """Everything that the workbook says of the store, as plain values."""
    journal = the_journal()
    stock = current_stock(journal)
    said = {"stock": {name: (row.left_m3, row.layers) for name, row in stock.items()}}
    said["lots"] = bk.oils().loc[lambda table: table.index.str.contains("@")].to_dict("index")
    for kept in kept_versions(journal):
        blend = kept.blend()
        findings = bk.skin_findings(blend)
        said[kept.label] = {
            "drops": dict(blend.oil_drops),
            "table": bk.drop_table(blend).to_dict("list"),
            "verdicts": findings.astype(object).where(findings.notna(), None).to_dict("list"),
            "cost": cost(scale(blend, "3 × 10 mL"), stock, currency="EUR"),
            "fade": bk.fade(blend, hours=2).to_dict("list") if fade else None,
        }
    return said


@settings(
    max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None
)
@given(lots=lots, bottles=bottles, blends=blends)
def test_what_is_moved_says_the_same(homes, lots, bottles, blends):
    here = homes()
    fill_store(lots, bottles, blends)
    before, rows = told(fade=False), rows_of(the_journal().path)
    file = bk.export_store(here / "move.zip")
    homes()
    bk.import_store(file)
    after = told(fade=False)
    assert after == before
    assert rows_of(the_journal().path) == rows
    assert not any(bk.import_store(file).values())


def test_a_full_store_is_moved_with_its_fades(homes, capsys):
    here = homes()
    fill_store(
        [("lavender", "A1", 36.0), ("clove-bud", "B 2", 12.5)],
        [("lavender", 10, 8.5), ("jojoba", 50, 7.9), ("clove-bud", 5, 6.25)],
        [
            ([1, 2, 3], "10 mL", 20, True),
            ([0, 1, 4], "30 mL", 12, True),
            ([1], "5 mL", 5, False),
        ],
    )
    photo = here / "quay.png"
    photo.write_bytes(b"\x89PNG\r\n\x1a\ninvented")
    session = the_journal().start_session("invented")
    the_journal().add(Photo(path=str(photo), taken_at=now(), session_id=session.id))
    before, file = told(fade=True), bk.export_store(here / "move.zip")
    there = homes()
    added = bk.import_store(file)
    after = told(fade=True)
    assert {kind.TABLE for kind in KINDS} == added.keys()
    assert (there / "photos").is_dir()
    lines = [f"{sum(added.values())} rows of {sum(map(bool, added.values()))} tables moved"]
    for name in before:
        assert after[name] == before[name], name
        lines.append(f"{name}: the same at B")
        if name not in ("stock", "lots"):
            lines.append("  " + ", ".join(f"{o} {n}" for o, n in after[name]["drops"].items()))
            verdicts = pd.Series(after[name]["verdicts"]["verdict"]).value_counts()
            hours = len(after[name]["fade"]["hours"])
            lines.append(
                f"  verdicts {verdicts.to_dict()}; {after[name]['cost'].sentences[0]} "
                f"{hours} rows of fade equal"
            )
    with capsys.disabled():
        sys.stdout.write("\n" + "\n".join(lines) + "\n")


def test_a_share_brings_blends_that_open_with_the_same_verdicts(homes):
    here = homes()
    fill_store(
        [("lavender", "A1", 36.0)], [("lavender", 10, 8.5)], [([1, 2], "10 mL", 20, True)]
    )
    (kept,) = kept_versions(the_journal())
    before = bk.skin_findings(kept.blend())
    file = bk.export_store(here / "share.zip", people=False)
    homes()
    shared = {"blends", "versions", "own_lots", "own_materials"}
    assert set(bk.import_store(file)) == shared
    (kept,) = kept_versions(the_journal())
    assert kept.version.why == ""
    pd.testing.assert_frame_equal(bk.skin_findings(kept.blend()), before)
    assert current_stock(the_journal()) == {}


def test_another_process_opens_what_was_imported(homes):
    """A maker's other computer has nothing but the folder."""
    here = homes()
    fill_store([("lavender", "A1", 36.0)], [], [([1], "10 mL", 20, True)])
    file = bk.export_store(here / "move.zip")
    there = homes()
    program = (
        f"import blendkit as bk; bk.import_store({str(file)!r});"
        "from blendkit.keeping.versions import kept_versions;"
        "from blendkit.keeping.open_store import the_journal;"
        "print(dict(kept_versions(the_journal())[0].blend().oil_drops))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program],
        env={**os.environ, "BLENDKIT_HOME": str(there)},
        capture_output=True,
        text=True,
        check=True,
    )
    assert "lavender@A1" in done.stdout


def test_refusals_name_what_is_wrong(homes):
    here = homes()
    the_journal().start_session("invented")
    file = bk.export_store(here / "move.zip")
    with pytest.raises(bk.BlendkitError, match="a new name"):
        bk.export_store(file)
    with pytest.raises(bk.BlendkitError, match="a zip file"):
        bk.import_store(here / "nothing.zip")
