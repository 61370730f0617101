"""Bounds of the store's doors on time, memory and words; none on an honest store's size."""

from __future__ import annotations

import contextlib
import json
import time
import tracemalloc
import zipfile

import pytest

from blendkit import BadNumber, example_document
from blendkit.batch.packs import MOST_ROWS, read_packs
from blendkit.foundation.errors import MOST_SHOWN
from blendkit.foundation.keep import DEEPEST, MOST_PARTS, parse_document
from blendkit.journal.exchange import STORE, export_journal
from blendkit.journal.merge import Import, import_journal
from blendkit.journal.records import EventRow, Version
from blendkit.journal.store import open_journal
from blendkit.journal.unpacking import BadExchange
from blendkit.keeping.hand import in_hand
from blendkit.keeping.open_store import the_journal
from tests.journal.test_exchange import tampered
from tests.tools.hostile_zips import KINDS_OF_ZIP, hostile_zip

MEMORY_BYTES, SECONDS = 256e6, 2.0
MANY_OILS = {"oils": [{"id": f"o{number}"} for number in range(100_000)]}


class Cost:
    """Time of the processor, which no other program takes, and memory of what is inside."""

    def __enter__(self):
        tracemalloc.start()
        self.begun = time.process_time()
        return self

    def __exit__(self, *_error):
        self.seconds = time.process_time() - self.begun
        self.bytes = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()


@pytest.fixture
def two(tmp_path):
    with open_journal(tmp_path / "here") as here, open_journal(tmp_path / "there") as there:
        yield here, there


def test_a_zip_of_nothing_is_refused_before_it_is_unpacked(two, tmp_path):
    """A quarter of a megabyte that would unpack to hundreds."""
    bomb = tmp_path / "bomb.zip"
    with (
        zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as out,
        out.open(STORE, "w", force_zip64=True) as member,
    ):
        for _ in range(250):
            member.write(bytes(1_000_000))
    with Cost() as cost, pytest.raises(BadExchange, match="unpack to 250 MB"):
        import_journal(two[1], bomb)
    assert cost.seconds < SECONDS
    assert cost.bytes < 5e6


@pytest.mark.parametrize("seed", range(len(KINDS_OF_ZIP)), ids=KINDS_OF_ZIP)
def test_no_structure_of_zip_takes_long_or_holds_the_page(two, tmp_path, seed):
    """One of each; hundreds: python -m tests.benchmarks.doors_benchmark 10000 500."""
    file = tmp_path / "bad.zip"
    file.write_bytes(hostile_zip(seed)[1])
    before, longest = time.thread_time(), 0.0
    one = Import(two[1], file)
    with contextlib.suppress(BadExchange), contextlib.closing(one.steps()) as steps:
        for _share_done in steps:
            longest = max(longest, time.thread_time() - before)
            before = time.thread_time()
        assert len(one.added.passed_by) <= MOST_SHOWN + 1
    assert max(longest, time.thread_time() - before) < SECONDS


def test_a_version_of_a_hundred_thousand_oils_is_passed_by(two, tmp_path):
    here, there = two
    here.new_blend("Quay (invented)", {"oils": []})
    cells = json.dumps(MANY_OILS)[:999_000].rpartition(", ")[0] + "]}"
    change = f"UPDATE versions SET document = '{cells}', made_at = '2998-01-01T00:00+00:00'"
    bad = tampered(export_journal(here).path, tmp_path / "bad.zip", change)
    with Cost() as cost:
        added = import_journal(there, bad)
    assert added["versions"] == 0
    assert len(" ".join(added.passed_by)) < 1000
    assert cost.bytes < MEMORY_BYTES


def test_a_version_from_the_future_is_not_kept_last_and_can_be_withdrawn(own_folder):
    journal = the_journal()
    odd = journal.new_blend("Odd (invented)", example_document() | {"strength": "110 %"})
    good = journal.new_blend("Good (invented)", example_document())
    assert in_hand().version == good.id
    journal.withdraw(good)
    assert "cannot be used" in in_hand().said
    journal.withdraw(journal.get(Version, odd.id))
    assert in_hand().said == ""


def test_an_honest_store_is_streamed_whatever_its_size(two):
    """Memory is that of single rows: a store ten times as large takes no more."""
    here, there = two
    session = here.start_session("invented")
    peaks = []
    for events in (400, 4000):
        rows = [
            EventRow(session_id=session.id, kind="added", happened_at=session.started_at,
                     details={"words": f"{number} " * 300})
            for number in range(events)
        ]  # fmt: skip
        here.add(*rows)
        del rows
        file = export_journal(here).path
        with Cost() as cost:
            import_journal(there, file)
        peaks.append(cost.bytes)
        assert there.count(EventRow) == here.count(EventRow)
    assert peaks[1] < 1.5 * peaks[0] + 2e6
    assert peaks[1] < MEMORY_BYTES


@pytest.mark.parametrize(
    "text",
    ["[" * 500_000, '{"a":' * 500_000, '{"a": [' + "{}," * 300_000 + "1]}", "9" * 900_000],
)
def test_a_document_is_refused_for_what_it_would_become(text):
    with Cost() as cost, pytest.raises((ValueError, RecursionError)):
        parse_document(text)
    assert cost.seconds < SECONDS
    assert cost.bytes < 30e6


def test_the_bounds_leave_room_for_what_makers_have():
    packs = {"packs": [{"material": "x", "size": "10 mL", "price": "5"}] * 1000}
    assert json.dumps(packs).count(",") < MOST_PARTS
    assert parse_document(json.dumps(packs)) == packs
    assert DEEPEST > 5 * 4  # a class with blends is four deep


def test_a_long_price_list_is_refused_at_once():
    row = {"material": "lavendar", "size": "x", "price": "y", "currency": "zz"}
    with Cost() as cost, pytest.raises(BadNumber, match=f"at most {MOST_ROWS} rows"):
        read_packs([row] * 100_000)
    assert cost.seconds < SECONDS
