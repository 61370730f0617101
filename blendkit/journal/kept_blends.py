"""Bringing blends that were kept as files into the journal, as first versions.

The files stay as they are. What came in once is known by its file name and its document and
does not come in again, also when it was corrected or withdrawn since.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from blendkit.foundation import keep
from blendkit.journal.ledger import insert
from blendkit.journal.records import BlendRow, Version
from blendkit.journal.rows import written
from blendkit.journal.store import Journal

KEPT_AS = "blends"


@dataclass(frozen=True)
class KeptImport:
    """What came of bringing kept blends in.

    Attributes
    ----------
    added : int
        Blends that are in the journal now and were not before.
    already : int
        Blends that were in it.
    unreadable : tuple of str
        What stood in the way of others, in words.
    """

    added: int
    already: int
    unreadable: tuple[str, ...]


def import_kept_blends(journal: Journal) -> KeptImport:
    """Bring every kept blend in that is not in yet; see the module."""
    unreadable = []
    documents: dict[Path, dict[str, Any]] = {}
    for file in reversed(keep.saved(KEPT_AS).values()):  # the oldest first
        try:
            documents[file] = keep.load(file)
            json.dumps(documents[file], allow_nan=False)
        except (keep.CannotKeep, ValueError, RecursionError) as error:
            unreadable.append(str(error))
            documents.pop(file, None)
    added = 0
    with journal.transaction() as connection:
        select = "SELECT why, document FROM versions WHERE number = 1"
        there = {(row["why"], row["document"]) for row in connection.execute(select)}
        for file, document in documents.items():
            made_at = datetime.fromtimestamp(file.stat().st_mtime).astimezone()
            first = Version(blend_id="", number=1, document=document, made_at=made_at,
                            why=f"kept as {file.name}")  # fmt: skip
            row = written(first)
            if (row["why"], row["document"]) in there:
                continue
            name = document.get("name")
            blend = BlendRow(name=name if isinstance(name, str) else file.stem, made_at=made_at)
            kept = insert(connection, BlendRow, written(blend))
            insert(connection, Version, {**row, "blend_id": kept.id})
            added += 1
    return KeptImport(added, len(documents) - added, tuple(unreadable))
