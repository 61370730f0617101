"""The maker's folder: nothing overwritten, nothing half written, everything said in words."""

from __future__ import annotations

import errno
import json
import os
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from blendkit.foundation import keep
from blendkit.foundation.errors import BlendkitError

DOCUMENT = {"name": "Quay at Dusk", "oils": [{"id": "lavender", "parts": 1}]}


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    """A maker's folder of its own for every test; nobody's real one is touched."""
    monkeypatch.setenv("BLENDKIT_HOME", str(tmp_path / "home"))
    return tmp_path / "home" / "blends"


def files_in(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir()) if folder.exists() else []


def no_hard_links(*_names):
    raise OSError(errno.EPERM, "Operation not permitted")


# --- saved whole, and never over something else -------------------------------------------


def test_a_document_comes_back_as_it_was():
    file = keep.save("blends", "Quay at Dusk", DOCUMENT)
    assert file.name == "Quay at Dusk.json"
    assert keep.load(file) == DOCUMENT


def test_the_file_can_be_read_by_a_person(folder):
    keep.save("blends", "Öl", {"name": "Öl 💧"})
    text = (folder / "Öl.json").read_text(encoding="utf-8")
    assert "Öl 💧" in text
    assert text.count("\n") > 1


def test_a_taken_name_gets_a_number(folder):
    for number in (1, 2, 3):
        keep.save("blends", "Dusk", {"number": number})
    assert files_in(folder) == ["Dusk 2.json", "Dusk 3.json", "Dusk.json"]
    contents = [keep.load(folder / name)["number"] for name in files_in(folder)]
    assert contents == [2, 3, 1]


def test_a_file_from_elsewhere_is_not_overwritten(folder):
    folder.mkdir(parents=True)
    (folder / "Dusk.json").write_text("not ours", encoding="utf-8")
    keep.save("blends", "Dusk", DOCUMENT)
    assert (folder / "Dusk.json").read_text(encoding="utf-8") == "not ours"
    assert keep.load(folder / "Dusk 2.json") == DOCUMENT


@pytest.mark.parametrize("hard_links", [True, False])
def test_many_at_once_lose_nothing(folder, monkeypatch, hard_links):
    if not hard_links:
        monkeypatch.setattr(os, "link", no_hard_links)
    with ThreadPoolExecutor(8) as pool:
        saved = list(pool.map(lambda n: keep.save("blends", "Dusk", {"n": n}), range(24)))
    assert len(set(saved)) == 24
    assert sorted(keep.load(file)["n"] for file in saved) == list(range(24))
    assert len(files_in(folder)) == 24


def test_a_file_appears_whole_or_not_at_all(folder, monkeypatch):
    seen = []
    link = os.link

    def look_then_link(source, target):
        # What is about to get its name is complete already, and nothing has the name yet
        seen.append((json.loads(Path(source).read_text(encoding="utf-8")), files_in(folder)))
        link(source, target)

    monkeypatch.setattr(os, "link", look_then_link)
    keep.save("blends", "Dusk", DOCUMENT)
    ((content, present),) = seen
    assert content == DOCUMENT
    assert "Dusk.json" not in present


def test_nothing_is_left_lying_about(folder):
    keep.save("blends", "Dusk", DOCUMENT)
    assert files_in(folder) == ["Dusk.json"]


def test_a_file_system_without_hard_links(folder, monkeypatch):
    monkeypatch.setattr(os, "link", no_hard_links)
    first = keep.save("blends", "Dusk", {"number": 1})
    second = keep.save("blends", "Dusk", {"number": 2})
    assert files_in(folder) == ["Dusk 2.json", "Dusk.json"]
    assert (keep.load(first), keep.load(second)) == ({"number": 1}, {"number": 2})


# --- what cannot be kept ------------------------------------------------------------------


def test_a_folder_that_cannot_be_made_is_said_in_words(tmp_path, monkeypatch):
    # Below a file there can be no folder, whoever asks; this holds for an administrator too
    (tmp_path / "a file").write_text("in the way", encoding="utf-8")
    monkeypatch.setenv("BLENDKIT_HOME", str(tmp_path / "a file" / "home"))
    with pytest.raises(keep.CannotKeep) as caught:
        keep.save("blends", "Dusk", DOCUMENT)
    message = str(caught.value)
    assert "a file" in message
    assert "needs a folder that can be written" in message
    assert "BLENDKIT_HOME" in message
    assert "Nothing was changed" in message
    assert (tmp_path / "a file").read_text(encoding="utf-8") == "in the way"


def test_a_read_only_folder_is_said_in_words(folder):
    folder.mkdir(parents=True)
    folder.chmod(0o500)
    try:
        if os.access(folder, os.W_OK):
            pytest.skip("whoever runs this may write anywhere")
        with pytest.raises(keep.CannotKeep, match="needs a folder that can be written"):
            keep.save("blends", "Dusk", DOCUMENT)
        assert files_in(folder) == []
    finally:
        folder.chmod(0o700)


def disk_full(*_arguments):
    raise OSError(errno.ENOSPC, "No space left on device")


def test_a_full_disk_leaves_nothing_behind(folder, monkeypatch):
    keep.save("blends", "Dusk", {"number": 1})
    monkeypatch.setattr(os, "fsync", disk_full)
    with pytest.raises(keep.CannotKeep, match=r"No space left.*Free some space"):
        keep.save("blends", "Dusk", {"number": 2})
    assert files_in(folder) == ["Dusk.json"]
    assert keep.load(folder / "Dusk.json") == {"number": 1}


class FullAfterTenCharacters:
    """A file on a disk that fills up while it is being written."""

    def __init__(self, file):
        self.file = file

    def __enter__(self):
        return self

    def __exit__(self, *_error):
        self.file.close()

    def write(self, text):
        self.file.write(text[:10])
        self.file.flush()
        disk_full()


def test_a_full_disk_without_hard_links_leaves_nothing_behind(folder, monkeypatch):
    really_open = Path.open

    def open_until_full(self, mode="r", *arguments, **options):
        file = really_open(self, mode, *arguments, **options)
        return FullAfterTenCharacters(file) if mode.startswith(("x", "w")) else file

    monkeypatch.setattr(os, "link", no_hard_links)
    monkeypatch.setattr(Path, "open", open_until_full)
    with pytest.raises(keep.CannotKeep, match="No space left"):
        keep.save("blends", "Dusk", DOCUMENT)
    assert files_in(folder) == []


def test_a_document_that_is_no_json_leaves_nothing_behind(folder):
    with pytest.raises(TypeError):
        keep.save("blends", "Dusk", {"oils": {1, 2}})
    assert files_in(folder) == []


def test_the_refusal_is_one_of_the_package_and_of_the_system():
    assert issubclass(keep.CannotKeep, BlendkitError)
    assert issubclass(keep.CannotKeep, OSError)


# --- names --------------------------------------------------------------------------------

HOSTILE_NAMES = [
    "../../escape",
    "/etc/passwd",
    "..",
    ".",
    "",
    "   ",
    ".hidden",
    "C:\\Windows\\system32",
    'a/b\\c:d*e?f"g<h>i|j',
    "null\x00byte",
    "two\nlines",
    "x" * 10_000,
    "ü" * 300,
    "ab漢" * 100,
    "𠀀" * 100,
    "💧🌿",
    "\u202egnp.exe",
    "Dusk.json",
    "Dusk.part",
    "-rf",
    "~",
    "$HOME",
    "%PATH%",
    "<script>alert(1)</script>",
    "half \ud800 a character",
]


@pytest.mark.parametrize("name", HOSTILE_NAMES, ids=lambda name: ascii(name[:20]))
def test_any_name_becomes_a_tame_file_in_the_folder(folder, name):
    first = keep.save("blends", name, DOCUMENT)
    second = keep.save("blends", name, DOCUMENT)
    assert first != second
    for file in (first, second):
        assert file.parent == folder
        assert file.suffix == ".json"
        assert not file.name.startswith(".")
        assert len(file.name.encode("utf-8")) <= 255
        assert not set(file.name) & set('/\\:*?"<>|\x00\n')
        assert keep.load(file) == DOCUMENT
    assert len(files_in(folder)) == 2


# The names that an older system keeps for its devices, with any ending
# (Source: Microsoft, Naming Files, Paths, and Namespaces; recalled, not opened)
@pytest.mark.parametrize("name", ["CON", "nul", "Aux", "COM1", "lpt9", "PRN"])
def test_a_name_of_a_device_is_set_apart(name):
    file = keep.save("blends", name, DOCUMENT)
    assert file.stem.split(".")[0].strip().lower() != name.lower()


@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(name=st.text(max_size=120))
def test_any_text_at_all_is_a_name(folder, name):
    file = keep.save("blends", name, {"name": "kept"})
    assert file.parent == folder
    assert keep.load(file) == {"name": "kept"}


def test_half_a_character_inside_a_document_is_kept(folder):
    # A JSON file can hold one half of a pair of surrogates
    document = json.loads('{"name": "half \\ud800 a character"}')
    assert keep.load(keep.save("blends", "Dusk", document)) == document
    assert files_in(folder) == ["Dusk.json"]


# --- read back ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("content", "word"),
    [
        (b"", "cannot be read"),
        (b'{"name": "Dusk", "oi', "cannot be read"),
        (b"\xff\xfe\x00", "cannot be read"),
        (b"just words", "cannot be read"),
        (b"[1, 2, 3]", "list in place of"),
        (b'"text"', "str in place of"),
        (b"null", "NoneType in place of"),
        (b"[" * 100_000, "cannot be read"),
    ],
    ids=["empty", "cut off", "not UTF-8", "words", "a list", "a text", "null", "a deep nest"],
)
def test_a_damaged_file_is_said_in_words_and_left_as_it_is(folder, content, word):
    folder.mkdir(parents=True)
    file = folder / "Dusk.json"
    file.write_bytes(content)
    with pytest.raises(keep.CannotKeep) as caught:
        keep.load(file)
    assert str(file) in str(caught.value)
    assert word in str(caught.value)
    assert "needs a JSON document" in str(caught.value)
    assert len(str(caught.value)) < 1000
    assert file.read_bytes() == content


def test_a_file_that_is_gone_is_said_in_words(folder):
    with pytest.raises(keep.CannotKeep, match="cannot be read"):
        keep.load(folder / "gone.json")


def test_what_is_kept_is_listed_newest_first(folder):
    files = [keep.save("blends", name, DOCUMENT) for name in ("one", "two", "three")]
    for age, file in enumerate(reversed(files)):
        os.utime(file, (1_000_000 - age, 1_000_000 - age))
    (folder / "notes.txt").write_text("not a document", encoding="utf-8")
    assert list(keep.saved("blends")) == ["three", "two", "one"]
    assert keep.saved("blends")["two"] == files[1]


def test_nothing_kept_yet_is_no_fault():
    assert keep.saved("blends") == {}
    assert not keep.home().exists()


def test_kinds_are_kept_apart(tmp_path):
    keep.save("blends", "Dusk", DOCUMENT)
    keep.save("lots", "Dusk", DOCUMENT)
    assert files_in(tmp_path / "home") == ["blends", "lots"]
    assert files_in(tmp_path / "home" / "lots") == ["Dusk.json"]
