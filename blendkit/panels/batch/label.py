"""Sections of the batch panel about the label: proof, print, and a seller's duties."""

from datetime import date
from typing import Any

import ipywidgets as widgets

from blendkit.batch.bottles import Bottles
from blendkit.batch.ingredients import SCENTS
from blendkit.batch.label import Label, LabelDetails, label_of
from blendkit.batch.label_words import BY_LAW, LANGUAGES
from blendkit.batch.scaling import fill_level
from blendkit.foundation import keep
from blendkit.foundation.errors import BadNumber
from blendkit.foundation.units import read_day, show_ml
from blendkit.keeping.details import keep_maker, kept_maker
from blendkit.keeping.open_store import read_or, the_journal
from blendkit.keeping.stock_entries import opening_days
from blendkit.keeping.storing import storings
from blendkit.panels.batch.sections import NO_BATCH, BatchSection, Making
from blendkit.panels.kit import parts
from blendkit.showing.label import pages as label_pages
from blendkit.showing.label.layout import lay_out
from blendkit.showing.label.sheets import PAPERS_MM, TYPED, Grid, read_grid
from blendkit.showing.label.sizes import (
    Sticker,
    read_sticker,
    stickers,
    type_sizes,
    usual_type_size,
)

OTHER = "another size, typed below"
_WIDE, _HALF = "544px", "270px"
_BOXES = {  # label, width and hint, by the names of `LabelDetails`
    "maker": ("Maker", _WIDE, "name, street, town"),
    "contact": ("Contact", _WIDE, "telephone, mail or page"),
    "identity": ("Product", _WIDE, ""),
    "page": ("Web page", _WIDE, "https://…, for a QR code on the label"),
    "lot": ("Lot", _HALF, ""),
    "mixed_on": ("Mixed on", _HALF, ""),
    "placed_on": ("On the market", _HALF, ""),
    "keeps_months": ("Shelf life", _HALF, "months"),
    "after_opening_months": ("After opening", _HALF, "months, if > 30"),
}
_MONTHS = ("keeps_months", "after_opening_months")
_PAIRS = (("lot", "mixed_on"), ("placed_on", "languages"), _MONTHS)


class LabelSection(BatchSection):
    """The label: details, sticker, proof, and sheets to print.

    Attributes
    ----------
    labels : list of (Label, int)
        One for each size of bottle, with its number.
    typing : dict of str to Text or Dropdown
        Boxes for the maker's details, by their names in `LabelDetails`.
    """

    def __init__(self) -> None:
        self.labels: list[tuple[Label, int]] = []
        self.typing = _boxes()
        self.paper = _StickerControls()
        self.bottle = parts.choice("Show", [("", 0)])  # by its place among the sizes
        self.proof = widgets.HTML()
        nothing = "No limit passed, nothing missing, no gap in the record."
        self.marks, self.fit, self.notes = map(parts.Findings, (nothing, "", ""))
        self.asked = parts.Findings("")
        self.legend = widgets.HTML()
        self.sheets = self.printer("Print the label sheets", self.sheet_page)
        self.cards = self.printer("Print fold-out cards", self.card_page)
        super().__init__(
            *(self.proof, self.fit.view),
            parts.heading("Over a limit, missing, or no figure on record"),
            self.marks.view,
            parts.fold("Rule, source and grade of each number", self.legend, self.notes.view),
        )
        guard, boxes = self.message.guard, [*self.typing.values()]
        keep_maker = parts.button("Keep maker and contact", guard(self.keep))
        save_page = parts.button("Save the ingredient page", guard(self.save_page))
        pairs = [parts.columns(*(self.typing[key] for key in pair)) for pair in _PAIRS]
        self.view.children = (
            widgets.HTML(label_pages.proof_style()),
            parts.heading("Your details"),
            parts.column(*boxes[:4], *pairs, self.typing["scent"]),
            *(parts.row(keep_maker), self.asked.view),
            *(parts.heading("The sticker"), self.paper.view, self.bottle),
            parts.row(*self.print_buttons, save_page),
            *self.view.children,
        )
        followed = [box for key, box in self.typing.items() if key != "page"]  # in the hand
        self.watch(self.bottle, *followed, *self.paper.controls)

    def calculate(self, making: Making) -> None:
        """Set the label of every size of bottle, and show one of them."""
        batch = making.batch
        typed = self._details()
        # where it is not one whole bottle, show the blend's own
        rows = batch.bottles or (Bottles(1, batch.blend.bottle_m3),)
        level, weighed = fill_level(batch.blend), (batch.mass_fractions(), making.skin)
        self.labels = [
            (label_of(batch.blend, typed, None, row.bottle_m3 * level, *weighed), row.count)
            for row in rows
        ]
        sizes = [f"bottle of {show_ml(row.bottle_m3)}" for row in rows]
        parts.set_options(self.bottle, [(size, place) for place, size in enumerate(sizes)])
        self.bottle.layout.display = None if len(rows) > 1 else "none"
        region = batch.blend.market.region
        self.paper.follow(region)
        self.typing["languages"].layout.display = "none" if region in BY_LAW else None
        grid = self.paper.grid()
        grid.check_place(parts.number_of(self.paper.first.value))
        label, _ = self.labels[self.bottle.value]
        layout = lay_out(label, self.paper.sticker(), self.paper.rule.value)
        self.proof.value = label_pages.proof(layout)
        self.legend.value = label_pages.legend(layout)
        self.asked.show(label_pages.market_in_words(label))
        self.fit.show([*label_pages.fit_in_words(layout), grid.words])
        over = [f"Limit not kept: {sentence}." for sentence in label.over]
        self.marks.show([*over, *label.missing, *label.unknown])
        self.notes.show(label.notes)

    def sheet_page(self, *_: object) -> str:
        """Page of all labels of the batch, on sheets."""
        paper = self.paper
        sticker, size = paper.sticker(), paper.rule.value
        layouts = [(lay_out(label, sticker, size), count) for label, count in self.labels]
        first, lines = parts.number_of(paper.first.value), paper.outlines.value
        return label_pages.sheet_page(layouts, paper.grid(), first=first, outlines=lines)

    def card_page(self, *_: object) -> str:
        """Page of a card for every bottle of the batch."""
        return label_pages.card_page(self.labels, self.paper.rule.value, self.paper.paper.value)

    def save_page(self) -> None:
        """Write the ingredient page of the bottle shown to a new file."""
        if not self.labels:
            raise BadNumber([NO_BATCH])
        label, _ = self.labels[self.bottle.value]
        name = label.part("name").text or label_pages.NO_NAME
        file = keep.save_page("pages", name, label_pages.ingredient_page(label))
        self.message.say(f"Ingredient page saved as {file}. Put it on your website.")

    def keep(self) -> None:
        """Keep the maker's name and contact."""
        maker, contact = self.typing["maker"].value, self.typing["contact"].value
        keep_maker(the_journal(), maker, contact)
        self.message.say("Maker and contact kept.")

    def _details(self) -> LabelDetails:
        """What was typed, with what the shelf knows of the materials."""
        typed: dict[str, Any] = {key: box.value for key, box in self.typing.items()}
        typed["mixed_on"] = read_day(typed["mixed_on"], "mixed on")
        typed["placed_on"] = typed["placed_on"].strip() or None
        typed["languages"] = LANGUAGES[typed["languages"]]
        for key in _MONTHS:
            typed[key] = parts.number_of(months) if (months := typed[key].strip()) else None
        return LabelDetails(
            **typed, opened_on=read_or(opening_days, {}), stored=read_or(storings, {})
        )


class SellerSection(BatchSection):
    """Duties of a seller besides the label."""

    def __init__(self) -> None:
        self.list = widgets.HTML()
        super().__init__(parts.heading("Duties besides the label"), self.list)

    def calculate(self, making: Making) -> None:
        """Show the pointers for the region."""
        self.list.value = label_pages.seller_list(making.batch.blend.market.region)


class _StickerControls:
    """Sticker, type size, and the sheet they are printed on."""

    def __init__(self) -> None:
        plain = dict(stickers())
        sizes = [(f"{name}: {sticker.words}", sticker) for name, sticker in plain.items()]
        self.size_of = parts.choice("Sticker", [*sizes, (OTHER, None)])
        self.size_of.value = plain["wide wrap"]
        self.own = parts.text_box("Size", "", "250px", placeholder="60 × 45 mm, round 40 mm")
        rules = [(f"{size.rule}: {size.words}", size) for size in type_sizes()]
        self.rule = parts.choice("Letters by", rules, _WIDE)  # with room for the sizes
        self.paper = parts.choice("Paper", list(PAPERS_MM))
        self.first = parts.text_box("First sticker", "1", "210px")
        self.outlines = parts.tick("draw where to cut", ticked=True)
        hints = ["as many as fit"] * 2 + ["8 mm"] * 2 + ["3 mm"] * 2
        self.boxes = {
            key: parts.text_box(key.capitalize(), "", "210px", placeholder=hint)
            for key, hint in zip(TYPED, hints, strict=True)
        }
        boxes, self._region = [*self.boxes.values()], ""
        pairs = [parts.row(*pair) for pair in zip(boxes[::2], boxes[1::2], strict=True)]
        sheet = (self.paper, *pairs, self.first, self.outlines)
        more = parts.fold("The sheet: paper, columns, margins, gaps", *sheet)
        self.view = parts.column(self.size_of, self.own, self.rule, more)
        self.controls = (self.size_of, self.own, self.rule, self.paper, self.first, *boxes)
        self.size_of.observe(self._show_own, "value")
        self._show_own()

    def follow(self, region: str) -> None:
        """Choose the region's own rule for letters when the region changes."""
        if region != self._region:
            self._region = region
            self.rule.value = usual_type_size(region)

    def sticker(self) -> Sticker:
        return self.size_of.value or read_sticker(self.own.value)

    def grid(self) -> Grid:
        typed = {key: box.value for key, box in self.boxes.items()}
        return read_grid(self.sticker(), self.paper.value, typed)

    def _show_own(self, _: object = None) -> None:
        self.own.layout.display = None if self.size_of.value is None else "none"


def _boxes() -> dict[str, Any]:
    """Boxes for the maker's details, by their names in `LabelDetails`."""
    today = date.today()
    maker, contact = read_or(kept_maker, ("", ""))
    # next free number of the journal
    lot = read_or(lambda journal: journal.next_lot(today), f"{today:%Y%m%d}-1")
    filled = {"maker": maker, "contact": contact, "identity": LabelDetails().identity}
    filled |= {"lot": lot, "mixed_on": f"{today}"}
    boxes: dict[str, Any] = {
        key: parts.text_box(label, filled.get(key, ""), width, placeholder=hint)
        for key, (label, width, hint) in _BOXES.items()
    }
    boxes["placed_on"].placeholder = f"{today}"
    boxes["languages"] = parts.choice("Language", list(LANGUAGES), _HALF)
    return boxes | {"scent": parts.choice("Scent", SCENTS)}
