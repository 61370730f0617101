"""A process that writes to journals until it is killed; started once, forked for each kill.

Reads orders from its standard input, answers on its standard output:

- ``write FOLDER ACKNOWLEDGED PAGES``: a fork opens the journal and logs events for ever, adding
  a line to the file ACKNOWLEDGED after each; answers its process number. PAGES is how many
  pages of log make SQLite move them into the file.
- ``count FOLDER NAME COUNT``: a fork logs so many events under a name and ends.
- ``nobody FOLDER``: a fork becomes a user without rights and opens the journal; answers what it
  was told, as one line.
- ``wait``: waits for the last fork to end.
"""

from __future__ import annotations

import itertools
import json
import os
import sys
from pathlib import Path

from blendkit.foundation.errors import Refused
from blendkit.journal.records import Session
from blendkit.journal.store import open_journal

NOBODY = 65534


def say(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def write(folder: str, acknowledged: str, pages: str) -> None:
    number = os.open(acknowledged, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    journal = open_journal(Path(folder))
    with journal.snapshot() as connection:
        connection.execute(f"PRAGMA wal_autocheckpoint={int(pages)}")
    sessions = journal.all(Session)
    session = sessions[0] if sessions else journal.start_session("until killed")
    for _ in itertools.count():
        event = journal.log(session, "added", {"oil": "lavender", "drops": 1})
        os.write(number, f"{event.id}\n".encode())


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
        open_journal(Path(folder)).close()
    except Refused as refusal:
        say(json.dumps([type(refusal).__name__, str(refusal)]))
    else:
        say(json.dumps(["", "opened"]))


def main() -> None:
    orders = {"write": write, "count": count, "nobody": nobody}
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
