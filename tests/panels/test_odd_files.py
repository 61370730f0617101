"""Odd files in the maker's folder: no panel and no command ends in a traceback or hangs."""

from __future__ import annotations

import json
import os
import sys

import pytest

from blendkit import example_document, panels
from blendkit.blend.blend import Blend
from blendkit.foundation.errors import BlendkitError
from blendkit.journal.backups import FILE, FOLDER
from blendkit.journal.store import open_journal
from blendkit.keeping.older_files import KINDS
from blendkit.keeping.open_store import let_go
from blendkit.workbook.notebooks import FIRST, place_notebooks, shipped_notebooks

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no such files here")
PANELS = ("first_bottle", "shelf", "skin_check", "fade", "make_and_keep", "make_more", "teach")
NESTED = '{"a":' * 950 + "1" + "}" * 950


def make_odd(path, what):
    path.parent.mkdir(parents=True, exist_ok=True)
    if what == "dated 1950":
        path.write_text(json.dumps(example_document()), encoding="utf-8")
        os.utime(path, (-631_152_000, -631_152_000))
        return
    {
        "dangling link": lambda: path.symlink_to(path.parent / "nowhere"),
        "link loop": lambda: path.symlink_to(path),
        "pipe": lambda: os.mkfifo(path),
        "device": lambda: path.symlink_to("/dev/zero"),
        "folder": path.mkdir,
        "nested 950 deep": lambda: path.write_text(NESTED, encoding="utf-8"),
        "nested beyond reading": lambda: path.write_text("[" * 200_000, encoding="utf-8"),
        "no text": lambda: path.write_bytes(b"\x88" * 99),
        "huge": lambda: path.write_bytes(b" " * 3_000_000),
    }[what]()


ODD = ["dangling link", "link loop", "pipe", "device", "folder", "nested 950 deep",
       "nested beyond reading", "no text", "huge", "dated 1950"]  # fmt: skip


@pytest.mark.parametrize("what", ODD)
def test_every_panel_opens_beside_odd_files(own_folder, what):
    for kind in (*KINDS, FOLDER, "photos", "exports"):
        make_odd(own_folder / kind / "odd.json", what)
    make_odd(own_folder / FOLDER / "journal 2026-11-25.sqlite3", what)
    make_odd(own_folder / "second place for backups.txt", what)
    for name in PANELS:
        assert getattr(panels, name)().view


@pytest.mark.parametrize("what", ODD)
def test_every_panel_opens_where_the_journal_is_odd(own_folder, what):
    make_odd(own_folder / FILE, what)
    for name in PANELS:
        panel = getattr(panels, name)()
        assert panel.view
        let_go()


def test_every_panel_opens_where_a_word_of_the_tables_is_no_text(own_folder):
    with open_journal(own_folder) as journal:
        journal.start_session("invented")
    raw = bytearray((own_folder / FILE).read_bytes())
    raw[raw.index(b"CREATE TABLE sessions") + 14] = 0x88
    (own_folder / FILE).write_bytes(raw)
    for name in PANELS:
        assert getattr(panels, name)().view
        let_go()


@pytest.mark.parametrize("what", [each for each in ODD if each != "dated 1950"])
def test_the_command_places_its_notebooks_beside_odd_ones(own_folder, what):
    folder = own_folder / "notebooks"
    make_odd(folder / FIRST, what)
    make_odd(folder / ".placed.json", what) if what != "folder" else None
    try:
        kept = place_notebooks(folder)
    except BlendkitError:
        return  # in words
    assert any(FIRST in sentence for sentence in kept)
    placed = {file.name for file in folder.glob("*.ipynb")}
    assert placed >= set(shipped_notebooks()) - {FIRST}


@pytest.mark.parametrize("what", [each for each in ODD if each != "dated 1950"])
def test_a_blend_from_an_odd_file_is_refused_in_words(tmp_path, what):
    make_odd(tmp_path / "odd.json", what)
    with pytest.raises(BlendkitError):
        panels.first_bottle(str(tmp_path / "odd.json"))


def test_a_document_nested_deep_is_refused_in_words():
    with pytest.raises(BlendkitError):
        Blend.from_dict(json.loads(NESTED))
