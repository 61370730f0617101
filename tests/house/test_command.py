"""The command `blendkit`: help that does nothing else, and errors in words."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from importlib import import_module
from pathlib import Path

import pytest

from blendkit.__main__ import main
from blendkit.foundation.keep import CannotKeep

REPOSITORY = Path(__file__).resolve().parents[2]


@pytest.fixture(autouse=True)
def jupyter_folder(own_folder, tmp_path, monkeypatch):
    monkeypatch.setenv("JUPYTER_DATA_DIR", str(tmp_path / "jupyter"))


def stopped(*typed: str) -> str:
    """The sentence that a command ends with."""
    with pytest.raises(SystemExit) as ended:
        main(list(typed))
    assert isinstance(ended.value.code, str)  # printed by Python to stderr, exit status 1
    return ended.value.code


@pytest.mark.parametrize("typed", ["--help", "-h", "--no-browser --help", "--version"])
def test_help_and_version_do_nothing_else(own_folder, tmp_path, capsys, typed):
    main(typed.split())
    shown = capsys.readouterr().out
    assert "blendkit" in shown
    assert len(shown.splitlines()) <= 12
    assert max(map(len, shown.splitlines())) <= 96
    if "help" in typed or "-h" in typed:
        for line in ("blendkit class", "--restore 02", "BLENDKIT_HOME", "python -m blendkit"):
            assert line in shown
    assert list(tmp_path.iterdir()) == []  # no notebook was placed, no settings written


def test_a_notebook_is_put_back_by_its_number(own_folder, capsys):
    main(["--restore", "02"])
    assert capsys.readouterr().out == "Done.\n"
    main(["--restore", "2"])
    copy = own_folder / "notebooks" / "02_the_shelf (changed).ipynb"
    assert capsys.readouterr().out == f"Done. The former one is {copy}\n"
    assert 'Did you mean "02_the_shelf"?' in stopped("--restore", "02_shelf")
    assert 'got ""' in stopped("--restore")


def test_the_module_and_the_script_are_one_command():
    name = tomllib.loads((REPOSITORY / "pyproject.toml").read_text())["project"]["scripts"]
    module, function = name["blendkit"].split(":")
    assert getattr(import_module(module), function) is main
    command = [sys.executable, "-m", "blendkit", "--help"]
    done = subprocess.run(command, check=True, capture_output=True, text=True, timeout=60)
    assert "blendkit class" in done.stdout
    assert done.stderr == ""


def test_a_folder_that_cannot_be_made_ends_in_a_sentence(tmp_path, monkeypatch):
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    monkeypatch.setenv("BLENDKIT_HOME", str(tmp_path / "file" / "maker"))
    told = stopped("--no-browser")
    assert str(tmp_path / "file") in told
    assert "needs a folder that can be written" in told
    assert "set BLENDKIT_HOME" in told
    assert "Traceback" not in told


def test_a_full_disk_ends_in_a_sentence(monkeypatch):
    def full(file, text):
        raise OSError(28, "No space left on device", str(file))

    monkeypatch.setattr("blendkit.workbook.notebooks._write", full)
    told = stopped("--no-browser")
    assert "01_first_bottle.ipynb: got No space left on device; needs" in told


def test_a_refusal_is_shown_as_it_reads(monkeypatch):
    def refused(extra):
        raise CannotKeep("Journal: got rust; needs a disk.")

    monkeypatch.setattr("blendkit.workbook.server.open_workbook", refused)
    assert stopped() == "blendkit: Journal: got rust; needs a disk."


@pytest.mark.defect
def test_a_defect_is_recorded_and_says_where(own_folder, monkeypatch):
    monkeypatch.setattr("blendkit.workbook.server.open_workbook", lambda extra: 1 / 0)
    log = own_folder / "log" / "defects.log"
    assert stopped() == (
        f"blendkit: something broke (ZeroDivisionError: division by zero). Details: {log}"
    )
    assert "test_command.py" in log.read_text(encoding="utf-8")
