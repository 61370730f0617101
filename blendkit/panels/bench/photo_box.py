"""Where the photos of a bottle lie: their places are kept, the files stay where they are."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import ipywidgets as widgets

from blendkit.foundation.errors import BadNumber, Problem, near_miss, quoted
from blendkit.journal.records import BatchRow, Photo
from blendkit.keeping.open_store import the_journal
from blendkit.panels.bench.tray import Guard
from blendkit.panels.kit.parts import button, heading, text_box
from blendkit.showing.bench.photos import photo_list


class BadPhoto(BadNumber):
    """A photo whose place cannot be kept."""

    heading = "This photo's place was not kept"


class PhotoBox:
    """A box for a path, one for a caption, and the photos of the chosen bottle.

    Parameters
    ----------
    guard : callable
        Wraps callbacks, as `Message.guard`.
    """

    def __init__(self, guard: Guard) -> None:
        self._batch: BatchRow | None = None
        self.path = text_box("Photo's file", width="440px", placeholder="… .jpg or .png")
        self.caption = text_box("Caption", width="440px", placeholder="what it shows")
        self.list = widgets.HTML()
        self.view = widgets.VBox(
            [
                heading("Photos of this bottle"),
                self.path,
                self.caption,
                widgets.HBox([button("Keep this photo's place", guard(self.keep))]),
                widgets.HTML(
                    '<p class="bk-faint">Only its place is written down; the file itself '
                    "stays where it is. Moved or renamed, it is no longer found.</p>"
                ),
                self.list,
            ]
        )

    def show(self, batch: BatchRow | None) -> None:
        """Show the photos of a bottle; `CannotJournal` where they cannot be looked up."""
        self._batch = batch
        photos = the_journal().all(Photo, batch_id=batch.id) if batch else []
        self.list.value = photo_list(photos, the_journal().path.parent) if batch else ""

    def keep(self) -> None:
        """Write down where the photo lies, for the chosen bottle and its version.

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
        path, taken_at = found(self.path.value)
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


def found(typed: str) -> tuple[str, datetime]:
    """Where a file lies, from the root of its disk, and when it was last written.

    Parameters
    ----------
    typed : str
        As typed, or as pasted in quotation marks; "~" is the maker's home folder.

    Raises
    ------
    BadPhoto
        There is no such file.
    """
    wished = typed.strip()
    if len(wished) > 1 and wished[0] == wished[-1] == '"':  # as some file managers copy it
        wished = wished[1:-1]
    needed = "the path of a file on the computer that runs this workbook"
    if not wished:
        raise BadPhoto([Problem("photo's file", "nothing", needed)])
    path, why = Path(wished), ""
    try:
        path = path.expanduser().absolute()
        if path.is_file():
            return str(path), datetime.fromtimestamp(path.stat().st_mtime).astimezone()
        why = "a folder" if path.is_dir() else "where no file is"
    except (OSError, OverflowError, RuntimeError, ValueError) as error:
        why = f"which cannot be looked at ({getattr(error, 'strerror', None) or error})"
    got = f"{quoted(typed)}, {why}"
    raise BadPhoto([Problem("photo's file", got, needed, _nearest(path))])


def _nearest(path: Path) -> str:
    """The file of nearest name in the folder, or where else to look."""
    try:
        hint = near_miss(path.name, [each.name for each in path.parent.iterdir()])
    except (OSError, ValueError):
        hint = ""
    return hint or "Look whether it was moved or renamed, or lies on a disk not plugged in."
