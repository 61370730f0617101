"""Photos of a bottle: their paths are kept, the files remain where they are."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import ipywidgets as widgets

from blendkit.foundation.errors import BadNumber, Problem, near_miss, quoted
from blendkit.journal.records import BatchRow, Photo
from blendkit.keeping.open_store import the_journal
from blendkit.panels.bench.tray import Guard
from blendkit.panels.kit import parts
from blendkit.showing.bench.photos import photo_list


class BadPhoto(BadNumber):
    """A photo whose path cannot be kept."""

    heading = "This photo's path was not kept"


class PhotoBox:
    """Boxes for path and caption, and the photos of the chosen bottle.

    Parameters
    ----------
    guard : callable
        Wraps callbacks, as `Message.guard`.
    """

    def __init__(self, guard: Guard) -> None:
        self._batch: BatchRow | None = None
        self.path = parts.text_box("Photo file", width="440px", placeholder="… .jpg or .png")
        self.caption = parts.text_box("Caption", width="440px", placeholder="what it shows")
        self.list = widgets.HTML()
        self.view = parts.column(
            parts.heading("Photos of this bottle"),
            self.path,
            self.caption,
            parts.row(parts.button("Add photo", guard(self.keep))),
            parts.hint(
                "Only its path is kept; the file remains where it is. Moved or renamed, it is "
                "no longer found."
            ),
            self.list,
        )

    def show(self, batch: BatchRow | None) -> None:
        """Show the photos of a bottle; `CannotJournal` where they cannot be looked up."""
        self._batch = batch
        photos = the_journal().all(Photo, batch_id=batch.id) if batch else []
        self.list.value = photo_list(photos, the_journal().path.parent) if batch else ""

    def keep(self) -> None:
        """Record the path of a photo, for the chosen bottle and its version.

        Raises
        ------
        BadPhoto
            No bottle is chosen, or no file is there.
        CannotJournal
        """
        batch = self._batch
        if batch is None:
            needed = "a bottle that was kept as a version on this page"
            raise BadPhoto([Problem("bottle", "none", needed)])
        path, taken_at = find_photo(self.path.value)
        the_journal().add(
            Photo(
                path=path,
                taken_at=taken_at,
                caption=self.caption.value.strip(),
                version_id=batch.version_id,
                batch_id=batch.id,
            )
        )
        self.path.value = self.caption.value = ""
        self.show(batch)


def find_photo(typed: str) -> tuple[str, datetime]:
    """Find a file: its absolute path, and the time it was last written.

    Parameters
    ----------
    typed : str
        As typed, or as pasted in quotation marks; "~" is the maker's home folder.

    Raises
    ------
    BadPhoto
        There is no such file.
    """
    text = typed.strip()
    if len(text) > 1 and text[0] == text[-1] == '"':  # as some file managers copy it
        text = text[1:-1]
    needed = "the path of a file on the computer that runs this workbook"
    if not text:
        raise BadPhoto([Problem("photo file", "nothing", needed)])
    path, why = Path(text), ""
    try:
        path = path.expanduser().absolute()
        if path.is_file():
            return str(path), datetime.fromtimestamp(path.stat().st_mtime).astimezone()
        why = "a folder" if path.is_dir() else "where no file is"
    except (OSError, OverflowError, RuntimeError, ValueError) as error:
        why = f"which cannot be looked at ({getattr(error, 'strerror', None) or error})"
    got = f"{quoted(typed)}, {why}"
    raise BadPhoto([Problem("photo file", got, needed, _nearest(path))])


def _nearest(path: Path) -> str:
    """Suggest the file of nearest name in the folder, or another place."""
    try:
        hint = near_miss(path.name, [each.name for each in path.parent.iterdir()])
    except (OSError, ValueError):
        hint = ""
    return hint or "Check whether it was moved or renamed, or is on a disk not plugged in."
