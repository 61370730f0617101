"""Photos that the journal knows the place of, each small, with its caption and its path."""

from __future__ import annotations

import base64
from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

from blendkit.journal.photos import on_another_computer, photo_file, picture_kind
from blendkit.journal.records import Photo
from blendkit.showing.kit.rendering import render

MOST_BYTES = 4_000_000  # of one picture: it travels to the page whole
MOST_PICTURES = 3


class Shown(NamedTuple):
    """A picture to show, or why there is none.

    Attributes
    ----------
    source : str
        A data URI; empty where there is no picture.
    why_not : str
        A sentence; empty where there is a picture.
    """

    source: str
    why_not: str


_TOO_MANY = Shown("", f"Not shown: only the newest {MOST_PICTURES} are.")


def shown(photo: Photo, folder: Path) -> Shown:
    """A photo as a picture that a page can hold within itself.

    Parameters
    ----------
    photo : Photo
        Only a PNG or JPEG, by its first bytes and not by its name, is shown.
    folder : Path
        The maker's folder, where an import puts photos.
    """
    path = photo_file(photo, folder)
    if path is None and on_another_computer(photo.path):
        return Shown("", "Not shown: it lies on another computer.")
    if path is None:
        return Shown("", "The file is not there any more, or its disk is not plugged in.")
    try:
        with path.open("rb") as file:
            content = file.read(MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        told = getattr(error, "strerror", None) or error
        return Shown("", f"Not shown: it cannot be read ({told}).")
    kind = picture_kind(content)
    if kind is None:
        return Shown("", "Not shown: it is neither a PNG nor a JPEG picture.")
    if len(content) > MOST_BYTES:
        return Shown("", f"Not shown: it is larger than {MOST_BYTES / 1e6:g} MB.")
    return Shown(f"data:{kind[0]};base64,{base64.b64encode(content).decode('ascii')}", "")


def photo_list(photos: Iterable[Photo], folder: Path) -> str:
    """Photos with their captions, newest first; the newest few as pictures."""
    known = sorted(photos, key=lambda one: one.turn, reverse=True)
    rows = [
        {
            "caption": photo.caption,
            "alternative": photo.caption or Path(photo.path).name,
            "when": f"{photo.taken_at:%Y-%m-%d %H:%M}",
            "path": photo.path,
            "shown": shown(photo, folder) if place < MOST_PICTURES else _TOO_MANY,
        }
        for place, photo in enumerate(known)
    ]
    return render("photos", rows=rows)
