"""The panels of the notebooks; the only part of blendkit that talks to Jupyter.

Each function makes one panel, ready to be the last line of a cell. A panel is a plain object:
`panel.blend` is the blend on it and `panel.show(blend)` puts another one there.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from blendkit.panels.first_bottle import FirstBottlePanel


def first_bottle(document: Mapping[str, Any] | None = None) -> FirstBottlePanel:
    """From a ratio to a bottle: drops, picture, bench sheet, sniff test."""
    return FirstBottlePanel(document)


__all__ = ["first_bottle"]
