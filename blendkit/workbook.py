"""Opening the workbook: notebooks in the maker's folder, JupyterLab over it, panel live.

A notebook that the maker has changed is never replaced. Cells run by themselves only where a
notebook's source equals, by its fingerprint, one that this package ships; any other notebook
opens as usual and waits for "Run All Cells".
"""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Mapping
from hashlib import sha256
from pathlib import Path
from typing import Any

from blendkit.foundation import keep
from blendkit.foundation.shipping import shipped_folder
from blendkit.foundation.whole_files import unfinished

FIRST = "01_first_bottle.ipynb"
FOLDER = "notebooks"
_PLACED = ".placed.json"
_LAB = Path(__file__).with_name("lab")


def fingerprint(notebook: Mapping[str, Any]) -> str:
    """A fingerprint of what a notebook's cells say, whatever their output.

    The page computes the same one; see `blendkit/lab`.
    """
    cells = [[cell["cell_type"], "".join(cell["source"])] for cell in notebook["cells"]]
    text = json.dumps(cells, ensure_ascii=False, separators=(",", ":"))
    return sha256(text.encode()).hexdigest()


def shipped_notebooks() -> dict[str, str]:
    """Every shipped notebook: its text by file name."""
    folder = shipped_folder(FOLDER)
    files = sorted(folder.iterdir(), key=lambda file: file.name)
    return {
        file.name: file.read_text(encoding="utf-8")
        for file in files
        if file.name.endswith(".ipynb")
    }


def place_notebooks(folder: Path) -> list[str]:
    """Put the shipped notebooks in a folder, leaving alone what the maker has changed.

    Returns
    -------
    list of str
        Sentences about notebooks that were left as they are although a newer one ships.

    Raises
    ------
    CannotKeep
        The folder cannot be written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        return _placed_notebooks(folder)
    except OSError as error:
        raise keep.cannot_write(Path(error.filename or folder), error) from error


def _placed_notebooks(folder: Path) -> list[str]:
    record = folder / _PLACED
    placed: dict[str, str] = _json(record) or {}
    kept = []
    for name, text in shipped_notebooks().items():
        mark, target = fingerprint(json.loads(text)), folder / name
        there = _fingerprint_of(target)
        if there is None or there == placed.get(name):
            if there != mark:
                _write(target, text)
            placed[name] = there = mark
        if there == mark:
            _trust(target, text)
        else:
            kept.append(f"{name}: you changed it, so it stays; blendkit ships a newer one.")
    _write(record, json.dumps(placed, indent=1))
    return kept


def _fingerprint_of(file: Path) -> str | None:
    """None where there is no file; "" where it is no notebook, which nothing shipped equals."""
    if not file.exists():
        return None
    try:
        return fingerprint(_json(file) or {})
    except (KeyError, TypeError):
        return ""


def _trust(file: Path, shipped: str) -> None:
    """Sign a notebook, as `jupyter trust` does, so that its panel may open by itself.

    Not where it holds outputs that did not ship: whoever made them may have hidden a script
    there. Jupyter itself signs what the maker ran and saved.
    """
    import nbformat
    from nbformat.sign import NotebookNotary

    if _outputs(_json(file) or {}) <= _outputs(json.loads(shipped)):
        with NotebookNotary() as notary:
            notary.sign(nbformat.read(file, as_version=4))


def _outputs(notebook: Mapping[str, Any]) -> set[str]:
    cells = notebook.get("cells", [])
    return {
        json.dumps(each, sort_keys=True) for cell in cells for each in cell.get("outputs", [])
    }


def _json(file: Path) -> dict[str, Any] | None:
    try:
        document = json.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return document if isinstance(document, dict) else None


def _write(file: Path, text: str) -> None:
    with unfinished(file.parent) as part:
        part.write_text(text, encoding="utf-8")
        part.replace(file)


def lab_arguments(settings: Path) -> list[str]:
    """What JupyterLab is started with; writes its settings into a folder.

    Its token stays on and its address on this machine: neither is touched here.
    """
    marks = [fingerprint(json.loads(text)) for text in shipped_notebooks().values()]
    overrides = (_LAB / "overrides.json").read_text(encoding="utf-8")
    (settings / "overrides.json").write_text(overrides, encoding="utf-8")
    page = {"blendkitShipped": " ".join(marks)}
    (settings / "page_config.json").write_text(json.dumps(page), encoding="utf-8")
    return [
        f"--ServerApp.root_dir={keep.home()}",
        f"--LabApp.default_url=/doc/tree/{FOLDER}/{FIRST}",
        f"--LabApp.app_settings_dir={settings}",
        f"--LabApp.extra_labextensions_path={_LAB / 'labextensions'}",
    ]


def open_workbook(extra: list[str]) -> None:
    """Place the notebooks and start JupyterLab; returns when it is closed.

    Parameters
    ----------
    extra : list of str
        Further options for JupyterLab, as typed.
    """
    from jupyterlab.labapp import LabApp

    for sentence in place_notebooks(keep.home() / FOLDER):
        print(sentence)  # noqa: T201 - the terminal is this command's page
    with tempfile.TemporaryDirectory() as settings:
        # in a container people often are root, and JupyterLab would only stop with a hint
        root = ["--allow-root"] if getattr(os, "geteuid", lambda: 1)() == 0 else []
        LabApp.launch_instance([*lab_arguments(Path(settings)), *root, *extra])
