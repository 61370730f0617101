"""Tables of what next, as HTML."""

from __future__ import annotations

from collections.abc import Iterable

from blendkit.choosing.tonight import Tonight
from blendkit.showing.kit.rendering import table

_MARKS = ("●", "◐")


def tonight_table(rows: Iterable[tuple[str, Tonight]], nothing: str) -> str:
    """Kept blends by name, and what is missing for one bottle of each."""
    cells = [
        (_MARKS[len(each.short)] if len(each.short) < len(_MARKS) else "○", name, each.words)
        for name, each in rows
    ]
    caption = "● all there · ◐ one short · ○ more short"
    return table(caption, ("", "Kept blend", "For one bottle"), cells, nothing)
