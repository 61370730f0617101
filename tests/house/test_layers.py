"""Arrows between modules point downward only, and importing the package stays light."""

from __future__ import annotations

import ast
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

REPOSITORY = Path(__file__).parents[2]
LINT = (
    "from importlinter.cli import lint_imports; raise SystemExit(lint_imports(no_cache=True))"
)


def linted(folder: Path) -> tuple[int, str]:
    """Exit status and report of the import linter, run in a folder of its own."""
    pytest.importorskip("importlinter")
    # The folder's own package has to be looked at, not one that is installed or on the path
    environment = {key: value for key, value in os.environ.items() if key != "PYTHONPATH"}
    environment["PYTHONDONTWRITEBYTECODE"] = "1"
    done = subprocess.run(
        [sys.executable, "-c", LINT],
        cwd=folder,
        capture_output=True,
        encoding="utf-8",
        check=False,
        env={**environment, "PYTHONIOENCODING": "utf-8", "COLUMNS": "200"},
    )
    return done.returncode, done.stdout + done.stderr


@pytest.fixture
def tree(tmp_path):
    """A copy of the package and its contracts, to plant faults in."""
    unwanted = shutil.ignore_patterns("__pycache__")
    shutil.copytree(REPOSITORY / "blendkit", tmp_path / "blendkit", ignore=unwanted)
    shutil.copy(REPOSITORY / "pyproject.toml", tmp_path)
    return tmp_path


def plant(tree: Path, module: str, line: str) -> None:
    path = tree / "blendkit" / f"{module}.py"
    lines = path.read_text(encoding="utf-8") if path.exists() else ""
    path.write_text(f"{lines}\n{line}\n", encoding="utf-8")


def test_the_layers_hold():
    status, report = linted(REPOSITORY)
    assert status == 0, report


@pytest.mark.parametrize(
    ("module", "line", "arrow"),
    [
        (
            "foundation/errors",
            "import blendkit.panels",
            "blendkit.foundation.errors -> blendkit.panels",
        ),
        (
            "foundation/units",
            "from blendkit import blend",
            "blendkit.foundation.units -> blendkit.blend",
        ),
        # Neighbours on one layer do not know each other
        (
            "showing/shelf/rows",
            "import blendkit.showing.bottle.sheets",
            "blendkit.showing.shelf.rows -> blendkit.showing.bottle.sheets",
        ),
        # Late imports inside a function count as well
        (
            "foundation/data",
            "def late() -> None:\n    import blendkit.blend.filling",
            "blendkit.foundation.data -> blendkit.blend.filling",
        ),
    ],
)
def test_an_upward_import_is_found(tree, module, line, arrow):
    status, report = linted(tree)
    assert status == 0, report  # else the fault below would not be what is found
    plant(tree, module, line)
    status, report = linted(tree)
    assert status != 0
    assert arrow in report


@pytest.mark.parametrize("library", ["ipywidgets", "IPython", "anywidget"])
def test_jupyter_below_the_panels_is_found(tree, library):
    plant(tree, "blend/filling", f"import {library}")
    status, report = linted(tree)
    assert status != 0
    assert f"blendkit.blend.filling -> {library}" in report


def test_a_module_without_a_layer_is_found(tree):
    plant(tree, "skin/stowaway", '"""Belongs nowhere."""')
    status, report = linted(tree)
    assert status != 0
    assert "stowaway" in report


def test_importing_the_package_loads_nothing_of_the_notebook():
    names = ("altair", "ipywidgets", "IPython", "anywidget", "jupyterlab", "sqlite3")
    program = f"import blendkit, sys; print([n for n in {names!r} if n in sys.modules])"
    done = subprocess.run(
        [sys.executable, "-c", program],
        cwd=REPOSITORY,
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.strip() == "[]"


def test_no_module_is_above_350_lines_and_no_function_above_50():
    for path in sorted((REPOSITORY / "blendkit").rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        assert len(text.splitlines()) <= 350, path
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                words = len((ast.get_docstring(node, clean=False) or "").splitlines())
                assert node.end_lineno - node.lineno + 1 - words <= 50, (path, node.name)
