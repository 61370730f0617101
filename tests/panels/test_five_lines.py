"""The README's five lines on the journal, followed by their buttons on a second home."""

from __future__ import annotations

import re
from pathlib import Path

import ipywidgets as widgets
import pytest

from blendkit.journal import backups, second_place, self_test
from blendkit.journal.backups import FILE, journal_path
from blendkit.journal.records import BatchRow, EventRow, Version
from blendkit.keeping.open_store import let_go, the_journal
from blendkit.keeping.versions import kept_versions, lot_names
from blendkit.panels import make_and_keep
from tests.tools.journal_file import rows_of

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
LINES = {
    found[1]: found[0] for found in re.finditer(r"^- \*\*(\w+)[ :*].*$", README, re.MULTILINE)
}


def widgets_in(widget):
    yield widget
    for child in getattr(widget, "children", ()):
        yield from widgets_in(child)


def buttons_in(widget):
    return [each for each in widgets_in(widget) if isinstance(each, widgets.Button)]


class Person:
    """Somebody with notebook 06 open, who presses buttons by their words."""

    def __init__(self, home, monkeypatch, computer):
        let_go()
        monkeypatch.setenv("BLENDKIT_HOME", str(home))
        monkeypatch.setattr("blendkit.journal.store.platform.node", lambda: computer)
        self.panel = make_and_keep()

    def press(self, words):
        (found,) = [each for each in buttons_in(self.panel.view) if each.description == words]
        assert found.layout.display != "none", words
        found.click()
        assert not self.panel.message.is_refusal, self.panel.message.view.value
        return self.panel.message.view.value

    def make_a_bottle(self, drops):
        for _ in range(drops):
            self.panel.tray.rows["lavender"].add_drop()
        self.panel.finish.name.value = "Quay (invented)"
        self.press("Keep as a new version")


@pytest.fixture
def at(tmp_path, monkeypatch):
    yield lambda name: Person(tmp_path / name, monkeypatch, f"{name} (invented)")
    let_go()


def test_the_lines_name_only_buttons_that_are_there(at):
    assert list(LINES) == ["Back", "Restore", "Recover", "Move", "Merge"]
    italic = re.compile(r"(?<!\*)\*([^*]+)\*(?!\*)")
    named = {words for line in LINES.values() for words in italic.findall(line)}
    there = {each.description for each in buttons_in(at("first").panel.view)}
    assert len(named) == 7
    assert named <= there


def test_back_up_and_restore(at):
    person = at("first")
    person.make_a_bottle(3)
    said = person.press("Back up now")
    before = the_journal().all(EventRow)
    assert str(backups.list_backups()[0]) in said
    person.make_a_bottle(2)
    page = person.panel.journal
    page.chosen.value = page.chosen.options[0][1]
    assert "Restored from" in person.press("Restore this backup")
    events = the_journal().all(EventRow)
    assert events == before
    # the page goes on with its session, and what it was told since is written again
    person.panel.tray.rows["lavender"].add_drop()
    assert the_journal().count(EventRow) == len(person.panel.record.timed)


def test_recover(at):
    person = at("first")
    person.make_a_bottle(3)
    person.press("Back up now")
    let_go()
    journal_path().write_bytes(b"a damaged file" * 999)
    person.panel.refresh_pages()
    assert "Recovered" in person.press("Recover the journal")
    assert the_journal().count(Version) == 1


def test_move_and_merge(at, tmp_path):
    first = at("first")
    first.make_a_bottle(3)
    first.press("Export to move")
    (zipped,) = (tmp_path / "first" / "exports").iterdir()
    events = the_journal().all(EventRow)
    second = at("second")
    second.panel.journal.path.value = str(zipped)
    assert "added from" in second.press("Import")
    assert the_journal().all(EventRow) == events
    # each goes on by itself: one more version and one more lot of the same day
    second.make_a_bottle(2)
    second.press("Export to move")
    (back,) = (tmp_path / "second" / "exports").iterdir()
    first = at("first")
    first.make_a_bottle(1)
    first.panel.journal.path.value = str(back)
    first.press("Import")
    kept = kept_versions(the_journal())
    numbers = sorted(one.number for one in kept)
    assert numbers == [1, 2, 3]
    assert len({one.label for one in kept}) == 3
    assert {one.computer for one in kept} == {"first (invented)", "second (invented)"}
    journal = the_journal()
    lots = [batch.lot for batch in journal.all(BatchRow)]
    names = lot_names(journal)
    assert len(set(names.values())) == len(lots)
    assert len(set(lots)) < len(lots)  # else nothing was tried


def test_a_second_place_is_read_back_and_offered(at, tmp_path, monkeypatch):
    person = at("first")
    person.make_a_bottle(1)
    stick = tmp_path / "stick"
    stick.mkdir()
    person.panel.journal.place.value = str(stick)
    assert "also copied" in person.press("Use this place")
    (copied,) = second_place.backups_there(tmp_path / "first")
    assert copied.read_bytes() == backups.list_backups()[0].read_bytes()
    person.press("Back up now")
    assert len(second_place.backups_there(tmp_path / "first")) == 2
    assert any("second place" in words for words, _ in person.panel.journal.chosen.options)
    # what cannot be read back as it was written does not count, and is said
    with monkeypatch.context() as patched:
        digests = iter("abcdefgh")
        patched.setattr(second_place, "_digest", lambda file: next(digests))
        person.press("Back up now")
    assert "read back" in person.panel.journal.state.view.value
    # the stick is out: said, and nothing else stops
    stick.rename(tmp_path / "in a drawer")
    person.press("Back up now")
    assert "is not there" in person.panel.journal.state.view.value
    for bad in ("nowhere", str(tmp_path / "first"), str(tmp_path / "first" / FILE)):
        person.panel.journal.place.value = bad
        person.panel.message.guard(person.panel.journal.use_place)()
        assert person.panel.message.is_refusal


def test_the_oldest_backup_is_opened_once_a_year(at, monkeypatch):
    person = at("first")
    person.make_a_bottle(2)
    person.press("Open the oldest backup")
    assert "opens, with" in person.panel.journal.tested.view.value
    folder = journal_path().parent
    assert self_test.yearly_test(folder) == ""
    monkeypatch.setattr(self_test.time, "time", lambda: 4e9)
    assert "opens, with" in self_test.yearly_test(folder)
    backups.list_backups()[-1].write_bytes(b"damaged")
    assert "cannot be opened" in self_test.open_oldest_backup(folder)


def test_a_version_can_be_withdrawn_and_brought_back(at):
    person = at("first")
    person.make_a_bottle(2)
    person.press("Withdraw version 1")
    assert kept_versions(the_journal()) == []
    person.press("Undo withdrawing")
    assert len(kept_versions(the_journal())) == 1


def test_an_import_can_be_cancelled_and_adds_nothing(at, tmp_path):
    first = at("first")
    first.make_a_bottle(3)
    first.press("Export to move")
    (zipped,) = (tmp_path / "first" / "exports").iterdir()
    page = at("second").panel.journal
    steps = page._take(zipped, b"", "move.zip")
    next(steps)
    page.at_work._steps = steps
    page.cancel()
    assert "cancelled" in page.message.view.value
    assert the_journal().count(Version) == 0


def test_an_import_cancelled_while_it_writes_says_so_and_goes_on(at, tmp_path, monkeypatch):
    first = at("first")
    first.make_a_bottle(3)
    first.press("Export to move")
    (zipped,) = (tmp_path / "first" / "exports").iterdir()
    everything = rows_of(journal_path())
    monkeypatch.setattr("blendkit.journal.merge.PIECE_ROWS", 1)
    second = at("second")
    page = second.panel.journal
    steps = page._take(zipped, b"", "move.zip")
    while not page._import or sum(page._import.added.values()) < 3:
        next(steps)
    page.at_work._steps = steps
    said = second.press("Cancel the import")
    there = len(rows_of(journal_path()))
    assert 3 <= there < len(everything)
    assert f"cancelled after {there} rows. Import the file again" in said
    # taps go on, and the rest comes in
    second.panel.tray.rows["lavender"].add_drop()
    page.path.value = str(zipped)
    assert "added from" in second.press("Import")
    assert everything.items() <= rows_of(journal_path()).items()
