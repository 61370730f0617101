"""Photos of the journal as files: where each is, and which files count as a picture."""

from pathlib import Path

from blendkit.journal.records import Photo

FOLDER = "photos"
# The first bytes of a file: PNG, ISO/IEC 15948, section 5.2; JPEG, ITU-T T.81, Annex B
PICTURES = {
    b"\x89PNG\r\n\x1a\n": ("image/png", ".png"),
    b"\xff\xd8\xff": ("image/jpeg", ".jpg"),
}


def picture_kind(content: bytes) -> tuple[str, str] | None:
    """Media type and file ending by the first bytes; None where it is no picture known here."""
    kinds = [kind for start, kind in PICTURES.items() if content.startswith(start)]
    return kinds[0] if kinds else None


def on_another_computer(path: str) -> bool:
    """True where merely looking at a path would greet another computer."""
    return path.startswith(("\\\\", "//"))


def photo_file(photo: Photo, folder: Path) -> Path | None:
    """The file of a photo: where its path says, else where an import put it.

    Parameters
    ----------
    photo : Photo
    folder : Path
        The maker's folder.

    Returns
    -------
    Path or None
        None where there is no such file.
    """
    places = [folder / FOLDER / f"{photo.id}{ending}" for _, ending in PICTURES.values()]
    if not on_another_computer(photo.path):
        places.insert(0, Path(photo.path))
    try:
        return next((place for place in places if place.is_file()), None)
    except (OSError, ValueError):
        return None
