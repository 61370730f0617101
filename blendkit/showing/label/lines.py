"""Lines of a label: words broken and placed with the widths of the printed font.

Lengths are millimetres of paper, as stickers are sold.
"""

import math
import re
from collections.abc import Iterator, Sequence
from itertools import groupby
from operator import attrgetter
from typing import NamedTuple

from blendkit.showing.label.font import ascent_in_em, line_in_em, width_in_em
from blendkit.showing.label.sizes import Sticker

EDGE_MM = 1.5  # empty margin, for a printer that feeds at an angle (own choice)
STEP_MM = 0.5
_HARD_SPACE = "\u00a0"
_JAR_LINES = 2.4  # height of the open jar, drawn around its months, in lines
# between letters only: a date or a lot is never divided, and a hard space never breaks
_BREAKS = re.compile(r"(?:\S|\u00a0)+?(?:(?<=[^\W\d_])[/-](?=[^\W\d_])|(?=[^\S\u00a0])|$)")


class Piece(NamedTuple):
    """Words of one part on one line.

    Attributes
    ----------
    key : str
        Their part, or "card" for the pointer to a card.
    text : str
    face : str
        "regular" or "bold".
    left_mm, baseline_mm, width_mm, size_mm : float
        From the upper left corner of the sticker.
    """

    key: str
    text: str
    face: str
    left_mm: float
    baseline_mm: float
    width_mm: float
    size_mm: float

    @property
    def top_mm(self) -> float:
        """Top of its tallest letter. [mm]"""
        return self.baseline_mm - ascent_in_em() * self.size_mm

    @property
    def line_mm(self) -> float:
        """Height of its line. [mm]"""
        return line_in_em() * self.size_mm

    @property
    def is_jar(self) -> bool:
        """True where it is shown in the sign of an open jar."""
        return is_jar(self.key, self.text)


class Word(NamedTuple):
    """A word of a part, or a piece of one after which a line may break."""

    key: str
    text: str
    face: str
    glued: bool  # no space before it


class Paragraph(NamedTuple):
    """Words in type of one size."""

    words: tuple[Word, ...]
    scale: float
    centred: bool


class Flow(NamedTuple):
    """Placed lines, and the words that are wider than the sticker."""

    pieces: tuple[Piece, ...]
    top_mm: float
    bottom_mm: float
    too_wide: tuple[Word, ...]


def words_of(key: str, text: str, face: str) -> Iterator[Word]:
    """Divide a text into words, also after slash or hyphen; a heading with colon is bold."""
    if is_jar(key, text):
        yield Word(key, f"{_HARD_SPACE}{text}{_HARD_SPACE}", face, glued=False)
        return
    if key == "contents":  # a number stays with its unit
        yield Word(key, text.replace(" ", _HARD_SPACE), face, glued=False)
        return
    head = text.find(":") if key in ("ingredients", "allergens") else -1
    last = -1
    for match in _BREAKS.finditer(text):
        weight = "bold" if match.end() <= head + 1 else face
        yield Word(key, match.group(), weight, glued=match.start() == last)
        last = match.end()


def add_dots(words: Sequence[Word]) -> Iterator[Word]:
    """Put a dot between the parts that share a line."""
    for before, word in zip([None, *words], words, strict=False):
        same = before is None or before.key == word.key
        if before is not None and not same and not is_jar(*before[:2]):
            yield Word(before.key, "·", word.face, glued=False)
        yield word


def fits(flow: Flow, sticker: Sticker) -> bool:
    """True where every line is within the sticker."""
    return not flow.too_wide and flow.bottom_mm <= floor_mm(sticker) + 1e-9


def holds_code(sticker: Sticker) -> bool:
    """True where the sticker has room for its QR code, and for a word next to it."""
    needed_mm = sticker.code_mm * (math.sqrt(2) if sticker.shape == "round" else 1)
    return needed_mm <= min(sticker.height_mm, sticker.width_mm) - 2 * EDGE_MM


def code_corner(sticker: Sticker, top_mm: float) -> tuple[float, float]:
    """Upper left corner of the QR code: right of the first lines, or below all in a circle."""
    if sticker.shape == "round":
        return (sticker.width_mm - sticker.code_mm) / 2, floor_mm(sticker)
    return sticker.width_mm - EDGE_MM - sticker.code_mm, top_mm


def floor_mm(sticker: Sticker) -> float:
    """Lowest end of the lines. [mm]"""
    if sticker.shape != "round" or not sticker.code_mm:
        return sticker.height_mm - EDGE_MM
    radius, code = sticker.height_mm / 2 - EDGE_MM, sticker.code_mm
    return sticker.height_mm / 2 + math.sqrt(radius**2 - code**2 / 4) - code


def _chord(sticker: Sticker, top_mm: float, bottom_mm: float, code_end_mm: float) -> float:
    """Width of the sticker for a line between two heights. [mm]"""
    if sticker.shape != "round":
        taken_mm = sticker.code_mm if top_mm < code_end_mm - 1e-9 else 0.0
        return sticker.width_mm - 2 * EDGE_MM - taken_mm
    radius, middle = sticker.width_mm / 2 - EDGE_MM, sticker.height_mm / 2
    away = max(abs(top_mm - middle), abs(bottom_mm - middle))
    return 2 * math.sqrt(radius**2 - away**2) if away < radius else 0.0


def flow_of(
    paragraphs: Sequence[Paragraph],
    sticker: Sticker,
    size_mm: float,
    top_mm: float,
    gap_mm: float = 0.0,
) -> Flow:
    """Place the lines one below the other; those without room as well, and count them."""
    pieces: list[Piece] = []
    too_wide: list[Word] = []
    y, start, spills = top_mm, None, False
    widest = sticker.width_mm - 2 * EDGE_MM
    code_end = top_mm + sticker.code_mm if sticker.shape != "round" else 0.0
    for paragraph in paragraphs:
        size = size_mm * paragraph.scale
        words = list(paragraph.words)
        while words:
            height = line_in_em() * size * (_JAR_LINES if is_jar(*words[0][:2]) else 1.0)
            room = _chord(sticker, y, y + height, code_end)
            count, width = _fill_line(words, size, room)
            lowest = max(sticker.height_mm / 2 - height, code_end)
            if count == 0 and y < lowest and room < widest:
                y += STEP_MM  # further down there is more room, in a circle and below a code
                continue
            if count == 0:
                spills, room = True, widest
                count, width = _fill_line(words, size, room)
            if count == 0:
                too_wide.append(words[0])
                count, width = 1, width_in_em(words[0].text, words[0].face) * size
            start = y if start is None else start
            is_centred = paragraph.centred or sticker.shape == "round"
            # a code takes its room on the right
            middle = sticker.width_mm if sticker.shape == "round" else room + 2 * EDGE_MM
            left = (middle - (width if is_centred else room)) / 2
            baseline = y + (height - line_in_em() * size) / 2 + ascent_in_em() * size
            pieces += _line(words[:count], left, baseline, size)
            words = words[count:]
            y += height
        y += gap_mm
    y -= gap_mm  # none below the last
    bottom = max(y, sticker.height_mm) if spills else max(y, code_end)
    return Flow(tuple(pieces), top_mm if start is None else start, bottom, tuple(too_wide))


def is_jar(key: str, text: str) -> bool:
    """True for a text shown in the sign of an open jar."""
    return key == "durability" and re.fullmatch(r"\s*\d+M\s*", text) is not None


def _fill_line(words: Sequence[Word], size_mm: float, room_mm: float) -> tuple[int, float]:
    """Number of words that fit on one line, and their width. [mm]"""
    width, count = 0.0, 0
    for word in words:
        added = width_in_em(word.text, word.face)
        if count and not word.glued:
            added += width_in_em(" ", word.face)
        if (width + added) * size_mm > room_mm:
            break
        width += added
        count += 1
    return count, width * size_mm


def _line(
    words: Sequence[Word], left_mm: float, baseline_mm: float, size_mm: float
) -> Iterator[Piece]:
    """Join the words of one line, those of one part and face together."""
    x, width = left_mm, 0.0
    for (key, face), group in groupby(words, key=attrgetter("key", "face")):
        run = list(group)
        if width:
            x += width + (0.0 if run[0].glued else width_in_em(" ", face) * size_mm)
        joined = "".join(("" if one.glued else " ") + one.text for one in run)
        text = joined.removeprefix(" ")
        width = width_in_em(text, face) * size_mm
        yield Piece(key, text, face, x, baseline_mm, width, size_mm)
