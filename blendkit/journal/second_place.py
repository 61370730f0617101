"""A second place for backups, such as a memory stick or a folder that is copied elsewhere.

A backup counts as there only once it was read back from there and is the same, byte by byte.
People who got a bottle, and what they reported, go along only where the maker wants that.
Where the place is not there, there is a warning and nothing else stops.
"""

import hashlib
import platform
import re
import shutil
import sqlite3
from contextlib import closing, suppress
from pathlib import Path

from blendkit.foundation import whole_files
from blendkit.foundation.errors import Problem
from blendkit.foundation.whole_files import is_regular, put_on_disk, temporary_file
from blendkit.journal import backups
from blendkit.journal.backups import backups_in, list_backups, write_copy
from blendkit.journal.errors import CannotJournal
from blendkit.journal.people_table import drop_people, has_people

_ODD = r"[^\w-]+"
NOTE = "second place for backups.txt"
_WITH_PEOPLE = "with people"  # the second line of the note
FOLDER = "blendkit backups of "  # then the computer, since several may use one stick


def second_place(folder: Path) -> Path | None:
    """The folder of the second place; None where the maker chose none."""
    place, _ = _note(folder)
    return Path(place) if place else None


def takes_people(folder: Path) -> bool:
    """True where copies in the second place have people in them."""
    return _note(folder)[1] == _WITH_PEOPLE


def _note(folder: Path) -> tuple[str, str]:
    note = folder / NOTE
    try:
        text = note.read_text(encoding="utf-8")[:4096].strip() if is_regular(note) else ""
    except (OSError, ValueError):
        text = ""
    place, _, more = text.partition("\n")
    return place.strip(), more.strip()


def choose_second_place(folder: Path, typed: str, *, people: bool = False) -> Path | None:
    """Choose the second place, or none with an empty text, and copy the newest backup there.

    Parameters
    ----------
    folder : Path
        The maker's folder.
    typed : str
        The path of a folder that is there.
    people : bool, optional
        Whether people go along; where not, they are also taken out of copies that this
        computer made before, but for damaged ones.

    Raises
    ------
    CannotJournal
        It is no folder, is within the maker's folder, or cannot be written and read back.
    OSError, sqlite3.Error
    """
    place: Path | None = None
    if typed.strip():
        place = Path(typed.strip()).expanduser()
        needed = "a folder on another disk or memory stick"
        try:
            is_inside = folder.resolve() in (place.resolve(), *place.resolve().parents)
            is_folder = place.is_absolute() and place.is_dir()
        except (OSError, RuntimeError, ValueError):
            is_inside = is_folder = False
        if not is_folder or is_inside:
            got = "the maker's own folder" if is_inside else f'"{typed.strip()}", no folder'
            raise CannotJournal([Problem("second place for backups", got, needed)])
        newest = list_backups(folder)[:1]
        for backup in newest:
            _copy(backup, place, people=people)
    whole_files.make_folder(folder)
    more = _WITH_PEOPLE if people else ""
    whole_files.write_text(folder / NOTE, f"{place or ''}\n{more}\n")
    for backup in backups_in(_own_folder(place)) if place and not people else ():
        with suppress(sqlite3.Error), temporary_file(backup.parent) as part:
            if _holds_people(backup):
                write_copy(backup, part, drop_people)
                whole_files.put_in_place(part, backup)
    return place


def copy_to_second_place(folder: Path) -> str:
    """Copy the newest backup to the second place; a warning where that fails, else nothing."""
    place, newest = second_place(folder), list_backups(folder)[:1]
    if place is None or not newest:
        return ""
    try:
        if not place.is_dir():
            raise OSError("it is not there")
        _copy(newest[0], place, people=takes_people(folder))
    except (OSError, CannotJournal, sqlite3.Error) as error:
        return f"No backup was copied to the second place, {place}: {error}."
    return ""


def backups_there(folder: Path) -> list[Path]:
    """The backups in the second place, newest first; none where it is not there."""
    place = second_place(folder)
    if place is None:
        return []
    folders = sorted(place.glob(f"{FOLDER}*"))
    return [backup for there in folders for backup in backups_in(there)]


def _holds_people(backup: Path) -> bool:
    with closing(backups.read_only(backup)) as store:
        return has_people(store)


def _copy(backup: Path, place: Path, *, people: bool) -> None:
    stem = backups.stem_of_backup(backup)
    if people or not _holds_people(backup):
        _copy_as_is(backup, place, stem)
        return
    with temporary_file(backup.parent) as part:
        write_copy(backup, part, drop_people)
        _copy_as_is(part, place, stem)


def _copy_as_is(backup: Path, place: Path, stem: str) -> None:
    there = _own_folder(place)
    whole_files.make_folder(there)
    if any(_digest(each) == _digest(backup) for each in backups_in(there)):
        return
    with temporary_file(there) as part:
        shutil.copyfile(backup, part)
        put_on_disk(part)
        if _digest(part) != _digest(backup):
            needed = "the same bytes as were written"
            raise CannotJournal([Problem(str(there), "others when read back", needed)])
        backups.give_next_name(part, there, stem)
    backups.remove_oldest(there)


def _own_folder(place: Path) -> Path:
    return place / f"{FOLDER}{re.sub(_ODD, '', platform.node())}"


def _digest(file: Path) -> str:
    with file.open("rb") as content:
        return hashlib.file_digest(content, "sha256").hexdigest()
