"""The panels of selling with a file: a record filled and kept, and a zip written."""

from __future__ import annotations

import html
import zipfile

import pytest

from blendkit import Blend, example_document
from blendkit.foundation import keep
from blendkit.journal.records import BatchMaterial, BatchPaperRow
from blendkit.journal.store import now
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.own_materials import keep_material, keep_mixture
from blendkit.making.bench_events import AccidentalDrops, Drops
from blendkit.panels import batch_record, make_and_keep, make_more, product_file
from blendkit.selling.papers import RECORD, RELEASE, STABILITY

SCRIPT = "<script>alert(1)</script>"
INVENTED = example_document() | {"name": f"Quay at Dusk (invented) {SCRIPT}"}

pytestmark = pytest.mark.usefixtures("own_folder")


@pytest.fixture
def bottle():
    """A bottle kept at the bench, with two drops by accident."""
    bench = make_and_keep(Blend(INVENTED))
    for oil, count in Blend(INVENTED).oil_drops.items():
        bench.add(Drops(oil, count))
    bench.add(AccidentalDrops("lavender", 2))
    bench.pouring.pour_to_fill()
    bench.finish.name.value = INVENTED["name"]
    bench.keep()


def said(panel) -> str:
    return html.unescape(panel.message.view.value)


def press(panel, action) -> str:
    panel.message.guard(action)()
    return said(panel)


def upload(panel, name, content):
    one = {"name": name, "type": "", "size": len(content), "content": content}
    panel.upload.value = ({**one, "last_modified": now()},)


def type_lot(panel, place, **cells):
    rows = [dict(row) for row in panel.materials.rows]
    rows[place] |= cells
    panel.materials.rows = rows


class TestRecord:
    def test_the_deviation_of_the_bench_is_on_panel_and_page(self, bottle):
        panel = batch_record()
        assert "2 drops of Lavender by accident" in panel.facts.value
        page = panel.page()
        assert "2 drops of Lavender by accident" in page
        assert SCRIPT not in page + panel.facts.value
        assert html.escape(SCRIPT) in page

    def test_keeping_writes_the_record_and_corrects_the_lot_for_a_recall(self, bottle):
        panel = batch_record()
        panel.boxes["made_by"].value = SCRIPT
        type_lot(panel, 0, lot="A12", weighed="0,50")
        assert "A12" in panel.facts.value
        assert "0.500" in panel.facts.value
        assert "Record kept." in press(panel, panel.keep)
        assert the_journal().all(BatchMaterial)[0].supplier_lot == "A12"
        assert "The same was kept" in press(panel, panel.keep)
        again = batch_record()
        assert again.boxes["made_by"].value == SCRIPT
        assert again.materials.rows[0]["lot"] == "A12"
        assert SCRIPT not in again.page()

    def test_what_is_typed_survives_a_refusal_another_batch_and_a_write(self, bottle):
        make_more(Blend(INVENTED)).write_down()
        panel = batch_record()
        newest, older = (value for _, value in panel.batch.options)
        panel.batch.value = older
        panel.boxes["remark"].value = "draft"
        type_lot(panel, 0, weighed="heavy")
        assert "weighed, Bergamot" in said(panel)
        assert "weighed, Bergamot" in press(panel, panel.keep)
        assert the_journal().all(BatchPaperRow) == []
        panel.batch.value = newest
        assert panel.boxes["remark"].value == ""
        panel.refresh()
        panel.batch.value = older
        assert panel.boxes["remark"].value == "draft"
        assert panel.materials.rows[0]["weighed"] == "heavy"

    def test_a_weighing_list_has_blanks_to_fill(self):
        make_more(Blend(INVENTED)).write_down()
        panel = batch_record()
        assert "No result: start" in panel.open.view.value
        assert "12 × 10 mL" in panel.page()
        type_lot(panel, 0, weighed="1")
        assert "of the planned amount" in panel.facts.value

    def test_a_decision_needs_a_name_and_a_day(self, bottle):
        panel = batch_record()
        assert "nobody" in press(panel, lambda: panel.write(RELEASE))
        panel.forms[RELEASE]["by"].value = "Maker (invented)"
        panel.days[RELEASE].value = "someday"
        assert "YYYY-MM-DD" in press(panel, lambda: panel.write(RELEASE))
        panel.days[RELEASE].value = "2999-01-01"
        assert "Recorded" in press(panel, lambda: panel.write(RELEASE))
        assert "released on 2999-01-01 by Maker" in panel.facts.value
        assert "Not released" not in panel.open.view.value

    def test_a_look_is_kept_and_shown(self, bottle):
        panel = batch_record()
        panel.forms[STABILITY]["words"].value = SCRIPT
        assert "Recorded" in press(panel, lambda: panel.write(STABILITY))
        assert html.escape(SCRIPT) in panel.facts.value
        assert SCRIPT not in panel.facts.value
        assert panel.forms[STABILITY]["words"].value == ""
        assert "Its row stays" in press(panel, lambda: panel.undo(STABILITY))
        assert html.escape(SCRIPT) not in panel.facts.value
        assert "got none" in press(panel, lambda: panel.undo(STABILITY))

    def test_without_a_batch_it_says_where_to_make_one(self):
        panel = batch_record()
        assert "notebook 07" in press(panel, panel.keep)
        assert "notebook 07" in panel.page()
        assert the_journal().all(BatchPaperRow, kind=RECORD) == []


class TestFile:
    def test_a_zip_is_written_and_never_over_another(self, bottle):
        panel = product_file()
        upload(panel, "../lavender.pdf", b"abc")
        assert "Written: " in press(panel, panel.write)
        press(panel, panel.write)
        files = sorted((keep.home() / "product files").iterdir())
        assert len(files) == 2
        with zipfile.ZipFile(files[0]) as packed:
            names = packed.namelist()
            page = packed.read("product file.html").decode()
        assert "certificates/01 lavender.pdf" in names
        assert sum(name.startswith("batch records/") for name in names) == 1
        assert SCRIPT not in page
        assert page.index("This is no safety assessment.") < page.index("<h1>")
        assert (
            "2 drops of Lavender"
            in panel.pages(panel.file())[
                next(name for name in names if name.startswith("batch records/"))
            ]
        )

    def test_the_market_decides_what_is_to_be_added(self, bottle):
        panel = product_file()
        assert "Toxicological profile" in panel.facts.value
        panel.market.region.value = "US"
        assert "Ingredients: Simmondsia" in panel.page()  # though on a card there
        assert "Toxicological profile" not in panel.facts.value
        assert "reasonable certainty" in panel.facts.value

    def test_too_large_a_certificate_changes_nothing(self, bottle):
        panel = product_file()
        upload(panel, "a", b"a")
        upload(panel, "b", bytes(6_000_000))
        assert 'too large: "b"' in said(panel)
        assert [name for name, _ in panel.certificates] == ["a"]

    def test_own_materials_are_gaps_with_sources_and_never_left_out(self):
        own = keep_material("Orchard petals (invented)", density="0.9 g/mL")
        mixed = keep_mixture("Accord (invented)", {own.id: 1, "jojoba": 9}, note="base")
        oils = [{"id": "lavender", "note": "middle"}, {"id": mixed.id, "note": "base"}]
        blend = Blend(INVENTED | {"oils": oils, "note_parts": {"middle": 1, "base": 1}})
        make_more(blend).write_down()
        keep_material("Orchard petals (invented)", density="0.95 g/mL")  # a later version
        panel = product_file()
        assert "Written: " in press(panel, panel.write)
        (file,) = (keep.home() / "product files").iterdir()
        with zipfile.ZipFile(file) as packed:
            formula = packed.read("formula.csv").decode("utf-8-sig")
            sources = packed.read("sources.csv").decode("utf-8-sig")
        assert "Orchard petals" in formula
        own_rows = [line for line in sources.splitlines() if "my-orchard" in line]
        assert [row for row in own_rows if row.startswith('"density","0.9",')]
        assert not [row for row in own_rows if "0.95" in row]
        assert any("no CAS number" in gap for gap in panel.file().gaps)

    def test_without_a_version_it_says_how_to_keep_one(self):
        panel = product_file()
        assert "Keep as version" in press(panel, panel.write)
        assert "Keep as version" in html.unescape(panel.page())
