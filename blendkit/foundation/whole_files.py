"""Files that appear whole or not at all, and never in place of another one."""

from __future__ import annotations

import contextlib
import itertools
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path


@contextlib.contextmanager
def temporary_file(folder: Path) -> Iterator[Path]:
    """A new file in a folder, under a passing name; gone at the end unless it got its own."""
    handle, temporary = tempfile.mkstemp(dir=folder, suffix=".part")
    os.close(handle)
    try:
        yield Path(temporary)
    finally:
        Path(temporary).unlink(missing_ok=True)


def put_on_disk(finished: Path) -> None:
    """Wait until the disk has what was written; a full disk may say so only now.

    Raises
    ------
    OSError
    """
    with finished.open("rb+") as file:
        os.fsync(file.fileno())


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
    return True


def numbered(folder: Path, stem: str, ending: str) -> Iterator[Path]:
    """Names to try in turn: "Dusk.json", "Dusk 2.json", "Dusk 3.json" and so on."""
    yield folder / f"{stem}{ending}"
    yield from (folder / f"{stem} {number}{ending}" for number in itertools.count(2))
