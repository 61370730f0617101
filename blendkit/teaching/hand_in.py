"""Handing a blend in, and gathering what a class handed in.

A learner's panel writes one new file into a folder that takes files from everybody and shows
them to the teacher only (`blendkit.classroom`); a memory stick passed round does as well. What
lies there was written by others, so it is read as nobody's: size and number limited, no links
followed, nothing run, and a blend checked like any that is typed. Whose it is says the account
that owns the file, where learners have accounts of their own, and not what is written in it.
"""

from __future__ import annotations

import contextlib
import json
import os
import secrets
import stat
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from blendkit.blend.blend import Blend
from blendkit.foundation.errors import BlendkitError
from blendkit.foundation.units import counted, show

DROP_BOX_VARIABLE = "BLENDKIT_HAND_IN"
SEAT_VARIABLE = "BLENDKIT_SEAT"
LARGEST_BYTES = 64 * 1024
MOST_FILES = 2000
LONGEST_NAME = 40

_END = ".json"
# asked for piece by piece: Windows lacks some
_NO_LINKS = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
_NEW_FILE = os.O_WRONLY | os.O_CREAT | os.O_EXCL | _NO_LINKS


class CannotHandIn(BlendkitError, OSError):
    """The folder to hand in to cannot be written, or cannot be looked into."""


@dataclass(frozen=True)
class HandedIn:
    """The newest blend of one seat.

    Attributes
    ----------
    seat : str
        Name of the file's owner; else as written in the file; else the beginning of the
        file's name.
    when : datetime
        Of the file.
    blend : Blend or None
        None where it cannot be mixed, or the file cannot be read.
    problem : str
        Why there is no blend; empty where there is one.
    count : int
        How many times this seat handed in.
    """

    seat: str
    when: datetime
    blend: Blend | None
    problem: str = ""
    count: int = 1


@dataclass(frozen=True)
class Gathered:
    """Blends that a class handed in.

    Attributes
    ----------
    seats : tuple of HandedIn
        By name of the seat.
    remarks : tuple of str
        Sentences on what was skipped.
    """

    seats: tuple[HandedIn, ...]
    remarks: tuple[str, ...]


def drop_box() -> Path | None:
    """The folder to hand in to, where the class has one."""
    folder = os.environ.get(DROP_BOX_VARIABLE)
    return Path(folder) if folder else None


def hand_in(blend: Blend, folder: Path) -> Path:
    """Write a blend to a new file in a folder that the writer may not be able to look into.

    Parameters
    ----------
    blend : Blend
    folder : Path
        `drop_box()`, or a memory stick.

    Returns
    -------
    Path
        The file, whole. Its name cannot be guessed by others and none is written over.

    Raises
    ------
    CannotHandIn
        The folder is not there, or full, or closed.
    """
    seat = os.environ.get(SEAT_VARIABLE, "")
    text = json.dumps({"seat": seat, "blend": blend.to_dict()})
    target = folder / f"{secrets.token_hex(16)}{_END}"
    part = target.with_suffix(".part")
    try:
        handle = os.open(part, _NEW_FILE, 0o640)
        try:
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                if hasattr(os, "fchmod"):
                    os.fchmod(handle, 0o640)  # the folder's group is the teacher's
                file.write(text)
                file.flush()
                os.fsync(handle)
            part.rename(target)  # a name drawn from 2**128 is not taken
        finally:
            part.unlink(missing_ok=True)
    except OSError as error:
        message = f"{folder}: got {error.strerror or error}; needs the class's folder."
        raise CannotHandIn(f"{message} Your blend is untouched; keep it, and ask.") from error
    return target


def gather(folder: Path) -> Gathered:
    """Read what was handed in: the newest of each seat, and sentences on what was skipped.

    Parameters
    ----------
    folder : Path

    Raises
    ------
    CannotHandIn
        The folder is not there, or not for this account to look into.
    """
    try:
        with os.scandir(folder) as entries:
            names = [entry.name for entry in entries if entry.name.endswith(_END)]
    except (OSError, ValueError) as error:  # a path may hold what no path can
        got = getattr(error, "strerror", None) or error
        needed = "needs a folder that you may look into"
        raise CannotHandIn(f"{folder}: got {got}; {needed}.") from error
    remarks = []
    if len(names) > MOST_FILES:
        remarks.append(f"{len(names)} files: only {MOST_FILES} of them were read.")
    found: dict[str, HandedIn] = {}
    skipped = 0
    for one in _read_all(folder, sorted(names)[:MOST_FILES]):
        if one is None:
            skipped += 1
            continue
        other = found.get(one.seat)
        count = 1 + (other.count if other else 0)
        newest = one if other is None or one.when >= other.when else other
        found[one.seat] = replace(newest, count=count)
    if skipped:
        remarks.append(f"{counted(skipped, 'thing')} skipped: no plain file.")
    return Gathered(tuple(found[seat] for seat in sorted(found)), tuple(remarks))


def _read_all(folder: Path, names: list[str]) -> Iterator[HandedIn | None]:
    for name in names:
        with contextlib.suppress(FileNotFoundError):  # taken away meanwhile
            yield _read(folder / name)


def _read(file: Path) -> HandedIn | None:
    """A file as handed in; None where it is a link, a folder or a device."""
    try:
        handle = os.open(file, os.O_RDONLY | _NO_LINKS)
    except FileNotFoundError:
        raise
    except OSError:  # a link, or closed to the teacher
        return None
    try:
        status = os.fstat(handle)
        if not stat.S_ISREG(status.st_mode):
            return None
        text = os.read(handle, LARGEST_BYTES + 1)
    finally:
        os.close(handle)
    when = datetime.fromtimestamp(status.st_mtime, UTC)
    owner = _other_account(status.st_uid)
    by_file = f"file {file.stem[:8]}"
    if len(text) > LARGEST_BYTES:
        got = f"got a file above {show(LARGEST_BYTES / 1024)} kB; needs one blend."
        return HandedIn(owner or by_file, when, None, got)
    return _understood(text, owner, by_file, when)


def _understood(text: bytes, owner: str, by_file: str, when: datetime) -> HandedIn:
    try:
        document = json.loads(text)
        written, blend = document["seat"], document["blend"]
        if not isinstance(blend, dict):
            raise TypeError(type(blend).__name__)
    except (ValueError, TypeError, KeyError, RecursionError) as error:
        got = f"got a file that holds no blend ({type(error).__name__})."
        return HandedIn(owner or by_file, when, None, got)
    seat = owner or str(written)[:LONGEST_NAME].strip() or by_file
    try:
        return HandedIn(seat, when, Blend.from_dict(blend))
    except BlendkitError as error:
        return HandedIn(seat, when, None, str(error))
    except Exception as error:  # written by others: whatever it sets off, the rest is shown
        return HandedIn(seat, when, None, f"got a blend that broke ({type(error).__name__}).")


def _other_account(owner: int) -> str:
    """The name of the account, if it is neither the reader's own nor the administrator's."""
    if not hasattr(os, "getuid") or owner in (os.getuid(), 0):
        return ""
    import pwd

    try:
        return pwd.getpwuid(owner).pw_name
    except KeyError:
        return f"account {owner}"
