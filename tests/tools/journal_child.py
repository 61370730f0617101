"""A process that writes to journals until it is killed; started once, forked for each kill.

Reads orders from its standard input, answers on its standard output:

- ``work FOLDER ACKNOWLEDGED WHAT EXPORT``: a fork opens the journal and works for ever, adding
  a line to the file ACKNOWLEDGED after each row that was kept; answers its process number. WHAT
  is one of `kill_harness.WORK`.
- ``import FOLDER PIECES EXPORT``: a fork reads an export in, in small pieces, with a byte more
  in the file PIECES after each; answers its process number.
- ``count FOLDER NAME COUNT``: a fork logs so many events under a name and ends.
- ``forget FOLDER PERSON``: a fork forgets somebody and ends; answers its process number.
- ``nobody FOLDER``: a fork becomes a user without rights and opens the journal; answers what it
  was told, as one line.
- ``wait``: waits for the last fork to end.
"""

from __future__ import annotations

import contextlib
import itertools
import json
import os
import sys
import zipfile
from pathlib import Path

from blendkit.foundation.errors import Refused
from blendkit.journal import merge
from blendkit.journal.errors import CannotJournal
from blendkit.journal.merge import import_journal
from blendkit.journal.records import Session
from blendkit.journal.restore import recover_journal, restore_backup
from blendkit.journal.store import open_journal

NOBODY = 65534


def say(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def work(folder: str, acknowledged: str, what: str, export: str) -> None:
    number = os.open(acknowledged, os.O_WRONLY | os.O_CREAT | os.O_APPEND)

    def acknowledge(*ids: str) -> None:
        os.write(number, "".join(f"{id}\n" for id in ids).encode())

    home = Path(folder)
    if what == "recovering":
        with contextlib.suppress(CannotJournal):  # sound, where the kill before came late
            recover_journal(home).close()
    journal = open_journal(home)
    sessions = journal.all(Session)
    session = sessions[0] if sessions else journal.start_session("until killed")
    for _ in itertools.count():
        acknowledge(journal.log(session, "added", {"oil": "lavender", "drops": 1}).id)
        if what == "saving":
            acknowledge(journal.new_blend("Quay (invented)", {"oils": []}).id)
        elif what == "merging":
            journal.log(session, "added", {"oil": "lavender", "drops": 1})
            import_journal(journal, Path(export))
            with zipfile.ZipFile(export) as files:
                acknowledge(*files.comment.decode().split())
        elif what in ("backing up", "restoring"):
            backup = journal.back_up_now()
            if what == "restoring":
                journal.close()
                journal = restore_backup(backup, home)


def take_in(folder: str, pieces: str, export: str) -> None:
    merge.PIECE_ROWS = 20
    number = os.open(pieces, os.O_WRONLY | os.O_APPEND)
    with open_journal(Path(folder)) as journal:
        one = merge.Import(journal, Path(export))
        for _share_done in one.steps():
            if one.added and any(one.added.values()):
                os.write(number, b".")


def forget(folder: str, person: str) -> None:
    with open_journal(Path(folder)) as journal:
        journal.forget(person)


def count(folder: str, name: str, times: str) -> None:
    with open_journal(Path(folder)) as journal:
        session = journal.start_session(name)
        for number in range(int(times)):
            journal.log(session, "added", {"by": name, "number": number})


def nobody(folder: str) -> None:
    if os.getuid() == 0:
        os.setgroups([])
        os.setgid(NOBODY)
        os.setuid(NOBODY)
    try:
        with open_journal(Path(folder)) as journal:  # reading needs no right to write
            journal.all(Session)
            journal.start_session("not allowed")
    except Refused as refusal:
        say(json.dumps([type(refusal).__name__, str(refusal)]))
    else:
        say(json.dumps(["", "opened"]))


def main() -> None:
    orders = {"work": work, "import": take_in, "count": count, "forget": forget,
              "nobody": nobody}  # fmt: skip
    child = 0
    for line in sys.stdin:
        order, *arguments = json.loads(line)
        if order == "wait":
            os.waitpid(child, 0)
            say("ended")
            continue
        child = os.fork()
        if not child:
            try:
                orders[order](*arguments)
            finally:
                sys.stdout.flush()
                os._exit(0)
        if order != "nobody":
            say(str(child))


if __name__ == "__main__":
    main()
