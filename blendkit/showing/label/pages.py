"""Pages of a label: proof with every part numbered, sheets, card."""

from collections.abc import Iterable, Sequence
from types import MappingProxyType

from blendkit.batch.label import Label, rules_of
from blendkit.batch.label_words import SELLER_NOTICE, duties, full_cautions, say, say_in_each
from blendkit.foundation.locales import locale_of, long_date, number
from blendkit.showing.kit.rendering import render
from blendkit.showing.label.code import BASIS
from blendkit.showing.label.font import FAMILY, style_sheet
from blendkit.showing.label.layout import Layout, smallest_that_fits
from blendkit.showing.label.sheets import PAPERS_MM, Grid
from blendkit.showing.label.sizes import TypeSize
from blendkit.skin.allergens import list_notes, threshold_percent

NO_NAME = "Untitled blend"
# parts whose key is not their name
PART_WORDS = MappingProxyType(
    {"over": "limit passed", "identity": "product", "durability": "shelf life"}
)
_GUTTER_MM = 9.0
_BADGE_STEP_MM = 4.1
_BAR_ROOM_MM = 5.0


def legend(layout: Layout) -> str:
    """Table of the numbers of the proof: rule, source, grade, and missing parts."""
    return render("label_legend", layout=layout, words=PART_WORDS, code_basis=BASIS)


def proof(layout: Layout) -> str:
    """Draw the sticker enlarged, every part numbered."""
    numbers = {part.key: number for number, part in enumerate(layout.label.parts, 1)}
    badges = _badges(layout, numbers)
    lowest = max((piece.baseline_mm for piece in layout.pieces), default=0.0) + 2
    return render(
        "label_proof",
        layout=layout,
        badges=badges,
        gutter=_GUTTER_MM,
        tall=max(layout.sticker.height_mm, lowest, *(badge["y"] + 2 for badge in badges)),
        name=f"The label on {layout.sticker.words}, enlarged, each part numbered",
        words=" ".join(piece.text for piece in layout.pieces),
    )


def proof_style() -> str:
    """Write the label's font as a style for a page with proofs; needed once a page."""
    letters = f"font-family: '{FAMILY}', 'DejaVu Sans Condensed', sans-serif"
    return (
        f"<style>{style_sheet()}\n.bk-label-proof text {{ {letters}; "
        "font-kerning: none; text-rendering: geometricPrecision; }</style>"
    )


def sheet_page(
    prints: Sequence[tuple[Layout, int]],
    grid: Grid,
    *,
    first: object = 1,
    outlines: bool = True,
) -> str:
    """Write sheets of stickers as one page to print.

    Parameters
    ----------
    prints : sequence of (Layout, int)
        Each label with its number; where one does not fit, the page gives the reason.
    grid : Grid
    first : int, optional
        Place of the first sticker, for a sheet in part used; checked here.
    outlines : bool, optional
        Draw the lines to cut.

    Raises
    ------
    BadNumber
        No such first place on the sheet.
    """
    places, blank = grid.places, grid.check_place(first) - 1
    if problems := [sentence for layout, _ in prints for sentence in layout.problems]:
        return refusal_page(problems)
    queue = [layout for layout, count in prints for _ in range(count)]
    cells: list[Layout | None] = [*[None] * blank, *queue]
    sheets = [
        [cell for cell in zip(places, cells[start:], strict=False) if cell[1]]
        for start in range(0, len(cells), len(places))
    ]
    top_mm = PAPERS_MM[grid.paper][1] - grid.bottom_mm + _BAR_ROOM_MM / 2
    bar = {"left": grid.left_mm, "top": top_mm} if grid.bottom_mm >= _BAR_ROOM_MM + 3 else None
    name = _name(prints[0][0].label) if prints else NO_NAME
    values = {"font": style_sheet(), "outline": outlines, "bar": bar}
    return _sheets(name, grid.paper, sheets, problems=[], **values)


def refusal_page(problems: Iterable[str]) -> str:
    """Write a page with the reasons why nothing is printed."""
    return _sheets(NO_NAME, "A4", [], problems=list(dict.fromkeys(problems)), font="")


def _sheets(name: str, paper: str, sheets: Sequence[object], **values: object) -> str:
    wide, tall = PAPERS_MM[paper]
    size = {"wide": wide, "tall": tall, "paper_words": paper}
    return render("label_sheet", name=name, family=FAMILY, sheets=sheets, **size, **values)


def card_page(prints: Sequence[tuple[Label, int]], size: TypeSize, paper: str = "A4") -> str:
    """Write cards to fold and enclose, with every part in full."""
    return render(
        "label_card",
        full=full_cautions,
        say=say_in_each,
        cards=[label for label, count in prints for _ in range(count)],
        name=_name(prints[0][0]) if prints else NO_NAME,
        size_mm=f"{size.size_mm:.4f}",
        font=style_sheet(),
        family=FAMILY,
        paper_words=paper,
    )


def ingredient_page(label: Label) -> str:
    """Write the page of a product's ingredients, one HTML file for the maker to host.

    It needs no script, no network and no other file.
    """

    def each(key: str, **more: object) -> list[tuple[str, str]]:
        return [(one, say(key, one, **_local(label, one), **more)) for one in label.languages]

    return render(
        "ingredient_page",
        label=label,
        name=_name(label),
        say=each,
        title=lambda key: say_in_each(key, label.languages),
        listed=[entry.name for entry in label.ingredients.listed],
        cautions=lambda language: full_cautions(label.cautions, language),
    )


def _local(label: Label, language: str) -> dict[str, str]:
    """Place, day and threshold of a label, as one language writes them."""
    locale = locale_of(language, label.region)
    return {
        "place": say(f"place_{label.region}", language),
        "day": long_date(label.placed_on, locale),
        "threshold": number(threshold_percent(), locale),
    }


def market_in_words(label: Label) -> list[str]:
    """Describe what the market asks: names and threshold by date, language, what may move."""
    language = rules_of(label.region)["language"]
    places = {"card": "to a card", "page": "to a card or a web page", "box": "to the box"}
    moving = [
        f"{PART_WORDS.get(part.key, part.key)} {places[part.may_move]}"
        for part in label.parts
        if part.may_move in places
    ]
    return [
        list_notes(label.region, label.placed_on)[0],
        f"Language: {language['rule']} ({language['grade']}). May move: {', '.join(moving)}.",
    ]


def seller_list(region: str) -> str:
    """List a seller's duties besides the label, as HTML."""
    return render("seller", notice=SELLER_NOTICE, duties=duties(region))


def fit_in_words(layout: Layout) -> list[str]:
    """Describe the fit of a label: rule, size of letters, and the plain size that would do."""
    size, sticker = layout.type_size, layout.sticker
    sentences = [*layout.problems]
    if layout.fits:
        points = layout.size_mm / 25.4 * 72
        sentences.append(
            f"Fits on {sticker.words}, letters of {points:.1f} point. Measured by: "
            f"{size.words} ({size.source}; {size.grade})."
        )
    if layout.on_card:
        moved = " and ".join(PART_WORDS.get(key, key) for key in layout.on_card)
        place = (
            f"at {layout.label.page}: {moved}. Put the ingredient page there."
            if layout.is_on_page
            else f"on a fold-out card: {moved}. Print the cards too."
        )
        sentences.append(f"Not on the sticker but {place}")
    if layout.on_card or not layout.fits:
        sentences.append(_suggest_size(layout))
    if size.remark:
        sentences.append(f"About this rule: {size.remark}.")
    return [*sentences, *layout.notes]


def _suggest_size(layout: Layout) -> str:
    shape = layout.sticker.shape
    choices = []
    for with_card, words in ((False, "with everything on it"), (True, "with a card")):
        one = smallest_that_fits(layout.label, layout.type_size, shape, with_card=with_card)
        choices.append(f"{words}: {one.words if one else 'none'}")
    return f"Smallest plain sticker of this shape, {'; '.join(choices)}."


def _name(label: Label) -> str:
    return label.part("name").text or NO_NAME


def _badges(layout: Layout, numbers: dict[str, int]) -> list[dict[str, float]]:
    """Place numbers next to the sticker, each with a line that crosses no other part."""
    badges: list[dict[str, float]] = []
    free, wide = {"left": 0.0, "right": 0.0}, layout.sticker.width_mm
    pieces = [piece for piece in layout.pieces if piece.key in numbers]
    firsts = {piece.key: piece for piece in reversed(pieces)}
    for piece in sorted(firsts.values(), key=layout.pieces.index):
        same_line = (o for o in layout.pieces if o.baseline_mm == piece.baseline_mm)
        # never across a part to its left on the same line
        is_right = any(o.left_mm < piece.left_mm and o.key != piece.key for o in same_line)
        side, outward = ("right", 1) if is_right else ("left", -1)
        middle = piece.baseline_mm - 0.3 * piece.size_mm
        y = max(middle, free[side])
        free[side] = y + _BADGE_STEP_MM
        x = wide * is_right + outward * _GUTTER_MM / 2
        end = piece.left_mm + piece.width_mm * is_right + outward * 0.3
        badge = {"x": x, "y": y, "from_x": x - outward * 1.9, "to_x": end, "to_y": middle}
        badges.append({"number": numbers[piece.key], **badge})
    return badges
