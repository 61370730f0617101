"""The journal's tables, as the steps that make them: the only place that defines them.

A new journal runs all steps, an older one those it lacks, in one transaction; the count of
steps done stands in `user_version` (https://www.sqlite.org/pragma.html#pragma_user_version).
A step that a journal may have behind it is never edited: a change is a new step at the end.

Nothing is ever rewritten, except the blend in hand with its steps, and people, who can be
forgotten. Triggers refuse UPDATE and
DELETE, and an INSERT under an id that is there already, since ``INSERT OR REPLACE`` would
delete without asking a DELETE trigger (https://www.sqlite.org/lang_conflict.html). A correction
is a row of its own that points at the
first row of what it corrects. Tables are STRICT, so that a number column never holds text
(https://www.sqlite.org/stricttables.html).
"""

import sqlite3
from collections.abc import Mapping, Sequence

APPLICATION_ID = 0x424B4A4E  # "BKJN", so that no other program's file is taken for a journal

# Every row: which it is, in which order it was written (a Lamport clock, so that journals
# of two computers merge with each correction after what it corrects), when, and what it mends.
_EVERY_ROW = """
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
  turn INTEGER NOT NULL CHECK (turn > 0),
  recorded_at TEXT NOT NULL,
  corrects TEXT REFERENCES {table}(id),
  withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),"""

_RULES = (
    "CREATE INDEX {table}_turn ON {table}(turn)",
    "CREATE INDEX {table}_corrects ON {table}(corrects, turn)",
    """CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table}
BEGIN SELECT raise(ABORT, 'a journal row is never rewritten'); END""",
    """CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table}
BEGIN SELECT raise(ABORT, 'a journal row is never deleted'); END""",
    """CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table}
WHEN EXISTS (SELECT 1 FROM {table} WHERE id = NEW.id)
BEGIN SELECT raise(ABORT, 'a journal row is never replaced'); END""",
    """CREATE TRIGGER {table}_corrects_first BEFORE INSERT ON {table}
WHEN EXISTS (SELECT 1 FROM {table} WHERE id = NEW.corrects AND corrects IS NOT NULL)
BEGIN SELECT raise(ABORT, 'a correction points at the first row'); END""",
)


def _table(table: str, columns: str, references: Mapping[str, str] | None = None) -> list[str]:
    """Statements for one table: its columns, the references of some, and the rules of all."""
    foreign = "".join(
        f",\n  FOREIGN KEY ({column}) REFERENCES {other}(id)"
        for column, other in (references or {}).items()
    )
    every_row = _EVERY_ROW.format(table=table)
    made = [f"CREATE TABLE {table} ({every_row}\n  {columns}{foreign}\n) STRICT"]
    made += [rule.format(table=table) for rule in _RULES]
    made += [
        f"CREATE INDEX {table}_{column} ON {table}({column})" for column in (references or {})
    ]
    return made


_ABOUT = {"version_id": "versions", "batch_id": "batches", "session_id": "sessions"}

STEPS: Sequence[Sequence[str]] = (
    # 1: blends and their versions
    [
        f"PRAGMA application_id = {APPLICATION_ID}",
        *_table("blends", "name TEXT NOT NULL, made_at TEXT NOT NULL, note TEXT NOT NULL"),
        *_table(
            "versions",
            """blend_id TEXT NOT NULL, number INTEGER NOT NULL CHECK (number > 0),
  document TEXT NOT NULL, made_at TEXT NOT NULL, why TEXT NOT NULL, parent_id TEXT""",
            {"blend_id": "blends", "parent_id": "versions"},
        ),
    ],
    # 2: batches, their bottles and what went into them
    [
        *_table(
            "batches",
            """version_id TEXT NOT NULL, lot TEXT NOT NULL, made_on TEXT NOT NULL,
  note TEXT NOT NULL""",
            {"version_id": "versions"},
        ),
        *_table(
            "batch_bottles",
            """batch_id TEXT NOT NULL, count INTEGER NOT NULL CHECK (count > 0),
  size_ml REAL NOT NULL CHECK (size_ml > 0)""",
            {"batch_id": "batches"},
        ),
        *_table(
            "batch_materials",
            """batch_id TEXT NOT NULL, material TEXT NOT NULL,
  volume_ml REAL CHECK (volume_ml >= 0), mass_g REAL CHECK (mass_g >= 0),
  supplier_lot TEXT NOT NULL, opened_on TEXT,
  CHECK (volume_ml IS NOT NULL OR mass_g IS NOT NULL)""",
            {"batch_id": "batches"},
        ),
    ],
    # 3: the bench log
    [
        *_table(
            "sessions",
            "title TEXT NOT NULL, started_at TEXT NOT NULL, version_id TEXT, batch_id TEXT",
            {"version_id": "versions", "batch_id": "batches"},
        ),
        *_table(
            "events",
            """session_id TEXT NOT NULL, kind TEXT NOT NULL, details TEXT NOT NULL,
  happened_at TEXT NOT NULL""",
            {"session_id": "sessions"},
        ),
    ],
    # 4: what was smelt, liked and photographed
    [
        *_table(
            "impressions",
            """kind TEXT NOT NULL CHECK (kind IN ('sniff', 'wear', 'maceration')),
  happened_at TEXT NOT NULL, "group" TEXT NOT NULL,
  strength REAL CHECK (strength BETWEEN 0 AND 10), words TEXT NOT NULL,
  version_id TEXT, batch_id TEXT, session_id TEXT,
  CHECK (coalesce(version_id, batch_id, session_id) IS NOT NULL)""",
            _ABOUT,
        ),
        *_table(
            "likes",
            """version_id TEXT NOT NULL, person TEXT NOT NULL,
  liked INTEGER NOT NULL CHECK (liked IN (0, 1)), happened_at TEXT NOT NULL,
  words TEXT NOT NULL""",
            {"version_id": "versions"},
        ),
        *_table(
            "photos",
            """path TEXT NOT NULL, taken_at TEXT NOT NULL, caption TEXT NOT NULL,
  version_id TEXT, batch_id TEXT, session_id TEXT,
  CHECK (coalesce(version_id, batch_id, session_id) IS NOT NULL)""",
            _ABOUT,
        ),
    ],
    # 5: what a wearing needs to teach the clock of the forecasts
    [
        "ALTER TABLE impressions ADD COLUMN minutes REAL CHECK (minutes >= 0)",
        "ALTER TABLE impressions ADD COLUMN smell TEXT NOT NULL DEFAULT ''",
        "ALTER TABLE impressions ADD COLUMN details TEXT NOT NULL DEFAULT '{}'",
    ],
    # 6: everything else that a maker owns
    [
        *_table(
            "own_lots",
            """oil TEXT NOT NULL, lot TEXT NOT NULL, analysis TEXT NOT NULL,
  kept_at TEXT NOT NULL""",
        ),
        *_table(
            "purchases",
            """material TEXT NOT NULL, bottle_ml REAL CHECK (bottle_ml > 0),
  bottles INTEGER NOT NULL CHECK (bottles > 0), price REAL CHECK (price > 0), currency TEXT,
  bought_on TEXT, opened_on TEXT, entered_at TEXT NOT NULL""",
        ),
        *_table(
            "counts",
            """material TEXT NOT NULL, left_ml REAL NOT NULL CHECK (left_ml >= 0),
  counted_on TEXT, entered_at TEXT NOT NULL""",
        ),
        *_table(
            "droppers",
            """material TEXT NOT NULL, drops_per_ml REAL NOT NULL CHECK (drops_per_ml > 0),
  how_measured TEXT NOT NULL, entered_at TEXT NOT NULL""",
        ),
        *_table("packs", "document TEXT NOT NULL, kept_at TEXT NOT NULL"),
        *_table("makers", "maker TEXT NOT NULL, contact TEXT NOT NULL, kept_at TEXT NOT NULL"),
        *_table("classes", "name TEXT NOT NULL, document TEXT NOT NULL, kept_at TEXT NOT NULL"),
        *_table("older_files", "file TEXT NOT NULL, digest TEXT NOT NULL"),
    ],
    # 7: on which computer what carries a number for people was made
    [
        f"ALTER TABLE {table} ADD COLUMN computer TEXT NOT NULL DEFAULT ''"
        for table in ("versions", "batches")
    ],
    # 8: what was weighed at home, for the clock of the forecasts
    _table(
        "weighings",
        """kind TEXT NOT NULL CHECK (kind IN ('strokes', 'drop')), document TEXT NOT NULL,
  weighed_at TEXT NOT NULL""",
    ),
    # 9: the blend in hand and the line of its steps, which are rewritten
    [
        """CREATE TABLE hand (
  id INTEGER PRIMARY KEY CHECK (id = 1), turn INTEGER NOT NULL CHECK (turn > 0),
  document TEXT NOT NULL, step INTEGER NOT NULL CHECK (step >= 0)
) STRICT""",
        """CREATE TABLE hand_steps (
  id INTEGER PRIMARY KEY CHECK (id > 0), turn INTEGER NOT NULL CHECK (turn > 0),
  changes TEXT NOT NULL, what TEXT NOT NULL, press TEXT NOT NULL, made_at TEXT NOT NULL
) STRICT""",
    ],
    # 10: own materials, and what was mixed of them to keep on the shelf
    [
        *_table(
            "own_materials", "name TEXT NOT NULL, document TEXT NOT NULL, kept_at TEXT NOT NULL"
        ),
        *_table(
            "makings",
            """material TEXT NOT NULL, lot TEXT NOT NULL, made_on TEXT NOT NULL,
  volume_ml REAL NOT NULL CHECK (volume_ml > 0), taken_ml TEXT NOT NULL,
  price REAL CHECK (price > 0), currency TEXT, note TEXT NOT NULL""",
        ),
    ],
    # 11: what was answered at a tray: loudness, duels, blind tests
    _table(
        "answers",
        """kind TEXT NOT NULL CHECK (kind IN ('loudness', 'duel', 'blind')), nose TEXT NOT NULL,
  document TEXT NOT NULL, answered_at TEXT NOT NULL""",
    ),
    # 12: papers of a batch, how a bottle on the shelf is stored, who got which bottle
    [
        *_table(
            "batch_papers",
            """batch_id TEXT NOT NULL,
  kind TEXT NOT NULL CHECK (kind IN ('record', 'release', 'stability')),
  document TEXT NOT NULL, dated_on TEXT NOT NULL""",
            {"batch_id": "batches"},
        ),
        *_table(
            "storing", "material TEXT NOT NULL, document TEXT NOT NULL, kept_at TEXT NOT NULL"
        ),
        *_table(
            "handovers",
            """batch_id TEXT NOT NULL, person TEXT NOT NULL,
  way TEXT NOT NULL CHECK (way IN ('gift', 'sale', 'tester')),
  bottles INTEGER NOT NULL CHECK (bottles > 0), handed_on TEXT NOT NULL,
  document TEXT NOT NULL""",
            {"batch_id": "batches"},
        ),
    ],
    # 13: people, who are rewritten and can be forgotten; an id that was forgotten stays so
    [
        """CREATE TABLE people (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32), turn INTEGER NOT NULL CHECK (turn > 0),
  document TEXT NOT NULL, forgotten INTEGER NOT NULL CHECK (forgotten IN (0, 1)),
  changed_at TEXT NOT NULL, CHECK (NOT forgotten OR document = '{}')
) STRICT""",
        """CREATE TRIGGER people_stay_forgotten BEFORE UPDATE ON people
WHEN NEW.id <> OLD.id OR OLD.forgotten > NEW.forgotten
BEGIN SELECT raise(ABORT, 'a person was forgotten'); END""",
        """CREATE TRIGGER people_no_delete BEFORE DELETE ON people WHEN OLD.forgotten
BEGIN SELECT raise(ABORT, 'a person was forgotten'); END""",
        """CREATE TRIGGER people_no_replace BEFORE INSERT ON people
WHEN EXISTS (SELECT 1 FROM people WHERE id = NEW.id)
BEGIN SELECT raise(ABORT, 'a person is there already'); END""",
    ],
)
NEWEST = len(STEPS)


def version_of(connection: sqlite3.Connection) -> int:
    """How many steps a journal has behind it; 0 for an empty file."""
    version: int = connection.execute("PRAGMA user_version").fetchone()[0]
    return version


def take_steps(connection: sqlite3.Connection, up_to: int = NEWEST) -> None:
    """Run the steps a journal lacks: all of them or, should anything fail, none.

    Parameters
    ----------
    connection : sqlite3.Connection
        In autocommit mode, with no transaction open.
    up_to : int
        The last step to run.
    """
    if version_of(connection) >= up_to:
        return
    with connection:  # which commits, or rolls back
        connection.execute("BEGIN IMMEDIATE")
        # Asked again behind the lock: another notebook may have run them in the meantime
        for step in STEPS[version_of(connection) : up_to]:
            for statement in step:
                connection.execute(statement)
        connection.execute(f"PRAGMA user_version = {max(up_to, version_of(connection))}")
