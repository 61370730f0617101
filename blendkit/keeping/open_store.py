"""The one open journal that all panels share, and what earlier days left in files.

A panel must work without the journal: `CannotJournal` is for its message line, never a reason
not to open.
"""

from __future__ import annotations

from blendkit.journal.backups import journal_path
from blendkit.journal.kept_blends import import_kept_blends
from blendkit.journal.store import Journal, open_journal
from blendkit.keeping.nose_logs import import_kept_logs

_open: list[Journal] = []


def the_journal() -> Journal:
    """The journal of the maker's folder, opened on first use and kept open.

    Raises
    ------
    CannotJournal
        With a way on.
    """
    path = journal_path()
    if _open and (_open[0].path != path or not path.exists()):
        let_go()
    if not _open:
        journal = open_journal()
        take_over(journal)
        _open.append(journal)
    return _open[0]


def take_over(journal: Journal) -> None:
    """Bring blends and nose logs of earlier days, which were files, into the journal."""
    import_kept_blends(journal)
    import_kept_logs(journal)


def let_go() -> None:
    """Close the shared journal; the next use opens and checks it anew."""
    while _open:
        _open.pop().close()


def share(journal: Journal) -> None:
    """Share this journal from now on, in place of the one before."""
    let_go()
    _open.append(journal)
