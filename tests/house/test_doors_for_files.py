"""Hard use of what comes in from outside: analyses, prices, exports, classes, tables, files.

Whatever lies in a file or is pasted, a door gives a result that goes all the way or refuses in
the package's own words. Blend documents and panels are in `test_doors.py`.
"""

from __future__ import annotations

import contextlib
import itertools
import json
import math
import random
import re
import sqlite3
import zipfile
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given
from hypothesis import strategies as st

import blendkit as bk
from blendkit.batch.cost import labour, packaging
from blendkit.batch.packs import read_packs, shopping_list
from blendkit.evaporation.forecast import forecast
from blendkit.evaporation.nose_entries import read_log
from blendkit.evaporation.nose_log import learn
from blendkit.evaporation.wear import film_of
from blendkit.foundation import data
from blendkit.foundation.data import TABLES
from blendkit.foundation.errors import BadBlend, BadNumber, BadTable
from blendkit.foundation.money import read_money
from blendkit.foundation.shipping import shipped_folder
from blendkit.journal.exchange import export_journal
from blendkit.journal.records import KINDS, LotRow
from blendkit.journal.store import open_journal
from blendkit.keeping import older_files
from blendkit.keeping.details import kept_classes, kept_maker, kept_packs
from blendkit.keeping.nose_logs import kept_logs
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.stock_entries import current_stock
from blendkit.keeping.versions import kept_versions
from blendkit.materials import catalogue
from blendkit.selling.price import BottleCost, Terms, price_for, read_terms
from blendkit.teaching.class_document import BadClass
from blendkit.teaching.class_reader import read_class
from blendkit.teaching.demand import demand_of
from blendkit.teaching.free_choice import card_of
from blendkit.teaching.hand_in import gather
from blendkit.teaching.plan import plan_in_words
from blendkit.teaching.run_sheet import run_sheet
from tests.journal.test_journal import one_of_each
from tests.panels.test_doors import DOCUMENT, VALUES
from tests.tools.coverage_fuzz import CORPUS
from tests.tools.fuzzing import (
    analysis_door,
    blend_door,
    both_happen,
    drawing,
    export_door,
    spoilt,
)

SEEDS = st.integers(0, 2**32)
NUMBERS = itertools.count(1)
MOMENTS = ("0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00", "2026-02-30", "0001-01-01")
CELLS = (
    *MOMENTS,
    "",
    "0",
    "-1",
    "1e999",
    "nan",
    "9223372036854775807",
    "\0",
    "\ufdd0",
    "{}",
    "x",
)
ODD = VALUES | st.sampled_from(CELLS) | st.just(10**400)


pytestmark = pytest.mark.usefixtures("own_folder")  # which fails where anything broke


# --- what suppliers send ------------------------------------------------------------------

NAMES = st.sampled_from(
    [*bk.constituents()["name"][:40], "Moonbeam", "Total", "78-70-6", "%", "8.1"]
)
AMOUNTS = st.sampled_from(
    ["1", "2,5", "tr", "< 3", "1 - 4", "0", "n.d.", "40", "1e9", "max 2", ""]
)
LINES = st.tuples(NAMES, st.sampled_from([" ", "\t", ";", ",", "  ", " | ", ' "']), AMOUNTS)
HEADINGS = st.sampled_from(
    ["", "Name;Min;Max;%", "Component\tCAS\tFound", "Name  Percent", "|a|%|"]
)


@st.composite
def analyses(draw):
    lines = draw(st.lists(LINES.map("".join) | st.text(max_size=30), max_size=8))
    text = "\n".join([draw(HEADINGS), *lines]).encode(
        draw(st.sampled_from(["utf-8", "utf-16"]))
    )
    return text.replace(b"1", draw(st.binary(max_size=2)))


def test_any_analysis_is_a_lot_or_refused(tmp_path):
    file = tmp_path / "analysis.csv"
    with both_happen("analyses") as seen:

        @drawing(150)
        @given(analyses())
        def knock(raw):
            file.write_bytes(raw)
            seen["result" if analysis_door(file) else "refusal"] += 1

        knock()


PACKS = [
    {"material": "lavender", "size": "10 mL", "price": 6.5, "currency": "EUR", "supplier": "A"},
    {"material": "lavender", "size": "100 g", "price": 45, "currency": "EUR", "supplier": ""},
    {"material": "jojoba", "size": "1 L", "price": 30, "currency": "EUR", "supplier": None},
]


def test_any_price_list_covers_the_need_or_is_refused():
    with both_happen("price lists") as seen:

        @drawing(150)
        @given(SEEDS, ODD, st.floats(0, 1e-3))
        def knock(seed, value, need_m3):
            rows = spoilt({"packs": PACKS}, seed, value)["packs"]
            rows = (
                [row for row in rows if isinstance(row, dict)] if isinstance(rows, list) else []
            )
            try:
                packs = read_packs(rows)
                found = shopping_list({"lavender": need_m3, "jojoba": 1e-5}, packs)
            except BadNumber:
                seen["refusal"] += 1
                return
            assert math.isfinite(found.total)
            assert all(line.bought_m3 >= line.needed_m3 * (1 - 1e-6) for line in found.lines)
            assert found.sentences
            seen["result"] += 1

        knock()


PRICES = st.builds(
    "{}{}{}".format,
    st.sampled_from(
        ["12.50", "0,85", "0", "-3", "٣", "1e5", "9" * 400, "", "1,234.50", "1e-320"]
    ),
    st.sampled_from(["", " ", "\u00a0"]),
    st.sampled_from(["EUR", "USD", "€", "eur", "h", "min", "%", "EURO", "dB*h", ""]),
)


def test_any_price_time_or_margin_is_a_figure_or_refused():
    with both_happen("prices, times and margins") as seen:

        @drawing(150)
        @given(PRICES | ODD, PRICES | ODD)
        def knock(one, other):
            for read in (
                lambda: read_money(one, name="price").amount,
                lambda: packaging("bottle", one, 3).count,
                lambda: labour(one, other).count,
                lambda: price_for(one, BottleCost(2.0), Terms("EUR")).shelf,
                lambda: max(read_terms("EUR", one, other, [(one, other)])[1:4]),
            ):
                try:
                    figure = read()
                except BadNumber:
                    seen["refusal"] += 1
                else:
                    assert 0 <= figure < math.inf
                    seen["result"] += 1

        knock()


# --- exports of a journal ------------------------------------------------------------------


def spoilt_export(
    files: dict[str, bytes], chance: random.Random, value: object
) -> dict[str, bytes]:
    """One to three cells or bytes of an export changed."""
    files = dict(files)
    name = "store.sqlite3"
    if chance.random() < 0.8:
        files[name] = with_odd_cells(files[name], chance, value)
    else:
        place = chance.randrange(len(files[name]))
        files[name] = files[name][:place] + chance.randbytes(2) + files[name][place + 2 :]
    return files


def with_odd_cells(raw: bytes, chance: random.Random, value: object) -> bytes:
    """An export's SQLite file with one to three cells that somebody changed."""
    with TemporaryDirectory() as folder:
        file = Path(folder) / "store.sqlite3"
        file.write_bytes(raw)
        with contextlib.closing(sqlite3.connect(file)) as store, store:
            for _ in range(chance.randint(1, 3)):
                table = chance.choice(KINDS).TABLE
                row = store.execute(f"SELECT * FROM {table}")
                names = [each[0] for each in row.description]
                cells = dict(zip(names, row.fetchone(), strict=True))
                name = chance.choice(names)
                near = re.sub("[0-9]", lambda _: chance.choice("0123456789"), f"{cells[name]}")
                if isinstance(cells[name], int | float) and chance.random() < 0.7:
                    near = chance.choice((0, 1, 2, 7.25, 1e300, -1))
                odd = (str(value)[:1000].encode("utf-8", "replace").decode(), *CELLS, *names)
                new = near if chance.random() < 0.5 else chance.choice([*odd, None, b"\xff"])
                store.execute(f'UPDATE {table} SET "{name}" = ?', [new])
        return file.read_bytes()


def test_any_export_is_taken_whole_or_refused(tmp_path):
    with open_journal(tmp_path / "source") as journal:
        one_of_each(journal)
        with zipfile.ZipFile(export_journal(journal).path) as export:
            files = {name: export.read(name) for name in export.namelist()}
    bad = tmp_path / "bad.zip"
    with both_happen("exports") as seen, contextlib.ExitStack() as open_now:

        def fresh():
            home = Path(open_now.enter_context(TemporaryDirectory()))
            return open_now.enter_context(open_journal(home))

        journals = [fresh()]  # one takes all refusals, each result needs a new one

        @drawing(100)
        @given(SEEDS, ODD)
        def knock(seed, value):
            chance = random.Random(seed)
            with zipfile.ZipFile(bad, "w") as out:
                for name, content in spoilt_export(files, chance, value).items():
                    out.writestr(name, content)
            if chance.random() < 0.2:
                raw = bytearray(bad.read_bytes())
                raw[chance.randrange(len(raw))] ^= 1 << chance.randrange(8)
                bad.write_bytes(raw)
            if export_door(journals[-1], bad):
                journals.append(fresh())
                seen["result"] += 1
            else:
                seen["refusal"] += 1

        knock()


# --- classes ------------------------------------------------------------------------------

SET_CLASS = {
    key: value for key, value in data.example_class().items() if key not in ("oils", "strength")
} | {"blends": [{"blend": DOCUMENT, "popularity": 2}, {"blend": {**DOCUMENT, "name": "b"}}]}


@pytest.mark.parametrize("document", [data.example_class(), SET_CLASS], ids=["free", "set"])
def test_any_class_document_is_planned_all_the_way_or_refused(document):
    with both_happen("class documents") as seen:

        @drawing(40)
        @given(SEEDS, ODD)
        def knock(seed, value):
            try:
                plan = read_class(spoilt(document, seed, value))
            except BadClass:
                seen["refusal"] += 1
                return
            assert plan_in_words(plan)
            with contextlib.suppress(BadClass):  # nobody can mix, or there is too little time
                run_sheet(plan)
                demand = demand_of(plan, card_of(plan) if plan.is_free else None)
                assert all(math.isfinite(each.volume_m3) for each in demand.oils)
            seen["result"] += 1

        knock()


# --- data tables --------------------------------------------------------------------------


def test_any_damaged_table_is_read_or_refused(tmp_path):
    shipped = {name: (shipped_folder("data") / f"{name}.csv").read_bytes() for name in TABLES}
    short = {name: b"\n".join(raw.split(b"\n")[:8]) for name, raw in shipped.items()}
    with both_happen("data tables") as seen:

        @drawing(150)
        @given(st.sampled_from(sorted(TABLES)), SEEDS, st.binary(max_size=3) | st.sampled_from(
            [b",", b'"', b"\n", b"\0", b"nan", b"1e999", b"-1", b"id,", b"source", b"\xff"]
        ))  # fmt: skip
        def knock(name, seed, value):
            chance, raw = random.Random(seed), short[name]
            for _ in range(chance.randint(1, 3)):
                place = chance.randrange(len(raw))
                raw = raw[:place] + value + raw[place + chance.randint(0, 2) :]
            file = tmp_path / f"{name}.csv"
            file.write_bytes(raw)
            try:
                found = data.read_table(file, TABLES[name])
            except BadTable:
                seen["refusal"] += 1
                return
            for heading, column in TABLES[name].columns.items():
                if column.is_number:
                    filled = found[heading].dropna()
                    assert filled.between(column.low, column.high).all()
                    assert len(filled) == len(found) or not column.required
            seen["result"] += 1

        knock()


# --- files in the maker's folder, edited by hand --------------------------------------------

LOT = {
    "oil": "lavender",
    "lot": "A12",
    "percents": {"78-70-6": [30, 36, 40], "76-22-2": [0, 1, 2]},
}
ENTRY = {
    "oil": "lavender", "written": "2026-02-01T10:00:00+00:00", "bottle_ml": 10, "bottles": 2,
    "price": 8.5, "currency": "EUR", "opened_on": "2026-02-03", "bought_on": "2026-02-01",
    "drops_per_ml": 26.5, "how_measured": "counted",
}  # fmt: skip
COUNT = {"oil": "jojoba", "written": "2026-02-05T10:00:00+00:00", "left_ml": 40,
         "counted_on": "2026-02-04"}  # fmt: skip
LOG = {
    "blend": DOCUMENT,
    "conditions": {"skin_temperature": "33 degC", "film": "20 g/m**2", "surface": "skin"},
    "smells": [
        {"group": "top", "minutes": 25, "what": "gone"},
        {"group": "whole", "minutes": 90, "what": 4.5},
    ],
}


def write(folder: Path, kind: str, document: object, seed: int) -> None:
    """A folder's only file, as somebody's editor may leave it: sometimes cut."""
    file = folder / kind / f"{next(NUMBERS)}.json"
    file.parent.mkdir(parents=True, exist_ok=True)
    for other in file.parent.iterdir():
        other.unlink()
    raw = json.dumps(document).encode()
    if seed % 7 == 0:
        raw = raw[: seed % (len(raw) + 1)]
    file.write_bytes(raw)


def read_in_one(kind: str, document: object, seed: int) -> bool:
    """Whether the store took a file in."""
    journal = the_journal()
    write(journal.path.parent, kind, document, seed)
    return bool(older_files.read_in(journal))


def test_any_own_lot_has_sound_figures_or_is_passed_by(own_folder):
    with both_happen("own lots") as seen:

        @drawing(150)
        @given(SEEDS, ODD)
        def knock(seed, value):
            came = read_in_one(older_files.LOTS, spoilt(LOT, seed, value), seed)
            seen["result" if came else "refusal"] += 1
            if not came:
                return
            row = the_journal().all(LotRow)[-1]
            own = catalogue.oil(f"{row.oil}{catalogue.OWN_MARK}{row.lot}")
            for share in own.composition:
                assert 0 <= share.low <= share.typical <= share.high <= 1.05
            assert sum(share.typical for share in own.composition) <= 1.05 + 1e-9
            document = {**DOCUMENT, "oils": [{"id": own.id, "note": "middle"}],
                        "note_parts": {"middle": 1}}  # fmt: skip
            blend = bk.Blend.from_dict(document)
            assert bk.skin_findings(blend)["share_of_limit"].dropna().ge(0).all()

        knock()


def test_any_shelf_entry_counts_or_is_passed_by(own_folder):
    with both_happen("shelf entries") as seen:

        @drawing(200)
        @given(SEEDS, ODD, st.sampled_from([ENTRY, COUNT]))
        def knock(seed, value, entry):
            came = read_in_one(older_files.SHELF, spoilt(entry, seed, value), seed)
            found = current_stock(the_journal())
            assert all(math.isfinite(each.left_m3) for each in found.values())
            seen["result" if came else "refusal"] += 1

        knock()


def test_any_kept_blend_comes_into_the_journal_or_is_passed_by(own_folder):
    with both_happen("kept blends") as seen:

        @drawing(60)
        @given(SEEDS, ODD)
        def knock(seed, value):
            before = len(kept_versions(the_journal()))
            came = read_in_one(older_files.BLENDS, spoilt(DOCUMENT, seed, value), seed)
            assert len(kept_versions(the_journal())) == before + came
            seen["result" if came else "refusal"] += 1

        knock()


@pytest.mark.parametrize(
    ("kind", "good"),
    [
        (older_files.CLASSES, data.example_class()),
        (
            older_files.PACKS,
            {"packs": [{"material": "lavender", "size": "30 mL", "price": "9"}]},
        ),
        (older_files.MAKERS, {"maker": "A maker (invented)", "contact": "nowhere"}),
    ],
)
def test_any_kept_detail_comes_in_or_is_passed_by(own_folder, kind, good):
    with both_happen(f"kept {kind}") as seen:

        @drawing(40)
        @given(SEEDS, ODD)
        def knock(seed, value):
            came = read_in_one(kind, spoilt(good, seed, value), seed)
            journal = the_journal()
            for row in kept_classes(journal):
                assert row.name
            assert all(isinstance(text, str) for text in kept_maker(journal))
            assert all(row.keys() == {"size"} for row in kept_packs(journal, ["size"]))
            seen["result" if came else "refusal"] += 1

        knock()


def test_any_nose_log_teaches_or_is_refused():
    with both_happen("nose logs") as seen:

        @drawing(150)
        @given(SEEDS, ODD)
        def knock(seed, value):
            try:
                log = read_log(spoilt(LOG, seed, value))
            except (BadBlend, BadNumber):
                seen["refusal"] += 1
                return
            if seed % 20 == 0:  # costs most
                clock = learn([log])
                assert clock is None or 0 < clock.factor < math.inf
                assert (
                    forecast(film_of(log.blend.bottle, log.conditions), [1.0], 2).strength.min()
                    >= 0
                )
            seen["result"] += 1

        knock()


def test_any_kept_nose_log_comes_into_the_journal_or_is_passed_by(own_folder):
    with both_happen("kept nose logs") as seen:

        @drawing(60)
        @given(SEEDS, ODD)
        def knock(seed, value):
            came = read_in_one(older_files.LOGS, spoilt(LOG, seed, value), seed)
            seen["result" if came else "refusal"] += 1
            assert len(kept_logs(the_journal())) <= seen["result"]

        knock()


def test_anything_handed_in_is_shown_or_refused_in_words(tmp_path):
    good = {"seat": "Seat 3", "blend": DOCUMENT}
    with both_happen("hand-ins") as seen:

        @drawing(150)
        @given(SEEDS, ODD)
        def knock(seed, value):
            write(tmp_path, "box", spoilt(good, seed, value), seed)
            (one,) = gather(tmp_path / "box").seats
            assert "a blend that broke" not in one.problem
            seen["result" if one.blend else "refusal"] += 1

        knock()


# --- what the hunt in `coverage_fuzz.py` reached ---------------------------------------------


def export_alone(file):
    with TemporaryDirectory() as home, open_journal(Path(home)) as journal:
        return export_door(journal, file)


KNOCKS = {
    "blend": lambda file: blend_door(json.loads(file.read_bytes())),
    "analysis": analysis_door,
    "export": export_alone,
}


@pytest.mark.parametrize("door", KNOCKS)
def test_what_the_hunt_kept_is_still_answered(door):
    with both_happen(f"kept inputs, {door}") as seen:
        for file in sorted((CORPUS / door).iterdir()):
            seen["result" if KNOCKS[door](file) else "refusal"] += 1
