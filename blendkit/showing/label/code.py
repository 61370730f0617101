"""QR code of a label: an address as dark rectangles, with its empty border.

Lengths are millimetres of paper. The symbol is that of ISO/IEC 18004, of error correction M.
"""

from __future__ import annotations

from functools import cache
from itertools import groupby
from typing import NamedTuple

import segno

MODULE_MM = 0.4
QUIET_MODULES = 4  # ISO/IEC 18004 as GS1 UK restates it
BASIS = (
    "QR code with modules of 0.4 mm, and 4 of them blank on every side: GS1 General "
    "Specifications, section 5.12.3.1, ask for 0.396 to 0.990 mm at a shop's till (seen quoted "
    "by GS1 UK, edition not given; part-read); no published least size for a phone was found."
)


class Code(NamedTuple):
    """A QR code.

    Attributes
    ----------
    text : str
    side_mm : float
        With the empty border of 4 modules on each side.
    bars : tuple of (float, float, float, float)
        Left, top, width and height of each run of dark modules.
    left_mm, top_mm : float
        Corner of the border.
    """

    text: str
    side_mm: float
    bars: tuple[tuple[float, float, float, float], ...]
    left_mm: float = 0.0
    top_mm: float = 0.0

    def at(self, left_mm: float, top_mm: float) -> Code:
        """The code with its corner at a place of the sticker."""
        bars = tuple((left_mm + x, top_mm + y, wide, tall) for x, y, wide, tall in self.bars)
        return self._replace(bars=bars, left_mm=left_mm, top_mm=top_mm)


@cache
def make_code(text: str) -> Code:
    """Encode an address."""
    rows = segno.make_qr(text, error="m", boost_error=False).matrix
    bars = []
    for y, row in enumerate(rows, QUIET_MODULES):
        x = QUIET_MODULES
        for dark, run in groupby(row):
            wide = len(list(run))
            if dark:
                bars.append((x * MODULE_MM, y * MODULE_MM, wide * MODULE_MM, MODULE_MM))
            x += wide
    return Code(text, (len(rows) + 2 * QUIET_MODULES) * MODULE_MM, tuple(bars))
