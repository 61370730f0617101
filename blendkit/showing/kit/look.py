"""One look for every picture, chart, sheet and panel.

The notes differ in lightness first and in hue second, so that they stay apart for colour-blind
eyes, on a pale projector and in a greyscale print; every picture also says in words what its
colours say.
"""

from types import MappingProxyType

FONT = "system-ui, 'Segoe UI', 'DejaVu Sans', sans-serif"
INK = "#2a2521"
FAINT_INK = "#6b625a"
PAPER = "#fffdf8"
RULE = "#cfc5b8"
EDGE = "#857a6f"  # of what is typed in or dragged: over 3 to 1 on paper (WCAG 2.2, 1.4.11)
ALERT = "#9c2f1d"
ACCENT = "#2f5d62"
CAUTION = "#8a5a00"

NOTE_COLOURS = MappingProxyType(
    {"base": "#5a3d4f", "middle": "#b5674d", "top": "#f0c557", "carrier": "#f6f0e0"}
)
NOTE_WORDS = MappingProxyType(
    {"base": "base note", "middle": "middle note", "top": "top note", "carrier": "carrier"}
)
