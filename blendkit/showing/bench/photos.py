"""Photos in the journal, each small, with its caption and path."""

import base64
import itertools
from collections.abc import Iterable
from pathlib import Path

from blendkit.journal.photos import on_another_computer, photo_file, picture_kind
from blendkit.journal.records import Photo
from blendkit.showing.kit.rendering import render

MOST_BYTES = 4_000_000  # of one picture: it travels to the page whole
MOST_PICTURES = 3


_TOO_MANY = f"Not shown: only the newest {MOST_PICTURES} are."


def load_picture(photo: Photo, folder: Path) -> str:
    """Load a photo as a data URI for the page, or a sentence that says why not.

    Parameters
    ----------
    photo : Photo
        Only a PNG or JPEG, by its first bytes and not by its name, is shown.
    folder : Path
        The maker's folder, where an import puts photos.
    """
    path = photo_file(photo, folder)
    if path is None and on_another_computer(photo.path):
        return "Not shown: it is on another computer."
    if path is None:
        return "The file is not there any more, or its disk is not plugged in."
    try:
        with path.open("rb") as file:
            content = file.read(MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        return f"Not shown: it cannot be read ({reason})."
    kind = picture_kind(content)
    if kind is None:
        return "Not shown: it is neither a PNG nor a JPEG picture."
    if len(content) > MOST_BYTES:
        return f"Not shown: it is larger than {MOST_BYTES / 1e6:g} MB."
    return f"data:{kind[0]};base64,{base64.b64encode(content).decode('ascii')}"


def photo_list(photos: Iterable[Photo], folder: Path) -> str:
    """List photos with their captions, newest first; the newest few as pictures."""
    newest_first = sorted(photos, key=lambda one: one.turn, reverse=True)
    pictures = [load_picture(photo, folder) for photo in newest_first[:MOST_PICTURES]]
    rows = itertools.zip_longest(newest_first, pictures, fillvalue=_TOO_MANY)
    return render("photos", rows=list(rows), Path=Path)
