"""Layout of a label on a sticker: the largest type that fits, or the reason why none does.

Every line is broken and placed here, with the widths of the font that is printed, so that a
layout that fits also fits in print. Parts that the law allows to move go to a card only when
the sticker is too small for them. Lengths are millimetres of paper, as stickers are sold.
"""

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from blendkit.batch.label import Label
from blendkit.batch.label_words import say_in_each
from blendkit.foundation.units import show
from blendkit.showing.label import lines
from blendkit.showing.label.code import Code, make_code
from blendkit.showing.label.font import missing_characters
from blendkit.showing.label.sizes import Sticker, TypeSize, stickers, type_size

_LARGEST = 1.6  # times the least size; own choice
_NAME = 1.5  # times the running text, where there is room
_GAP = 0.5  # at most, between paragraphs, of the running text


class Layout(NamedTuple):
    """A label set on a sticker.

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
        Reasons why it does not fit; empty where it does.
    notes : tuple of str
        Further notes on the layout.
    code : Code or None
        QR code at its place on the sticker.
    """

    label: Label
    sticker: Sticker
    type_size: TypeSize
    size_mm: float
    pieces: tuple[lines.Piece, ...]
    on_card: tuple[str, ...]
    problems: tuple[str, ...]
    notes: tuple[str, ...]
    code: Code | None = None

    @property
    def fits(self) -> bool:
        """True where every line is within the sticker."""
        return not self.problems

    @property
    def is_on_page(self) -> bool:
        """True where what is not on the sticker is on the maker's page, not on a card."""
        return _on_page(self.label, self.on_card)


def lay_out(label: Label, sticker: Sticker, size: TypeSize) -> Layout:
    """Set a label as large as it fits, with as much on the sticker as there is room for.

    First everything is tried on the sticker; then the ingredients go to a card, then the
    cautions. A label that still does not fit is set at the least size, with the reason. So is
    one whose QR code has no room.
    """
    code = make_code(label.page) if label.page else None
    with_code = sticker._replace(code_mm=code.side_mm) if code else sticker
    if code is None or lines.holds_code(with_code):
        return _set(label, with_code, size, code)
    layout = _set(label, sticker, size, None)
    problem = (
        f"The QR code has no room on {sticker.words}: with its empty border it is "
        f"{show(code.side_mm)} mm square. Take a larger sticker or a shorter address, or leave "
        "the page out."
    )
    return layout._replace(problems=(*layout.problems, problem))


def _set(label: Label, sticker: Sticker, size: TypeSize, code: Code | None) -> Layout:
    for on_card, size_mm, flow in _tries(label, sticker, size):  # noqa: B007
        if lines.fits(flow, sticker):
            break
    problems = () if lines.fits(flow, sticker) else tuple(_problems(flow, sticker, size))
    placed = code.at(*lines.code_corner(sticker, flow.top_mm)) if code else None
    notes = tuple(_notes(flow, code))
    return Layout(label, sticker, size, size_mm, flow.pieces, on_card, problems, notes, placed)


def _tries(
    label: Label, sticker: Sticker, size: TypeSize
) -> Iterator[tuple[tuple[str, ...], float, lines.Flow]]:
    """Ways to set a label: what goes to a card, type size [mm], lines; the best first."""
    for on_card in _card_choices(label):
        plain = _paragraphs(label, on_card, size)
        enlarged = [p._replace(scale=_NAME) if p.words[0].key == "name" else p for p in plain]
        for step in range(round((_LARGEST - 1) * 20), -1, -1):
            size_mm = size.size_mm * (1 + step / 20)
            yield on_card, size_mm, _place(enlarged, sticker, size_mm)
        yield on_card, size.size_mm, _place(plain, sticker, size.size_mm)


def smallest_that_fits(
    label: Label, size: TypeSize, shape: str, *, with_card: bool
) -> Sticker | None:
    """Find the smallest plain sticker of a shape for a label; None where none fits."""
    on_card = _card_choices(label)[-1 if with_card else 0]
    paragraphs = _paragraphs(label, on_card, size)
    code_mm = make_code(label.page).side_mm if label.page else 0.0
    plain = [sticker._replace(code_mm=code_mm) for _, sticker in stickers()]
    sizes = [one for one in plain if one.shape == shape and lines.holds_code(one)]
    for sticker in sorted(sizes, key=lambda one: one.width_mm * one.height_mm):
        if lines.fits(_place(paragraphs, sticker, size.size_mm), sticker):
            return sticker
    return None


def _card_choices(label: Label) -> list[tuple[str, ...]]:
    """List the parts to put on a card: none, the ingredients, the cautions as well."""
    movable = [part.key for part in label.parts if part.may_move in ("card", "page")]
    first = tuple(key for key in movable if key != "cautions")
    return list(dict.fromkeys([(), first, tuple(movable)]))


def _paragraphs(label: Label, on_card: Sequence[str], size: TypeSize) -> list[lines.Paragraph]:
    texts = {part.key: part.text for part in label.parts if part.key not in on_card}
    texts["card"] = _pointer(label, on_card) if on_card else ""
    faces, scales = {}, {}
    if label.region == "Canada":  # C.R.C., c. 417, sections 14 to 16; the rest need be legible
        larger = max(1.0, type_size("Canadian packages").size_mm / size.size_mm)
        faces, scales = {"contents": "bold"}, {"identity": larger, "maker": larger}
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
    paragraphs = []
    for keys, face, centred in plan:
        filled = [(key, texts[key], faces.get(key, face)) for key in keys if texts.get(key)]
        words = [word for each in filled for word in lines.words_of(*each)]
        if words:
            scale = scales.get(keys[0], 1.0)
            paragraphs.append(lines.Paragraph(tuple(lines.add_dots(words)), scale, centred))
    return paragraphs


def _on_page(label: Label, on_card: Sequence[str]) -> bool:
    may_move = {label.part(key).may_move for key in on_card}
    return bool(label.page) and may_move == {"page"}


def _pointer(label: Label, on_card: Sequence[str]) -> str:
    """Where the parts are that are not on the sticker."""
    is_attached = label.part("ingredients").may_move == "page"  # a card alone will not do there
    key = "see_card_all" if "cautions" in on_card else "see_card"
    key = "see_page" if _on_page(label, on_card) else "see_attached" if is_attached else key
    page = f" {label.page}" if key == "see_page" else ""
    return say_in_each(key, label.languages) + page


def _place(
    paragraphs: Sequence[lines.Paragraph], sticker: Sticker, size_mm: float
) -> lines.Flow:
    """Place the lines on the sticker, in the middle of its height where they fit."""
    flow = lines.flow_of(paragraphs, sticker, size_mm, lines.EDGE_MM)
    if not lines.fits(flow, sticker):
        return flow
    if sticker.shape != "round":
        room = lines.floor_mm(sticker) - flow.bottom_mm
        gap_mm = min(_GAP * size_mm, room / len(paragraphs))
        flow = lines.flow_of(paragraphs, sticker, size_mm, lines.EDGE_MM, gap_mm)
        lower = (lines.floor_mm(sticker) - flow.bottom_mm) / 2
        pieces = [p._replace(baseline_mm=p.baseline_mm + lower) for p in flow.pieces]
        return flow._replace(pieces=tuple(pieces), top_mm=flow.top_mm + lower)
    steps = range(1, math.ceil((sticker.height_mm / 2 - flow.top_mm) / lines.STEP_MM) + 1)
    tops = (flow.top_mm + step * lines.STEP_MM for step in steps)
    tried = (lines.flow_of(paragraphs, sticker, size_mm, top_mm) for top_mm in tops)
    fitting = (one for one in tried if lines.fits(one, sticker))
    both_ends = lines.EDGE_MM + lines.floor_mm(sticker)
    return min((flow, *fitting), key=lambda one: abs(one.top_mm + one.bottom_mm - both_ends))


def _problems(flow: lines.Flow, sticker: Sticker, size: TypeSize) -> Iterator[str]:
    for word in dict.fromkeys(flow.too_wide):
        yield (
            f'"{word.text}" is wider than a sticker of {sticker.words} at the least size '
            f"({size.words}). Nothing was cut: shorten it or take a wider sticker."
        )
    short = flow.bottom_mm - lines.floor_mm(sticker)
    if short > 0:
        yield (
            f"Does not fit: {show(short, 2)} mm too little height on {sticker.words}, even "
            f"with a card, at the least size ({size.words}). Nothing was cut."
        )
    if short > 0 and sticker.code_mm:
        yield f"The QR code takes a square of {show(sticker.code_mm)} mm of it."


def _notes(flow: lines.Flow, code: Code | None) -> Iterator[str]:
    if code:
        yield (
            f"QR code to {code.text}: {show(code.side_mm)} mm square with its empty border. "
            "Scan one print before you print them all."
        )
    if missing := missing_characters("".join(piece.text for piece in flow.pieces)):
        yield (
            f"The label's font has no {' '.join(missing)}: your browser takes another font "
            "for it, whose width is a guess. Check the print."
        )
