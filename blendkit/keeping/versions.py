"""Blends in the journal: every blend by its name, each with its versions."""

import textwrap
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from blendkit.blend.blend import Blend
from blendkit.journal.records import BatchRow, BlendRow, Version
from blendkit.journal.store import Journal
from blendkit.materials.catalogue import pinned

NO_NAME = "Untitled blend"
_LONGEST_REASON = 40  # characters of a line to choose


@dataclass(frozen=True)
class KeptVersion:
    """A version with the name of its blend.

    Attributes
    ----------
    name : str
        As people see it; never empty.
    version : Version
    number : int
        As people see it: two versions of a blend that were made on two computers and count
        alike are numbered in the order of writing.
    computer : str
        Where versions of this blend come from several computers, the one it was made on.
    parent : int
        Number of the version it came from; 0 for the first.
    """

    name: str
    version: Version
    number: int = 1
    computer: str = ""
    parent: int = 0

    @property
    def label(self) -> str:
        """Such as "Quay · version 3 · 2026-11-25"."""
        return f"{self.name} · {self.short_label}"

    @property
    def listed(self) -> str:
        """The label with where it came from and the reason, for lists to choose from."""
        branch = f" from version {self.parent}" if 0 < self.parent < self.number - 1 else ""
        reason = textwrap.shorten(self.version.why, _LONGEST_REASON, placeholder=" …")
        return f"{self.label}{branch} · {reason}" if reason else f"{self.label}{branch}"

    @property
    def short_label(self) -> str:
        """Such as "version 3 · 2026-11-25", for places that show the name already."""
        made = self.version.made_at.astimezone()
        on = f" · {self.computer}" if self.computer else ""
        return f"version {self.number} · {made:%Y-%m-%d}{on}"

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
    of_blend: dict[str, list[Version]] = {}
    for version in journal.all(Version):
        if version.blend_id in names:
            of_blend.setdefault(version.blend_id, []).append(version)
    found = [
        kept
        for blend_id, versions in of_blend.items()
        for kept in _numbered(names[blend_id] or NO_NAME, versions)
    ]
    return sorted(found, key=lambda kept: (kept.version.turn, kept.version.id))[::-1]


def _numbered(name: str, versions: list[Version]) -> Iterator[KeptVersion]:
    """Versions of one blend under numbers that nobody sees twice."""
    several = len({version.computer for version in versions}) > 1
    last, numbers = 0, dict[str | None, int]()
    for version in sorted(versions, key=lambda each: (each.number, each.turn, each.id)):
        numbers[version.id] = last = max(version.number, last + 1)
        computer = version.computer if several else ""
        yield KeptVersion(name, version, last, computer, numbers.get(version.parent_id, 0))


def lot_names(journal: Journal) -> dict[str, str]:
    """The lot of each batch, by its id; with its computer where two made the same lot."""
    batches = journal.all(BatchRow)
    often = Counter(batch.lot for batch in batches)
    return {
        batch.id: f"{batch.lot} ({batch.computer or 'another computer'})"
        if often[batch.lot] > 1
        else batch.lot
        for batch in batches
    }


def keep_version(
    journal: Journal, blend: Blend, why: str = "", parent: str | None = None
) -> tuple[KeptVersion, bool]:
    """Keep a blend as the next version of the blend of its name.

    Parameters
    ----------
    journal : Journal
    blend : Blend
        Its name says which blend it is a version of; one without a name begins a blend.
    why : str, optional
        What was meant by it.
    parent : str, optional
        Id of the version it came from, where it is one of the same blend; else the newest is.

    Returns
    -------
    kept : KeptVersion
    is_new : bool
        False where the very same document was kept before; nothing was written then.
        What is kept names the versions of own materials that it was made with.

    Raises
    ------
    CannotJournal
        It could not be kept; nothing was changed.
    """
    document, named = with_versions(blend.to_dict()), blend.name or NO_NAME
    of_name = [kept for kept in kept_versions(journal) if kept.name == named]
    for kept in of_name:
        if kept.version.document == document:
            return kept, False
    if of_name and blend.name:
        came_from = next((one for one in of_name if one.version.id == parent), of_name[0])
        version = journal.new_version(came_from.version, document, why)
    else:
        version = journal.new_blend(blend.name, document, why)
    new = next((one for one in kept_versions(journal) if one.version.id == version.id), None)
    return new or KeptVersion(named, version, version.number), True


def with_versions(document: Mapping[str, Any]) -> dict[str, Any]:
    """A blend document whose ids of own materials name their present versions."""
    found = dict(document)
    for key in {"oils", "carriers"} & document.keys():
        found[key] = [{**each, "id": pinned(each["id"])} for each in document[key]]
    if isinstance(sizes := document.get("drops_per_ml"), Mapping):
        found["drops_per_ml"] = {pinned(name): size for name, size in sizes.items()}
    return found
