"""Blends in the journal: every blend by its name, each with its versions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from blendkit.blend.blend import Blend
from blendkit.journal.records import BlendRow, Version
from blendkit.journal.store import Journal

NO_NAME = "Untitled blend"


@dataclass(frozen=True)
class KeptVersion:
    """A version with the name of its blend.

    Attributes
    ----------
    name : str
        As people see it; never empty.
    version : Version
    """

    name: str
    version: Version

    @property
    def label(self) -> str:
        """Such as "Quay · version 3 · 2026-11-25"."""
        return f"{self.name} · {self.short_label}"

    @property
    def short_label(self) -> str:
        """Such as "version 3 · 2026-11-25", for places that show the name already."""
        made = self.version.made_at.astimezone()
        return f"version {self.version.number} · {made:%Y-%m-%d}"

    def blend(self) -> Blend:
        """The version as a checked blend.

        Raises
        ------
        BadBlend
            It names a material that is no longer on record.
        """
        return Blend.from_dict(self.version.document)


def kept_versions(journal: Journal) -> list[KeptVersion]:
    """Every version in the journal, newest first by turn: a clock may be wrong."""
    names = {blend.id: blend.name for blend in journal.all(BlendRow)}
    found = [
        KeptVersion(names[version.blend_id] or NO_NAME, version)
        for version in journal.all(Version)
        if version.blend_id in names
    ]
    return sorted(found, key=lambda kept: kept.version.turn)[::-1]


def keep_version(journal: Journal, blend: Blend, why: str = "") -> tuple[KeptVersion, bool]:
    """Keep a blend as the next version of the blend of its name.

    Parameters
    ----------
    journal : Journal
    blend : Blend
        Its name says which blend it is a version of; one without a name begins a blend.
    why : str, optional
        What was meant by it.

    Returns
    -------
    kept : KeptVersion
    is_new : bool
        False where the very same document was kept before; nothing was written then.

    Raises
    ------
    CannotJournal
        It could not be kept; nothing was changed.
    """
    document, named = blend.to_dict(), blend.name or NO_NAME
    of_name = [kept for kept in kept_versions(journal) if kept.name == named]
    same = _same(of_name, document)
    if same:
        return same, False
    if of_name and blend.name:
        version = journal.new_version(of_name[0].version, document, why)
    else:
        version = journal.new_blend(blend.name, document, why)
    return KeptVersion(named, version), True


def _same(kept: list[KeptVersion], document: dict[str, Any]) -> KeptVersion | None:
    return next((one for one in kept if one.version.document == document), None)
