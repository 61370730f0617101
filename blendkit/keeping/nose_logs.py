"""Nose logs in the journal: each smell is an impression of the version that was worn.

Smells of one wearing carry its mark and the conditions it was worn in, so that they come back
together as the log they were.
"""

import contextlib
from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any

from blendkit.evaporation.nose_entries import NoseLog, read_log
from blendkit.foundation.errors import BlendkitError
from blendkit.journal.insertion import new_id
from blendkit.journal.records import BatchRow, Impression, Version
from blendkit.journal.store import Journal, now
from blendkit.keeping.versions import keep_version

WEAR = "wear"
READ = (Version, BatchRow, Impression)  # all that `kept_logs` goes by


def keep_log(
    journal: Journal,
    document: Mapping[str, Any],
    at: datetime | None = None,
    source: str = "",
    ids: Iterator[str] | None = None,
) -> NoseLog:
    """Check a nose log and write it into the journal; see `nose_log.read_log`.

    Parameters
    ----------
    journal : Journal
    document : mapping
    at : datetime, optional
        When it was smelt; now where left out.
    source : str, optional
        The file it was taken over from.
    ids : iterator of str, optional
        For the wearing and its smells; drawn where left out.

    Raises
    ------
    BadBlend, BadNumber
        The log is broken. Nothing was written.
    CannotJournal
        It could not be written.
    """
    log = read_log(document)
    kept, _ = keep_version(journal, log.blend, "worn, see its nose log")
    ids = ids or iter(new_id, "")
    details = {"wearing": next(ids), "conditions": dict(document.get("conditions", {}))}
    details |= {"file": source} if source else {}
    journal.add_under(
        (
            next(ids),
            Impression(
                kind=WEAR,
                happened_at=at or now(),
                group=smell.group,
                minutes=smell.minutes,
                smell=smell.what if isinstance(smell.what, str) else "",
                strength=None if isinstance(smell.what, str) else smell.what,
                version_id=kept.version.id,
                details=details,
            ),
        )
        for smell in log.smells
    )
    return log


def kept_logs(journal: Journal) -> list[NoseLog]:
    """Every wearing in the journal that the fade can learn from, newest first."""
    documents = {version.id: version.document for version in journal.all(Version)}
    made_of = {batch.id: batch.version_id for batch in journal.all(BatchRow)}
    wearings: dict[tuple[str, str], dict[str, Any]] = {}
    for impression in journal.all(Impression, kind=WEAR):
        version = impression.version_id or made_of.get(impression.batch_id or "", "")
        what = impression.smell or impression.strength
        if version not in documents or impression.minutes is None or what in ("", None):
            continue
        conditions = impression.details.get("conditions", {})
        mark = impression.details.get("wearing") or impression.id
        log = wearings.setdefault(
            (version, str(mark)),
            {"blend": documents[version], "conditions": conditions, "smells": []},
        )
        log["smells"].append(
            {"group": impression.group, "minutes": impression.minutes, "what": what}
        )
    logs = []
    for document in reversed(wearings.values()):
        # a damaged log must not take the others with it
        with contextlib.suppress(BlendkitError):
            logs.append(read_log(document))
    return logs
