"""The whole store in one file and back: to move to another computer, or to share blends."""

from pathlib import Path


def export_store(path: str | Path, people: bool = True) -> Path:
    """Write what a maker owns to a new zip file.

    Parameters
    ----------
    path : str or Path
        The file to write; nothing may be there yet.
    people : bool, optional
        True for a *Move*: everything, with people (who got a bottle and what they reported,
        likes, classes, makers' details), what was smelt, and the photos' files. False for a
        *Share*: blends with their versions and own lots, without people, health, stock and
        prices; blends made by learners in a class and words on why a blend was made are
        left out, names of blends are not.

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    CannotJournal
        The name is taken, or the file or the store cannot be written. Nothing was changed.
    """
    from blendkit.journal.exchange import export_journal
    from blendkit.keeping.open_store import the_journal

    return export_journal(the_journal(), Path(path).expanduser(), people=people).path


def import_store(path: str | Path) -> dict[str, int]:
    """Add what an export has and the maker's store has not; nothing is overwritten.

    Parameters
    ----------
    path : str or Path
        A zip file that `export_store` wrote.

    Returns
    -------
    dict of str to int
        Rows added, by table.

    Raises
    ------
    BadExchange
        The file is no export. Nothing was added.
    CannotJournal
        The store cannot be written. What was added before is whole; importing the file again
        adds the rest.
    """
    from blendkit.journal.merge import import_journal
    from blendkit.keeping.open_store import the_journal

    return import_journal(the_journal(), Path(path).expanduser())
