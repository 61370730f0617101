"""The defect log: complete, private, bounded, and never itself a reason to stop."""

from __future__ import annotations

import os
import stat
import sys
from concurrent.futures import ThreadPoolExecutor

import pytest

from blendkit.foundation.defects import (
    MOST_BYTES,
    in_one_line,
    record_defect,
    where_recorded,
)

pytestmark = pytest.mark.defect


def raised(error: Exception) -> Exception:
    """An exception with a traceback, as a callback raises it."""
    try:
        raise error
    except type(error) as caught:
        return caught


class Unprintable(Exception):
    def __str__(self):
        raise RuntimeError("no text for this one")


def test_the_traceback_is_kept_with_moment_and_versions(own_folder):
    file = record_defect(raised(KeyError("sandalwood")))
    assert file == own_folder / "log" / "defects.log"
    first, *rest = file.read_text(encoding="utf-8").splitlines()
    assert first[:2] == "20"
    assert f"Python {sys.version.split()[0]}" in first
    assert "Traceback (most recent call last):" in rest
    assert "KeyError: 'sandalwood'" in rest
    assert any("test_defects.py" in line and "in raised" in line for line in rest)


def test_causes_are_kept_too(own_folder):
    try:
        try:
            raise KeyError("first")
        except KeyError as error:
            raise ValueError("second") from error
    except ValueError as error:
        text = record_defect(error).read_text(encoding="utf-8")
    assert text.index("KeyError: 'first'") < text.index("ValueError: second")


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such permissions")
def test_nobody_else_can_read_it(own_folder):
    before = os.umask(0)
    try:
        file = record_defect(raised(ValueError("typed by somebody")))
    finally:
        os.umask(before)
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert stat.S_IMODE(file.parent.stat().st_mode) == 0o700


def test_it_stays_small_and_keeps_the_newest(own_folder):
    for number in range(200):
        file = record_defect(raised(ValueError(f"number {number:03} " + "x" * 10_000)))
    sizes = {each.name: each.stat().st_size for each in file.parent.iterdir()}
    assert set(sizes) == {"defects.log", "defects.old.log"}
    assert max(sizes.values()) < MOST_BYTES + 30_000
    assert "number 199" in file.read_text(encoding="utf-8")


def test_one_entry_is_cut_in_the_middle(own_folder):
    error = raised(ValueError("x" * 1_000_000 + " the end"))
    text = record_defect(error).read_text(encoding="utf-8")
    assert len(text) < 25_000
    assert "in raised" in text
    assert "the end" in text
    assert len(in_one_line(error)) <= 300


def test_entries_written_at_once_do_not_mix(own_folder):
    errors = [raised(ValueError(f"number {number:02} " + "y" * 2000)) for number in range(40)]
    with ThreadPoolExecutor(8) as pool:
        (file,) = set(pool.map(record_defect, errors))
    lines = file.read_text(encoding="utf-8").splitlines()
    whole = [line for line in lines if line.startswith("ValueError: number")]
    assert {len(line) for line in whole} == {len("ValueError: number 00 ") + 2000}
    assert len(set(whole)) == 40


@pytest.mark.parametrize("error", [Unprintable(), ValueError("\udc80 half a character")])
def test_any_exception_is_kept(own_folder, error):
    assert in_one_line(raised(error))
    assert record_defect(raised(error)).stat().st_size > 100


def test_a_log_that_cannot_be_written_is_no_second_defect(tmp_path, monkeypatch):
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    monkeypatch.setenv("BLENDKIT_HOME", str(tmp_path / "file"))
    assert record_defect(raised(ValueError("x"))) is None
    assert "could not be written" in where_recorded(raised(ValueError("x")))
