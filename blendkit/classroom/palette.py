"""The class that seats work on: read as the teacher, given out to each seat its own part."""

from __future__ import annotations

import grp
import json
import os
import pwd
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path

from blendkit.classroom.accounts import SEAT_FILES, CannotPrepare, seat_file_of
from blendkit.foundation.errors import near_miss, quoted
from blendkit.foundation.keep import parse_document
from blendkit.keeping.details import kept_classes
from blendkit.keeping.open_store import the_journal
from blendkit.materials.catalogue import OWN, OWN_MARK
from blendkit.teaching.class_document import ClassPlan
from blendkit.teaching.class_reader import read_class
from blendkit.teaching.laptop import for_laptops, seat_file


def teacher() -> int:
    """The account that ran sudo."""
    return int(os.environ.get("SUDO_UID", os.geteuid()))


def export(name: str) -> str:
    """The file of a kept class for laptops: nobody's name, nobody's health.

    Raises
    ------
    CannotPrepare
        No class of that name was kept, or it has materials that no laptop has.
    CannotJournal, BadClass
    """
    journal = the_journal()
    kept = {row.name: row for row in reversed(kept_classes(journal))}  # the newest of a name
    if name not in kept:
        fix = near_miss(name, list(kept)) or "Keep the class in notebook 08 first."
        got = f"{quoted(name)} in {journal.path}"
        raise CannotPrepare(f"class: got {got}; needs a kept class or a file. {fix}")
    plan = read_class(kept[name].document)
    used = [each.oil.id for each in plan.oils] + [each.id for each in plan.carriers]
    own = [name for name in used if name.startswith(OWN) or OWN_MARK in name]
    if own:
        fix = "Put oils and carriers of the shelf in their place, and keep the class again."
        raise CannotPrepare(
            f"{', '.join(own)}: got your own material; laptops have none. {fix}"
        )
    return json.dumps(for_laptops(plan), ensure_ascii=False, indent=1)


def read(asked: str) -> ClassPlan:
    """The class of a file, or of a name in the teacher's store.

    Raises
    ------
    CannotPrepare, BadClass
    """
    if Path(asked).is_file():
        text = Path(asked).read_text(encoding="utf-8", errors="replace")
    else:
        text = _export_as_teacher(asked)
    try:
        return read_class(for_laptops(read_class(parse_document(text))))
    except ValueError as error:
        needed = "needs what `blendkit class --export` printed"
        raise CannotPrepare(f"{asked}: got {error}; {needed}.") from error


def _export_as_teacher(name: str) -> str:
    """Run by the teacher's own account, so that no file of the store becomes root's."""
    person = pwd.getpwuid(teacher())
    done = subprocess.run(
        [sys.executable, "-m", "blendkit", "class", "--export", name],
        user=person.pw_uid, group=person.pw_gid, extra_groups=[], cwd="/",
        env={**os.environ, "HOME": person.pw_dir}, capture_output=True, text=True, check=False,
    )  # fmt: skip
    if done.returncode:
        raise CannotPrepare(done.stderr.strip().removeprefix("blendkit: "))
    return done.stdout


def give_out(folder: Path, seats: Iterable[str], plan: ClassPlan | None) -> None:
    """Write each seat's file, for that seat to read and nobody else.

    Parameters
    ----------
    folder : Path
        Of the class.
    seats : iterable of str
    plan : ClassPlan, optional
        Where left out, the files that are there stay.
    """
    if plan is None:
        return
    place = folder / SEAT_FILES
    place.mkdir(exist_ok=True)
    place.chmod(0o711)
    for name in seats:
        seat = plan.seat_named(name)
        file = seat_file_of(name, folder)
        file.unlink(missing_ok=True)
        if seat is None:
            continue
        handle = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o640)
        os.fchown(handle, 0, grp.getgrnam(name).gr_gid)
        with os.fdopen(handle, "w", encoding="utf-8") as written:
            json.dump(seat_file(plan, seat), written, ensure_ascii=False)
