"""The maker's own folder: small JSON documents, written whole and never overwritten.

`BLENDKIT_HOME` moves the folder. Saving under a name that is taken makes a new file with a
number behind it, so nothing a person kept is ever lost to a second save.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from blendkit.foundation.errors import BlendkitError
from blendkit.foundation.whole_files import give_name, numbered, put_on_disk, temporary_file

_PORTS = (f"{kind}{number}" for kind in ("COM", "LPT") for number in range(1, 10))
_TAKEN_BY_WINDOWS = frozenset(("CON", "PRN", "AUX", "NUL", *_PORTS))
_HALF_CHARACTERS = re.compile("[\ud800-\udfff]")


class CannotKeep(BlendkitError, OSError):
    """The maker's folder cannot be written or read."""


def home() -> Path:
    """The maker's folder; made on first use."""
    return Path(os.environ.get("BLENDKIT_HOME") or Path.home() / "blendkit-workbook")


def save(kind: str, name: str, document: Mapping[str, Any]) -> Path:
    """Write a document to a new file in the maker's folder.

    Parameters
    ----------
    kind : str
        Sub-folder, such as "blends".
    name : str
        What the person calls it; any text. Letters and digits of it make the file name.
    document : mapping
        Anything JSON can hold.

    Returns
    -------
    Path
        The file written. It did not exist before.

    Raises
    ------
    CannotKeep
        The folder is read-only or the disk is full. Nothing was changed.
    """
    text = json.dumps(document, indent=1, ensure_ascii=_holds_half_characters(document)) + "\n"
    return _save(kind, name, ".json", text)


def save_page(kind: str, name: str, page: str) -> Path:
    """Write a page to a new file in the maker's folder, as `save` does a document."""
    return _save(kind, name.removesuffix(".html"), ".html", page)


def _save(kind: str, name: str, ending: str, text: str) -> Path:
    folder = home() / kind
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with temporary_file(folder) as part:
            part.write_text(text, encoding="utf-8")
            put_on_disk(part)
            names = numbered(folder, _file_stem(name), ending)
            return next(free for free in names if give_name(part, free))
    except OSError as error:
        raise cannot_write(folder, error) from error


def cannot_write(folder: Path, error: OSError) -> CannotKeep:
    """The refusal for a folder that is closed, full or no folder."""
    message = f"{folder}: got {error.strerror or error}; needs a folder that can be written."
    fix = "Free some space, or set BLENDKIT_HOME to another folder. Nothing was changed."
    return CannotKeep(f"{message} {fix}")


def saved(kind: str) -> dict[str, Path]:
    """Files of one kind by name, newest first."""
    files = (home() / kind).glob("*.json")
    newest_first = sorted(
        files, key=lambda file: (file.stat().st_mtime_ns, file.name), reverse=True
    )
    return {file.stem: file for file in newest_first}


def load(file: Path) -> dict[str, Any]:
    """Read a document back.

    Raises
    ------
    CannotKeep
        The file is gone, unreadable or no JSON document. It is left as it is.
    """
    try:
        document = json.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError) as error:
        message = f"{file}: got a file that cannot be read ({error}); needs a JSON document."
        raise CannotKeep(f"{message} The file was left as it is.") from error
    if not isinstance(document, dict):
        raise CannotKeep(f"{file}: got {type(document).__name__}; needs a JSON document.")
    return document


def _file_stem(name: str) -> str:
    words = " ".join(re.sub(r"[^\w -]+", " ", name).split())
    # file systems count bytes, and a letter may take four
    stem = words.encode("utf-8", "ignore")[:120].decode("utf-8", "ignore").strip(" .")
    if stem.upper() in _TAKEN_BY_WINDOWS:
        stem += "_"
    return stem or "untitled"


def has_half_characters(text: str) -> bool:
    """True where a text has half of a surrogate pair, which is no character.

    Such a half cannot be written as UTF-8; escaped in JSON, it comes back as it was.
    """
    return _HALF_CHARACTERS.search(text) is not None


def _holds_half_characters(document: Mapping[str, Any]) -> bool:
    return has_half_characters(json.dumps(document, ensure_ascii=False))
