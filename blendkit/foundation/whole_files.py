"""Files that appear whole or not at all, and never in place of another one.

Folders and files made here are their owner's alone (0700, 0600), and a finished file's folder
is flushed to the disk too, so that its name survives a power cut. Windows opens no folder as a
file and has no such modes; there both are left to the system.
"""

import contextlib
import itertools
import os
import re
import stat
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

PRIVATE_FOLDER, PRIVATE_FILE = 0o700, 0o600
_OLD_PART_S = 86_400.0
_PART = re.compile(r"(?:blendkit-|tmp)[a-z0-9_]{8}\.part")


@contextlib.contextmanager
def temporary_file(folder: Path) -> Iterator[Path]:
    """A new file in a folder, under a passing name; gone at the end unless it got its own."""
    _remove_old_parts(folder)
    handle, temporary = tempfile.mkstemp(dir=folder, prefix="blendkit-", suffix=".part")
    os.close(handle)
    try:
        yield Path(temporary)
    finally:
        Path(temporary).unlink(missing_ok=True)


def _remove_old_parts(folder: Path) -> None:
    """Remove what a killed process left behind a day or more ago."""
    with contextlib.suppress(OSError):
        for file in folder.iterdir():
            is_part = _PART.fullmatch(file.name)
            if is_part and time.time() - file.lstat().st_mtime > _OLD_PART_S:
                file.unlink(missing_ok=True)


def make_folder(folder: Path) -> None:
    """Make a folder that its owner alone may look into; one that is there stays as it is.

    Raises
    ------
    OSError
    """
    if not folder.is_dir():
        folder.parent.mkdir(parents=True, exist_ok=True)
        folder.mkdir(exist_ok=True, mode=PRIVATE_FOLDER)


def put_on_disk(finished: Path) -> None:
    """Wait until the disk has what was written; a full disk may say so only now.

    Raises
    ------
    OSError
    """
    with finished.open("rb+") as file:
        os.fsync(file.fileno())


def flush_folder(folder: Path) -> None:
    """Wait until the disk has a folder's names, where the system can be asked for that."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def give_name(finished: Path, target: Path) -> bool:
    """Give a finished file its name, unless the name is taken; whether it was free."""
    try:
        os.link(finished, target)
    except FileExistsError:
        return False
    except OSError:  # some memory sticks know no hard links
        try:
            target.touch(exist_ok=False)  # from here on nobody else gets the name
        except FileExistsError:
            return False
        finished.replace(target)
    flush_folder(target.parent)
    return True


def put_in_place(finished: Path, target: Path) -> None:
    """Give a finished file a name that may be taken; at no moment is there no such file.

    Raises
    ------
    OSError
        Windows replaces no file that a program has open. Nothing was changed.
    """
    finished.replace(target)
    flush_folder(target.parent)


def write_text(target: Path, text: str) -> None:
    """Write a text whole, in place of the file that may be there.

    Raises
    ------
    OSError
    """
    with temporary_file(target.parent) as part:
        part.write_text(text, encoding="utf-8")
        put_on_disk(part)
        put_in_place(part, target)


def numbered(folder: Path, stem: str, ending: str) -> Iterator[Path]:
    """Names to try in turn: "Dusk.json", "Dusk 2.json", "Dusk 3.json" and so on."""
    yield folder / f"{stem}{ending}"
    yield from (folder / f"{stem} {number}{ending}" for number in itertools.count(2))


def is_regular(file: Path) -> bool:
    """True for a plain file; pipes, devices, folders and dead links are none."""
    try:
        return stat.S_ISREG(file.stat().st_mode)
    except (OSError, ValueError):
        return False


def identity(file: Path) -> tuple[int, int] | None:
    """Device and number of the file that a name leads to; None where there is none."""
    try:
        found = file.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino
