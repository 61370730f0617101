"""One account of the operating system for each seat: what keeps learners' files apart.

A notebook runs whatever its learner writes, so no setting of Jupyter can keep two learners of
the same account from reading each other. The accounts have no password and no login shell;
their folders are closed to all others.
"""

import os
import pwd
import shutil
import subprocess
import sys
from collections.abc import Iterable, Mapping
from pathlib import Path

from blendkit.foundation.errors import BlendkitError
from blendkit.teaching.hand_in import BOX, name_owners

COMMENT = "blendkit class"
CLOSED = 0o700
# whoever hands in may write here, and nobody but the teacher may look; what is written
# belongs to the teacher's group, and nobody may take away what another one wrote
DROP_BOX = 0o3733
SEAT_FILES = "seat-files"  # below the folder of a class
_FIX = (
    "Make the environment with /usr/bin/python3 -m venv /opt/class, and install blendkit "
    "there without -e."
)


class CannotPrepare(BlendkitError):
    """The machine cannot be made ready for a class."""


def seat_file_of(seat: str, folder: Path) -> Path:
    """The file of a seat's class."""
    return folder / SEAT_FILES / f"{seat}.json"


def make_accounts(seats: Iterable[str], folder: Path) -> None:
    """Give every seat an account and a closed folder, where it has none yet.

    Parameters
    ----------
    seats : iterable of str
    folder : Path
        Of the class.

    Raises
    ------
    CannotPrepare
        An account of that name is somebody else's, or none can be made.
    """
    for seat in seats:
        home = folder / seat
        if not _is_there(seat, home):
            _add(seat, home)
        home.chmod(CLOSED)


def _is_there(seat: str, home: Path) -> bool:
    try:
        account = pwd.getpwnam(seat)
    except KeyError:
        return False
    if (account.pw_gecos, Path(account.pw_dir)) != (COMMENT, home):
        message = f'{seat}: got an account "{account.pw_gecos}" at {account.pw_dir}'
        fix = f"Use the folder of that class, or remove its account (userdel {seat})."
        raise CannotPrepare(f"{message}; needs an account of this class. {fix}")
    return True


def _add(seat: str, home: Path) -> None:
    command = shutil.which("useradd")
    if command is None:
        raise CannotPrepare("useradd: got nothing; a class needs Linux, which has it.")
    options = ["--system", "--user-group", "--create-home", "--home-dir", str(home)]
    options += ["--shell", shutil.which("nologin") or "/usr/sbin/nologin"]
    if error := _run(command, *options, "--comment", COMMENT, seat):
        raise CannotPrepare(f"{seat}: the account could not be made: {error}")


def _run(*command: str) -> str:
    """Run a command; why it failed, "" where it did not."""
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    return (done.stderr.strip() or f"error {done.returncode}") if done.returncode else ""


def make_drop_box(folder: Path, owner: int) -> Path:
    """A folder to hand in to: everybody writes, only the owner lists and reads.

    Parameters
    ----------
    folder : Path
        Of the class.
    owner : int
        Account of the teacher.
    """
    box = folder / BOX
    box.mkdir(exist_ok=True)
    os.chown(box, owner, pwd.getpwuid(owner).pw_gid)
    box.chmod(DROP_BOX)
    return box


def give_out(folder: Path, texts: Mapping[str, str]) -> None:
    """Write each seat's file, for that seat to read and nobody else."""
    shutil.rmtree(folder / SEAT_FILES, ignore_errors=True)
    (folder / SEAT_FILES).mkdir(mode=0o711)
    for seat, text in texts.items():
        file = seat_file_of(seat, folder)
        file.touch(mode=0o640)
        os.chown(file, 0, pwd.getpwnam(seat).pw_gid)
        file.write_text(text, encoding="utf-8")


def seats_of(folder: Path) -> dict[int, str]:
    """Accounts of a class, by their numbers."""
    return {
        each.pw_uid: each.pw_name
        for each in pwd.getpwall()
        if each.pw_gecos == COMMENT and Path(each.pw_dir) == folder / each.pw_name
    }


def remove_accounts(folder: Path, names: Iterable[str], owner: int) -> None:
    """Remove the accounts and folders of seats; what was handed in stays.

    Parameters
    ----------
    folder : Path
        Of the class.
    names : iterable of str
        Its seats, of which some may have no account any more.
    owner : int
        Account of the teacher.

    Raises
    ------
    CannotPrepare
        An account is at work.
    """
    seats, box = seats_of(folder), folder / BOX
    if box.is_dir():
        name_owners(box, seats, owner)
    for seat in seats.values():
        if error := _run("userdel", seat):
            fix = "End the class first (Ctrl+C where it runs), then remove it."
            raise CannotPrepare(f"{seat}: the account stays: {error}. {fix}")
    for gone in (*names, SEAT_FILES):
        shutil.rmtree(folder / gone, ignore_errors=True)


def check_python_is_reachable() -> None:
    """Refuse where the seats' accounts could not start this Python with blendkit.

    Raises
    ------
    CannotPrepare
        It lies in a closed folder, such as a home, or needs what does.
    """
    modules, nobody = "import ssl, blendkit, jupyterhub.singleuser", pwd.getpwnam("nobody")
    try:
        subprocess.run(
            [sys.executable, "-c", modules], cwd="/", user=nobody.pw_uid, group=nobody.pw_gid,
            extra_groups=[], capture_output=True, text=True, check=True,
        )  # fmt: skip
    except (OSError, subprocess.CalledProcessError) as error:
        got = (getattr(error, "stderr", "") or str(error)).strip().splitlines()[-1]
        needed = "seats are other accounts, and need a Python outside every home"
        raise CannotPrepare(f"{sys.executable}: got {got}; {needed}. {_FIX}") from error
