"""Setting a label on a sticker: the largest legible type that fits, or why it does not.

Every line is broken and placed here, with the widths of the font that is printed, so that what
is said to fit does fit. Parts that the law lets move go to a card only when the sticker is too
small for them. Lengths are millimetres of paper, as stickers are sold.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from blendkit.batch.label import Label
from blendkit.foundation.units import show
from blendkit.showing.label_font import (
    ascent_in_em,
    line_in_em,
    strange_letters,
    width_in_em,
)
from blendkit.showing.label_sizes import Sticker, TypeSize, stickers

EDGE_MM = 1.5  # left empty all round, for a printer that pulls askew (own choice)
SEE_CARD = "see the card enclosed."
_LARGEST = 1.6  # times the least size: larger type looks shouted (own choice)
_NAME = 1.5  # times the running text, where there is room
_GAP = 0.5  # at most, between paragraphs, of the running text
_STEP_MM = 0.5
_HARD_SPACE = "\u00a0"
_JAR_LINES = 2.4  # height of the open jar, in lines
# between letters only: a date or a lot is never parted
_BREAKS = re.compile(r"\S+?(?:(?<=[^\W\d_])[/-](?=[^\W\d_])|(?=\s)|$)")


class Piece(NamedTuple):
    """Some words of one part, on one line.

    Attributes
    ----------
    key : str
        The part they belong to, or "card" for the pointer to a card.
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


@dataclass(frozen=True)
class Layout:
    """A label as it is set on a sticker.

    Attributes
    ----------
    label : Label
    sticker : Sticker
    type_size : TypeSize
    size_mm : float
        Size of the running text. [mm]
    pieces : tuple of Piece
    on_card : tuple of str
        Keys of the parts that moved to a card.
    problems : tuple of str
        Why it does not fit; empty where it does.
    notes : tuple of str
        What else to know of the setting.
    """

    label: Label
    sticker: Sticker
    type_size: TypeSize
    size_mm: float
    pieces: tuple[Piece, ...]
    on_card: tuple[str, ...]
    problems: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def fits(self) -> bool:
        """Whether everything that stands on the sticker stands within it."""
        return not self.problems


class _Word(NamedTuple):
    key: str
    text: str
    face: str
    glued: bool  # no space before it


class _Paragraph(NamedTuple):
    words: tuple[_Word, ...]
    scale: float
    centred: bool


class _Flow(NamedTuple):
    pieces: tuple[Piece, ...]
    top_mm: float
    bottom_mm: float
    too_wide: tuple[_Word, ...]


def lay_out(label: Label, sticker: Sticker, size: TypeSize) -> Layout:
    """Set a label as large as it fits, with as much on the sticker as there is room for.

    First everything is tried on the sticker; then the ingredients go to a card, then the
    cautions. What still does not fit is set at the least size all the same, and said.
    """
    for on_card in _ways(label):
        paragraphs = _paragraphs(label, on_card)
        for times in _sizes():
            flow = _placed(_named(paragraphs, _NAME), sticker, size.size_mm * times)
            if times == 1.0 and not _stands(flow, sticker):
                flow = _placed(paragraphs, sticker, size.size_mm)
            if _stands(flow, sticker):
                done = (label, sticker, size, size.size_mm * times, flow.pieces, on_card)
                return Layout(*done, (), tuple(_notes(label, flow)))
    problems = tuple(_problems(flow, sticker, size))
    done = (label, sticker, size, size.size_mm, flow.pieces, on_card)
    return Layout(*done, problems, tuple(_notes(label, flow)))


def smallest_that_fits(
    label: Label, size: TypeSize, shape: str, *, with_card: bool
) -> Sticker | None:
    """The smallest plain sticker of a shape that takes the label; None where none does."""
    ways = _ways(label)
    on_card = ways[-1] if with_card else ways[0]
    paragraphs = _paragraphs(label, on_card)
    known = [sticker for _, sticker in stickers() if sticker.shape == shape]
    for sticker in sorted(known, key=lambda one: one.width_mm * one.height_mm):
        if _stands(_placed(paragraphs, sticker, size.size_mm), sticker):
            return sticker
    return None


def _sizes() -> Iterator[float]:
    steps = round((_LARGEST - 1) * 20)
    yield from (1 + step / 20 for step in range(steps, -1, -1))


def _ways(label: Label) -> list[tuple[str, ...]]:
    """What may stand on a card: nothing, the ingredients, the cautions as well."""
    movable = [part.key for part in label.parts if part.may_move == "card"]
    first = tuple(key for key in movable if key != "cautions")
    return list(dict.fromkeys([(), first, tuple(movable)]))


def _paragraphs(label: Label, on_card: Sequence[str]) -> list[_Paragraph]:
    texts = {part.key: part.text for part in label.parts if part.key not in on_card}
    pointer = " and ".join(key for key in on_card if key != "allergens")
    texts["card"] = f"{pointer.capitalize()}: {SEE_CARD}" if pointer else ""
    plan: list[tuple[tuple[str, ...], str, bool]] = [
        (("over",), "bold", True),
        (("name",), "bold", True),
        (("identity", "contents"), "regular", True),
        (("ingredients",), "regular", False),
        (("allergens",), "regular", False),
        (("cautions",), "regular", False),
        (("card",), "bold", False),
        (("durability", "lot"), "regular", False),
        (("maker",), "regular", False),
    ]
    found = []
    for keys, face, centred in plan:
        there = [key for key in keys if texts.get(key)]
        words = [word for key in there for word in _words(key, texts[key], face)]
        if words:
            found.append(_Paragraph(tuple(_parted(words)), 1.0, centred))
    return found


def _words(key: str, text: str, face: str) -> Iterator[_Word]:
    """Words, also parted after a slash or a hyphen; the heading before a colon is bold."""
    if is_jar(key, text):
        yield _Word(key, f"{_HARD_SPACE}{text}{_HARD_SPACE}", face, glued=False)
        return
    if key == "contents":  # a number stays with its unit
        yield _Word(key, text.replace(" ", _HARD_SPACE), face, glued=False)
        return
    head = text.find(":") if key in ("ingredients", "allergens") else -1
    last = -1
    for found in _BREAKS.finditer(text):
        weight = "bold" if found.end() <= head + 1 else face
        yield _Word(key, found.group(), weight, glued=found.start() == last)
        last = found.end()


def _parted(words: Sequence[_Word]) -> Iterator[_Word]:
    """A dot between the parts that share a line."""
    for before, word in zip([None, *words], words, strict=False):
        same = before is None or before.key == word.key
        if before is not None and not same and not is_jar(*before[:2]):
            yield _Word(before.key, "·", word.face, glued=False)
        yield word


def _named(paragraphs: Sequence[_Paragraph], scale: float) -> list[_Paragraph]:
    """The same with the name set larger."""
    return [
        paragraph._replace(scale=scale) if paragraph.words[0].key == "name" else paragraph
        for paragraph in paragraphs
    ]


def _placed(paragraphs: Sequence[_Paragraph], sticker: Sticker, size_mm: float) -> _Flow:
    """The lines on the sticker, in the middle of its height where they fit."""
    flow = _flow(paragraphs, sticker, size_mm, EDGE_MM)
    if not _stands(flow, sticker):
        return flow
    if sticker.shape != "round":
        room = sticker.height_mm - EDGE_MM - flow.bottom_mm
        gap_mm = min(_GAP * size_mm, room / len(paragraphs))
        flow = _flow(paragraphs, sticker, size_mm, EDGE_MM, gap_mm)
        lower = (sticker.height_mm - EDGE_MM - flow.bottom_mm) / 2
        pieces = [p._replace(baseline_mm=p.baseline_mm + lower) for p in flow.pieces]
        return flow._replace(pieces=tuple(pieces))
    best, start = flow, flow.top_mm
    while start < sticker.height_mm / 2:
        start += _STEP_MM
        flow = _flow(paragraphs, sticker, size_mm, start)
        if _stands(flow, sticker) and _off_middle(flow, sticker) < _off_middle(best, sticker):
            best = flow
    return best


def _off_middle(flow: _Flow, sticker: Sticker) -> float:
    return abs(flow.top_mm + flow.bottom_mm - sticker.height_mm)


def _stands(flow: _Flow, sticker: Sticker) -> bool:
    return not flow.too_wide and flow.bottom_mm <= sticker.height_mm - EDGE_MM + 1e-9


def _chord(sticker: Sticker, top_mm: float, bottom_mm: float) -> float:
    """Room across for a line between two heights. [mm]"""
    if sticker.shape != "round":
        return sticker.width_mm - 2 * EDGE_MM
    radius, middle = sticker.width_mm / 2 - EDGE_MM, sticker.height_mm / 2
    away = max(abs(top_mm - middle), abs(bottom_mm - middle))
    return 2 * math.sqrt(radius**2 - away**2) if away < radius else 0.0


def _flow(
    paragraphs: Sequence[_Paragraph],
    sticker: Sticker,
    size_mm: float,
    top_mm: float,
    gap_mm: float = 0.0,
) -> _Flow:
    """The lines one below the other; what has no room is placed all the same, and counted."""
    pieces: list[Piece] = []
    too_wide: list[_Word] = []
    y, start, spills = top_mm, None, False
    widest = sticker.width_mm - 2 * EDGE_MM
    for paragraph in paragraphs:
        size = size_mm * paragraph.scale
        words = list(paragraph.words)
        while words:
            height = line_in_em() * size * _lines_of(words[0])
            room = _chord(sticker, y, y + height)
            count, width = _taken(words, size, room)
            if count == 0 and y + height < sticker.height_mm / 2 and room < widest:
                y += _STEP_MM  # further down a round sticker is wider
                continue
            if count == 0:
                spills, room = True, widest
                count, width = _taken(words, size, room)
            if count == 0:
                too_wide.append(words[0])
                count, width = 1, width_in_em(words[0].text, words[0].face) * size
            start = y if start is None else start
            is_centred = paragraph.centred or sticker.shape == "round"
            left = (sticker.width_mm - (width if is_centred else room)) / 2
            baseline = y + (height - line_in_em() * size) / 2 + ascent_in_em() * size
            pieces += _line(words[:count], left, baseline, size)
            words = words[count:]
            y += height
        y += gap_mm
    y -= gap_mm  # none below the last
    bottom = max(y, sticker.height_mm) if spills else y
    return _Flow(tuple(pieces), top_mm if start is None else start, bottom, tuple(too_wide))


def _lines_of(word: _Word) -> float:
    """How many lines tall a word is: the open jar stands around its months."""
    return _JAR_LINES if is_jar(word.key, word.text) else 1.0


def is_jar(key: str, text: str) -> bool:
    """Whether a text stands in the sign of an open jar."""
    return key == "durability" and re.fullmatch(r"\s*\d+M\s*", text) is not None


def _taken(words: Sequence[_Word], size_mm: float, room_mm: float) -> tuple[int, float]:
    """How many words one line takes, and how wide they are. [mm]"""
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
    words: Sequence[_Word], left_mm: float, baseline_mm: float, size_mm: float
) -> Iterator[Piece]:
    """The words of one line, those of one part and face together."""
    x, held = left_mm, [words[0]]
    for word in [*words[1:], None]:
        if word is not None and (word.key, word.face) == (held[0].key, held[0].face):
            held.append(word)
            continue
        text = "".join(
            ("" if place == 0 or one.glued else " ") + one.text
            for place, one in enumerate(held)
        )
        key, face = held[0].key, held[0].face
        width = width_in_em(text, face) * size_mm
        yield Piece(key, text, face, x, baseline_mm, width, size_mm)
        if word is not None:
            x += width + (0.0 if word.glued else width_in_em(" ", word.face) * size_mm)
            held = [word]


def _problems(flow: _Flow, sticker: Sticker, size: TypeSize) -> Iterator[str]:
    for word in dict.fromkeys(flow.too_wide):
        yield (
            f'"{word.text}" is wider than a sticker of {sticker.words} at the least size '
            f"({size.words}). Nothing was cut: shorten it or take a wider sticker."
        )
    short = flow.bottom_mm - (sticker.height_mm - EDGE_MM)
    if short > 0:
        yield (
            f"Does not fit: {show(short, 2)} mm too little height on {sticker.words}, even "
            f"with a card, at the least size ({size.words}). Nothing was cut."
        )


def _notes(label: Label, flow: _Flow) -> Iterator[str]:
    texts: Iterable[str] = (piece.text for piece in flow.pieces)
    strange = strange_letters("".join(texts))
    if strange:
        yield (
            f"The label's font has no {' '.join(strange)}: your browser takes another font "
            "for it, whose width is guessed. Look at the print."
        )
