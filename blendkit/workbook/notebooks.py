"""The shipped notebooks in the maker's folder: placed, brought up to date, and signed.

A notebook that the maker has changed is never replaced. Jupyter trusts a placed notebook only
where all of it, metadata and attachments included, is what this package ships.
"""

import json
import os
from collections.abc import Iterator, Mapping
from hashlib import sha256
from pathlib import Path
from typing import Any

from blendkit.foundation import keep
from blendkit.foundation.errors import Problem, Refused, near_miss, quoted
from blendkit.foundation.shipping import shipped_folder
from blendkit.foundation.whole_files import is_regular, make_folder, numbered
from blendkit.foundation.whole_files import write_text as _write

FIRST = "01_first_bottle.ipynb"
FOLDER = "notebooks"
_PLACED = ".placed.json"
# What JupyterLab writes into a notebook it saves; nothing of it is run or shown.
_WRITTEN_BY_JUPYTER = {"kernelspec", "language_info", "trusted", "execution", "collapsed"}


def fingerprint(notebook: Mapping[str, Any]) -> str:
    """A fingerprint of what a notebook's cells say, whatever their output.

    The page computes the same one; see `blendkit/workbook/lab`.
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
        make_folder(folder.parent)
        make_folder(folder)
        return _placed_notebooks(folder)
    except OSError as error:
        raise keep.cannot_write(Path(error.filename or folder), error) from error


def put_back(folder: Path, notebook: str) -> Path | None:
    """Put a shipped notebook back in a folder; the one in its place stays as a copy.

    Parameters
    ----------
    folder : pathlib.Path
    notebook : str
        Its number or its name, such as "2", "02", "02_the_shelf" or "02_the_shelf.ipynb".

    Returns
    -------
    pathlib.Path or None
        The copy; None where there was no such file.

    Raises
    ------
    Refused
        No such notebook ships.
    CannotKeep
        The folder cannot be written.
    """
    name = _shipped_name(notebook)
    copy = None
    try:
        if os.path.lexists(folder / name):
            names = numbered(folder, f"{Path(name).stem} (changed)", ".ipynb")
            copy = next(free for free in names if not os.path.lexists(free))
            (folder / name).rename(copy)
    except OSError as error:
        raise keep.cannot_write(folder / name, error) from error
    try:
        place_notebooks(folder)
    except keep.CannotKeep:
        if copy:
            copy.rename(folder / name)
        raise
    return copy


def _shipped_name(given: str) -> str:
    names = list(shipped_notebooks())
    word = given.strip().lower().removesuffix(".ipynb")
    for name in names:
        if word.zfill(2) == name[:2] or word == Path(name).stem:
            return name
    needed = f"a number from {names[0][:2]} to {names[-1][:2]}, or a notebook's name"
    known = [Path(name).stem for name in names]
    guess = near_miss(word, known) or f'Such as "{known[0]}".'
    raise Refused([Problem("Notebook to put back", quoted(given), needed, guess)])


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
            back = f"To put the shipped one back: blendkit --restore {name[:2]}"
            kept.append(f"{name}: you changed it, so it stays. {back}")
    _write(record, json.dumps(placed, indent=1))
    return kept


def _fingerprint_of(file: Path) -> str | None:
    """None where there is no file; "" where it is no notebook, which nothing shipped equals."""
    if not os.path.lexists(file):  # a link that leads nowhere is the maker's too
        return None
    try:
        return fingerprint(_json(file) or {})
    except (KeyError, TypeError, AttributeError, RecursionError):
        return ""


def _trust(file: Path, shipped: str) -> None:
    """Sign a notebook, as `jupyter trust` does, so that its panel may open by itself.

    Only where nothing is in it that did not ship: whoever added an output, an attachment or
    metadata may have hidden a script there. Jupyter signs what the maker ran and saved.
    """
    import nbformat
    from nbformat.sign import NotebookNotary

    if set(_parts(_json(file) or {})) <= set(_parts(json.loads(shipped))):
        with NotebookNotary() as notary:
            notary.sign(nbformat.read(file, as_version=4))


def _parts(notebook: Mapping[str, Any]) -> Iterator[str]:
    """Everything in a notebook beside its source that a page might act on."""
    yield from _entries("notebook", notebook.get("metadata", {}))
    for number, cell in enumerate(notebook.get("cells", [])):
        yield from _entries(f"cell {number}", cell.get("metadata", {}))
        yield from _entries(f"attachments {number}", cell.get("attachments", {}))
        for output in cell.get("outputs", []):
            yield json.dumps(output, sort_keys=True)


def _entries(where: str, entries: Mapping[str, Any]) -> Iterator[str]:
    for key, value in entries.items():
        if key not in _WRITTEN_BY_JUPYTER:
            yield json.dumps([where, key, value], sort_keys=True)


def _json(file: Path) -> dict[str, Any] | None:
    try:
        if not is_regular(file):  # opening a pipe would wait for ever
            return None
        document = json.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return None
    return document if isinstance(document, dict) else None
