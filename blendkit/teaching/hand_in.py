"""Handing a blend in, and gathering what a class handed in.

A learner's panel writes one new file into a folder that takes files from everybody and shows
them to the teacher only (`blendkit.classroom`); a memory stick passed round does as well. What
lies there was written by others, so it is read as nobody's: size and number limited, no links
followed, nothing run, and a blend checked like any that is typed. Whose it is says the account
that owns the file, where learners have accounts of their own, and not what is written in it.
Of each account the newest files are looked at and one of them is read as a blend, so that no
seat can hide another or hold the teacher's page up.
"""

import itertools
import json
import os
import secrets
import stat
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, NamedTuple

from blendkit.blend.blend import Blend
from blendkit.foundation.errors import BlendkitError
from blendkit.foundation.keep import parse_document
from blendkit.foundation.units import counted, show

DROP_BOX_VARIABLE = "BLENDKIT_HAND_IN"
SEAT_VARIABLE = "BLENDKIT_SEAT"
CLASS_VARIABLE = "BLENDKIT_SEAT_CLASS"  # the file of `teaching.laptop`
BOX = "hand-in"  # below the folder of a class
LARGEST_BYTES = 16 * 1024
MOST_SEEN = 100_000  # names looked at
MOST_OF_ACCOUNT = 200  # newest files read of one account
MOST_SEATS = 300
MOST_OILS = 50
LONGEST_NAME = 40
_LATEST_S = 4e9  # of a file's time that a wrong clock set

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


class Gathered(NamedTuple):
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
    try:
        return _write(folder, {"seat": seat, "blend": blend.to_dict()})
    except OSError as error:
        message = f"{folder}: got {error.strerror or error}; needs the class's folder."
        raise CannotHandIn(f"{message} Your blend is untouched; keep it, and ask.") from error


def _write(folder: Path, document: Mapping[str, Any]) -> Path:
    """A new file, whole; its name, drawn from 2**128, is not taken."""
    target = folder / f"{secrets.token_hex(16)}{_END}"
    part = target.with_suffix(".part")
    handle = os.open(part, _NEW_FILE, 0o640)
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            if hasattr(os, "fchmod"):
                os.fchmod(handle, 0o640)  # the folder's group is the teacher's
            file.write(json.dumps(document))
            file.flush()
            os.fsync(handle)
        part.rename(target)
    finally:
        part.unlink(missing_ok=True)
    return target


def where_handed_in(folder: Path) -> Path:
    """The folder to look into: the one typed, or the hand-in folder below a class's."""
    below = folder / BOX
    return below if os.path.isdir(below) else folder  # noqa: PTH112 - never raises


def name_owners(folder: Path, accounts: Mapping[int, str], owner: int) -> None:
    """Write into each file whose it is, before the accounts are removed and others get theirs.

    Parameters
    ----------
    folder : Path
        Hand-ins.
    accounts : mapping of int to str
        Seats by the number of their account.
    owner : int
        Account of the teacher.
    """
    for file in folder.glob(f"*{_END}"):
        status = file.lstat()
        seat = accounts.get(status.st_uid)
        read = _read(file, seat) if seat else None
        if read is not None and read.document is not None:
            named = _write(folder, {"seat": seat, "blend": read.document})
            os.chown(named, owner, -1)
            os.utime(named, ns=(status.st_atime_ns, status.st_mtime_ns))
            file.unlink()


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
        folder = where_handed_in(folder)
        with os.scandir(folder) as entries:
            named = (entry for entry in entries if entry.name.endswith(_END))
            seen = list(itertools.islice(named, MOST_SEEN + 1))
    except (OSError, ValueError) as error:  # a path may hold what no path can
        got = getattr(error, "strerror", None) or error
        needed = "needs a folder that you may look into, as the account that ran sudo"
        raise CannotHandIn(f"{folder}: got {got}; {needed}.") from error
    files: dict[int, list[tuple[int, str]]] = {}
    passed_by = 0
    for entry in seen[:MOST_SEEN]:
        try:
            status = entry.stat(follow_symlinks=False)
        except OSError:  # taken away meanwhile
            continue
        if stat.S_ISREG(status.st_mode):
            files.setdefault(status.st_uid, []).append((status.st_mtime_ns, entry.name))
        else:
            passed_by += 1
    remarks = [f"{counted(passed_by, 'thing')} skipped: no plain file."] if passed_by else []
    if len(seen) > MOST_SEEN:
        remarks.append(f"Over {MOST_SEEN} files: the rest was not looked at.")
    seats: dict[str, HandedIn] = {}
    for owner in sorted(files)[:MOST_SEATS]:
        seats |= _seats_of(folder, owner, files[owner], remarks)
    return Gathered(tuple(seats[seat] for seat in sorted(seats)), tuple(remarks))


def _seats_of(
    folder: Path, owner: int, files: list[tuple[int, str]], remarks: list[str]
) -> dict[str, HandedIn]:
    """The newest blend of each seat in the files of one account; a learner has one seat."""
    seat = _other_account(owner)
    found: dict[str, _Text] = {}
    counts: Counter[str] = Counter()
    if len(files) > MOST_OF_ACCOUNT and not seat:
        remarks.append(f"{len(files)} files: only the newest {MOST_OF_ACCOUNT} were read.")
    for _, name in sorted(files, reverse=True)[:MOST_OF_ACCOUNT]:
        one = _read(folder / name, seat)
        if one is not None:
            counts[one.seat] += 1
            found.setdefault(one.seat, one)
            if seat:
                counts[seat] = len(files)
                break
    return {seat: _understand(one, counts[seat]) for seat, one in found.items()}


class _Text(NamedTuple):
    """A file as handed in: whose it is, and a document or why there is none."""

    seat: str
    when: datetime
    document: Mapping[str, Any] | None
    problem: str = ""


def _understand(text: _Text, count: int) -> HandedIn:
    blend, problem = None, text.problem
    try:
        blend = Blend.from_dict(text.document) if text.document is not None else None
    except BlendkitError as error:
        problem = str(error)
    except Exception as error:  # written by others: whatever it sets off, the rest is shown
        problem = f"got a blend that broke ({type(error).__name__})."
    return HandedIn(text.seat, text.when, blend, problem, count)


def _read(file: Path, owner: str) -> _Text | None:
    """A file as handed in; None where it is gone, or a link, a folder or a device by now."""
    try:
        handle = os.open(file, os.O_RDONLY | _NO_LINKS)
    except OSError:
        return None
    try:
        status = os.fstat(handle)
        if not stat.S_ISREG(status.st_mode):
            return None
        text = os.read(handle, LARGEST_BYTES + 1)
    finally:
        os.close(handle)
    when = datetime.fromtimestamp(max(0, min(status.st_mtime, _LATEST_S)), UTC)
    seat = owner or f"file {file.stem[:8]}"
    if len(text) > LARGEST_BYTES:
        got = f"got a file above {show(LARGEST_BYTES / 1024)} kB; needs one blend."
        return _Text(seat, when, None, got)
    try:
        document = parse_document(text.decode())
        written, blend = document["seat"], document["blend"]
        if not isinstance(blend, dict) or len(blend.get("oils", ())) > MOST_OILS:
            raise TypeError(f"no blend of at most {MOST_OILS} oils")
    except (ValueError, TypeError, KeyError, RecursionError) as error:
        got = f"got a file that holds no blend ({type(error).__name__})."
        return _Text(seat, when, None, got)
    return _Text(owner or str(written)[:LONGEST_NAME].strip() or seat, when, blend)


def _other_account(owner: int) -> str:
    """The name of the account, if it is neither the reader's own nor the administrator's."""
    if not hasattr(os, "getuid") or owner in (os.getuid(), 0):
        return ""
    import pwd

    try:
        return pwd.getpwuid(owner).pw_name
    except KeyError:
        return f"account {owner}"
