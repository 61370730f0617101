"""The maker's own folder: small JSON documents, written whole and never overwritten.

`BLENDKIT_HOME` moves the folder. Saving under a name that is taken makes a new file with a
number behind it, so nothing a person kept is ever lost to a second save.
"""

import contextlib
import json
import os
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from blendkit.foundation import whole_files
from blendkit.foundation.errors import BlendkitError
from blendkit.foundation.whole_files import is_regular, make_folder

LARGEST_BYTES = 1_000_000  # of a document
MOST_PARTS = 100_000
DEEPEST = 50
_PORTS = (f"{kind}{number}" for kind in ("COM", "LPT") for number in "123456789¹²³")
_TAKEN_BY_WINDOWS = frozenset(("CON", "PRN", "AUX", "NUL", *_PORTS))
_HALF_CHARACTERS = re.compile("[\ud800-\udfff]")


class CannotKeep(BlendkitError, OSError):
    """The maker's folder cannot be written or read."""


def home() -> Path:
    """The maker's folder; made on first use.

    A relative `BLENDKIT_HOME` counts from the person's home and not from where a program was
    started, which differs from notebook to notebook.
    """
    given = os.environ.get("BLENDKIT_HOME") or "blendkit-workbook"
    return Path.home() / Path(given).expanduser()


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
    return save_file(kind, name, ".json", f"{as_json(document, indent=1)}\n".encode())


def save_page(kind: str, name: str, page: str) -> Path:
    """Write a page to a new file in the maker's folder, as `save` does a document."""
    return save_file(kind, name.removesuffix(".html"), ".html", page.encode())


def save_file(kind: str, name: str, ending: str, content: bytes) -> Path:
    """Write a new file in the maker's folder, as `save` does a document."""
    folder = home() / kind
    with _writing_into(folder), whole_files.temporary_file(folder) as part:
        part.write_bytes(content)
        whole_files.put_on_disk(part)
        names = whole_files.numbered(folder, file_stem(name), ending)
        return next(free for free in names if whole_files.give_name(part, free))


@contextlib.contextmanager
def _writing_into(folder: Path) -> Iterator[None]:
    """Make a folder of the maker's, and refuse where it cannot be written."""
    try:
        make_folder(home())
        make_folder(folder)
        yield
    except OSError as error:
        raise cannot_write(folder, error) from error


def cannot_write(folder: Path, error: OSError) -> CannotKeep:
    """The refusal for a folder that is closed, full or no folder."""
    message = f"{folder}: got {error.strerror or error}; needs a folder that can be written."
    fix = "Free some space, or set BLENDKIT_HOME to another folder. Nothing was changed."
    return CannotKeep(f"{message} {fix}")


def new_folder(kind: str, name: str) -> str:
    """Make a folder of its own for the files of one name; its path below the maker's folder.

    Raises
    ------
    CannotKeep
    """
    above = home() / kind
    with _writing_into(above):
        names = whole_files.numbered(above, file_stem(name), "")
        free = next(each for each in names if not each.exists())
        make_folder(free)
    return free.relative_to(home()).as_posix()


def saved(kind: str) -> dict[str, Path]:
    """What has been kept of one kind: file by name, newest first."""
    dated = []
    for file in (home() / kind).glob("*.json"):
        if is_regular(file):
            with contextlib.suppress(OSError):  # taken away meanwhile
                dated.append((file.stat().st_mtime_ns, file.name, file))
    return {file.stem: file for _, _, file in sorted(dated, reverse=True)}


def load(file: Path) -> dict[str, Any]:
    """Read a document back.

    Raises
    ------
    CannotKeep
        The file is gone, unreadable or no JSON document. It is left as it is.
    """
    try:
        if not is_regular(file) or file.stat().st_size > LARGEST_BYTES:
            raise ValueError(f"no plain file of at most {LARGEST_BYTES / 1e6:g} MB")
        return parse_document(file.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError) as error:
        message = f"{file}: got a file that cannot be read ({error}); needs a JSON document."
        raise CannotKeep(f"{message} The file was left as it is.") from error


def parse_document(text: str) -> dict[str, Any]:
    """A JSON object of a size that every page can take.

    Raises
    ------
    ValueError, RecursionError
        No JSON object, one of over `MOST_PARTS` parts, or nested over `DEEPEST`.
    """
    nests = text.count("[") + text.count("{")
    parts = nests + text.count(",")
    if parts > MOST_PARTS:
        raise ValueError(f"over {MOST_PARTS} parts")
    document = json.loads(text)
    if not isinstance(document, dict):
        raise ValueError(f"{type(document).__name__} in place of a JSON object")
    if nests > DEEPEST and _depth(document) > DEEPEST:
        raise ValueError(f"nested over {DEEPEST} deep")
    return document


def _depth(part: Any) -> int:
    inner = part.values() if isinstance(part, dict) else part
    return 1 + max(map(_depth, inner), default=0) if isinstance(part, dict | list) else 0


def file_stem(name: str) -> str:
    """Letters and digits of a text, as a file name that no system minds; never empty."""
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


def as_json(value: Any, **options: Any) -> str:
    """A value as JSON that is UTF-8: half characters are escaped, all others written out.

    Two halves side by side are one character in JSON (RFC 8259, section 7) and come back as
    that character.
    """
    text = json.dumps(value, ensure_ascii=False, **options)
    return json.dumps(value, **options) if has_half_characters(text) else text
