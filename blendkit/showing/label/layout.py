"""Setting a label on a sticker: the largest legible type that fits, or why it does not.

Every line is broken and placed here, with the widths of the font that is printed, so that what
is said to fit does fit. Parts that the law lets move go to a card only when the sticker is too
small for them. Lengths are millimetres of paper, as stickers are sold.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from blendkit.batch.label import Label
from blendkit.foundation.units import show
from blendkit.showing.label.font import strange_letters
from blendkit.showing.label.lines import (
    EDGE_MM,
    STEP_MM,
    Flow,
    Paragraph,
    Piece,
    flow_of,
    parted,
    stands,
    words_of,
)
from blendkit.showing.label.sizes import Sticker, TypeSize, stickers

SEE_CARD = "see the card enclosed."
_LARGEST = 1.6  # times the least size: larger type looks shouted (own choice)
_NAME = 1.5  # times the running text, where there is room
_GAP = 0.5  # at most, between paragraphs, of the running text


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


def lay_out(label: Label, sticker: Sticker, size: TypeSize) -> Layout:
    """Set a label as large as it fits, with as much on the sticker as there is room for.

    First everything is tried on the sticker; then the ingredients go to a card, then the
    cautions. What still does not fit is set at the least size all the same, and said.
    """
    for on_card in _ways(label):
        paragraphs = _paragraphs(label, on_card)
        for times in _sizes():
            flow = _placed(_named(paragraphs, _NAME), sticker, size.size_mm * times)
            if times == 1.0 and not stands(flow, sticker):
                flow = _placed(paragraphs, sticker, size.size_mm)
            if stands(flow, sticker):
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
        if stands(_placed(paragraphs, sticker, size.size_mm), sticker):
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


def _paragraphs(label: Label, on_card: Sequence[str]) -> list[Paragraph]:
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
        words = [word for key in there for word in words_of(key, texts[key], face)]
        if words:
            found.append(Paragraph(tuple(parted(words)), 1.0, centred))
    return found


def _named(paragraphs: Sequence[Paragraph], scale: float) -> list[Paragraph]:
    """The same with the name set larger."""
    return [
        paragraph._replace(scale=scale) if paragraph.words[0].key == "name" else paragraph
        for paragraph in paragraphs
    ]


def _placed(paragraphs: Sequence[Paragraph], sticker: Sticker, size_mm: float) -> Flow:
    """The lines on the sticker, in the middle of its height where they fit."""
    flow = flow_of(paragraphs, sticker, size_mm, EDGE_MM)
    if not stands(flow, sticker):
        return flow
    if sticker.shape != "round":
        room = sticker.height_mm - EDGE_MM - flow.bottom_mm
        gap_mm = min(_GAP * size_mm, room / len(paragraphs))
        flow = flow_of(paragraphs, sticker, size_mm, EDGE_MM, gap_mm)
        lower = (sticker.height_mm - EDGE_MM - flow.bottom_mm) / 2
        pieces = [p._replace(baseline_mm=p.baseline_mm + lower) for p in flow.pieces]
        return flow._replace(pieces=tuple(pieces))
    best, start = flow, flow.top_mm
    while start < sticker.height_mm / 2:
        start += STEP_MM
        flow = flow_of(paragraphs, sticker, size_mm, start)
        if stands(flow, sticker) and _off_middle(flow, sticker) < _off_middle(best, sticker):
            best = flow
    return best


def _off_middle(flow: Flow, sticker: Sticker) -> float:
    return abs(flow.top_mm + flow.bottom_mm - sticker.height_mm)


def _problems(flow: Flow, sticker: Sticker, size: TypeSize) -> Iterator[str]:
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


def _notes(label: Label, flow: Flow) -> Iterator[str]:
    texts: Iterable[str] = (piece.text for piece in flow.pieces)
    strange = strange_letters("".join(texts))
    if strange:
        yield (
            f"The label's font has no {' '.join(strange)}: your browser takes another font "
            "for it, whose width is guessed. Look at the print."
        )
