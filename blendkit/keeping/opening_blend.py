"""The blend that a panel opens with: the one kept last, or the invented example.

What was kept never keeps a panel from opening: a blend that cannot be used is passed by, and
that is said.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from blendkit.blend.blend import BlendLike, as_blend
from blendkit.foundation.data import example_document
from blendkit.foundation.errors import BlendkitError
from blendkit.journal.errors import CannotJournal
from blendkit.journal.records import Version
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.versions import KeptVersion, kept_versions


@dataclass(frozen=True)
class Opening:
    """Blend that a panel opens with, and a message on it.

    Attributes
    ----------
    document : mapping
        The blend.
    said : str
        Where it comes from, for the message line; empty where there is nothing to say.
    version : Version, optional
        The kept version that it is.
    is_example : bool
        Whether it is the invented example, which knows no dropper of the maker's.
    """

    document: Mapping[str, Any]
    said: str = ""
    version: Version | None = None
    is_example: bool = False


def opening_blend(blend: BlendLike | None = None) -> Opening:
    """The blend given; else the newest kept one that can be used; else the example."""
    if blend is not None:
        return Opening(as_blend(blend).to_dict())
    try:
        kept = kept_versions(the_journal())
    except CannotJournal as error:
        said = f"What you kept cannot be read, so this is the invented example. {error}"
        return Opening(example_document(), said, is_example=True)
    passed_by = ""
    for one in kept:
        try:
            return _opening_with(one, passed_by)
        except BlendkitError as error:
            passed_by = passed_by or f"{one.label}, kept last, cannot be used. {error} "
    said = f"{passed_by}So this is the invented example." if passed_by else ""
    return Opening(example_document(), said, is_example=True)


def _opening_with(kept: KeptVersion, passed_by: str) -> Opening:
    blend = kept.blend()
    which = "the newest kept blend that can be used" if passed_by else "the blend you kept last"
    said = f"{passed_by}Opened with {which}: {kept.label}."
    return Opening(blend.to_dict(), said, kept.version)
