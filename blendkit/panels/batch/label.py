"""Sections of the batch panel about the label: proof, print, and a seller's duties."""

from datetime import date
from functools import partial
from itertools import chain
from typing import Any

import ipywidgets as widgets

from blendkit.batch.bottles import Bottles
from blendkit.batch.ingredients import SCENTS
from blendkit.batch.label import Label, LabelDetails, label_of
from blendkit.batch.label_words import BY_LAW, LANGUAGES
from blendkit.batch.scaling import fill_level
from blendkit.foundation import keep
from blendkit.foundation.errors import BadNumber, Problem
from blendkit.foundation.units import read_day, show_ml
from blendkit.keeping.details import keep_maker, kept_maker
from blendkit.keeping.open_store import read_or, the_journal
from blendkit.keeping.stock_entries import opening_days
from blendkit.keeping.storing import storings
from blendkit.panels.batch.sections import BatchSection, Making
from blendkit.panels.kit import parts
from blendkit.panels.kit.print_button import PrintButton
from blendkit.showing.label import pages as label_pages
from blendkit.showing.label.layout import Layout, lay_out
from blendkit.showing.label.sheets import PAPERS_MM, TYPED, Grid, read_grid
from blendkit.showing.label.sizes import (
    Sticker,
    TypeSize,
    read_sticker,
    stickers,
    type_size,
    type_sizes,
    usual_type_size,
)

OTHER = "another size, typed below"


class LabelSection(BatchSection):
    """The label: details, sticker, proof, and sheets to print.

    Attributes
    ----------
    labels : list of (Label, int)
        One for each size of bottle, with its number.
    """

    def __init__(self) -> None:
        self.labels: list[tuple[Label, int]] = []
        self.typing = _LabelTyping()
        self.paper = _StickerControls()
        self.bottle = parts.choice("Show", [("", 0)])  # by its place among the sizes
        self.proof = widgets.HTML()
        nothing = "No limit passed, nothing missing, no gap in the record."
        self.marks, self.fit, self.notes = map(parts.Findings, (nothing, "", ""))
        self.asked = parts.Findings("")
        self.legend = widgets.HTML()
        basis = parts.fold(
            "Rule, source and grade of each number", self.legend, self.notes.view
        )
        super().__init__(
            self.proof,
            self.fit.view,
            parts.heading("Over a limit, missing, or no figure on record"),
            self.marks.view,
            basis,
        )
        guard = self.message.guard
        self.sheets = PrintButton("Print the label sheets", lambda: self.page(self.sheet_page))
        self.cards = PrintButton("Print fold-out cards", lambda: self.page(self.card_page))
        self.print_buttons = (self.sheets, self.cards)
        keep_maker = parts.button("Keep maker and contact", guard(self.keep))
        save_page = parts.button("Save the ingredient page", guard(self.save_page))
        self.view.children = (
            widgets.HTML(label_pages.proof_style()),
            parts.heading("Your details"),
            self.typing.view,
            parts.row(keep_maker),
            self.asked.view,
            parts.heading("The sticker"),
            self.paper.view,
            self.bottle,
            parts.row(*self.print_buttons, save_page),
            *self.view.children,
        )
        self.watch(self.bottle, *self.typing.controls, *self.paper.controls)

    def calculate(self, making: Making) -> None:
        """Set the label of every size of bottle, and show one of them."""
        batch = making.batch
        typed = self.typing.read()
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
        self.typing.language.layout.display = "none" if region in BY_LAW else None
        grid = self.paper.grid()
        self.paper.first_place()
        label, _ = self.labels[self.bottle.value]
        layout = lay_out(label, self.paper.sticker(), self.paper.size())
        self.proof.value = label_pages.proof(layout)
        self.legend.value = label_pages.legend(layout)
        self.asked.show(label_pages.market_in_words(label))
        self.fit.show([*label_pages.fit_in_words(layout), grid.words])
        over = [f"Limit not kept: {sentence}." for sentence in label.over]
        self.marks.show([*over, *label.missing, *label.unknown])
        self.notes.show(label.notes)

    def layouts(self) -> list[tuple[Layout, int]]:
        """Set every label, with its number of stickers."""
        sticker, size = self.paper.sticker(), self.paper.size()
        return [(lay_out(label, sticker, size), count) for label, count in self.labels]

    def sheet_page(self, *_: object) -> str:
        """Page of all labels of the batch, on sheets."""
        paper = self.paper
        first, lines = paper.first_place(), paper.outlines.value
        return label_pages.sheet_page(self.layouts(), paper.grid(), first=first, outlines=lines)

    def card_page(self, *_: object) -> str:
        """Page of a card for every bottle of the batch."""
        return label_pages.card_page(self.labels, self.paper.size(), self.paper.paper.value)

    def save_page(self) -> None:
        """Write the ingredient page of the bottle shown to a new file."""
        if not self.labels:
            raise BadNumber([Problem("batch", "none", "a batch that can be made")])
        label, _ = self.labels[self.bottle.value]
        name = label.part("name").text or label_pages.NO_NAME
        file = keep.save_page("pages", name, label_pages.ingredient_page(label))
        self.message.say(f"Ingredient page saved as {file}. Put it on your website.")

    def keep(self) -> None:
        """Keep the maker's name and contact."""
        keep_maker(the_journal(), self.typing.maker.value, self.typing.contact.value)
        self.message.say("Maker and contact kept.")


class SellerSection(BatchSection):
    """Duties of a seller besides the label."""

    def __init__(self) -> None:
        self.list = widgets.HTML()
        super().__init__(parts.heading("Duties besides the label"), self.list)

    def calculate(self, making: Making) -> None:
        """Show the pointers for the region."""
        self.list.value = label_pages.seller_list(making.batch.blend.market.region)


class _LabelTyping:
    """Boxes for the maker's details."""

    def __init__(self) -> None:
        maker, contact = read_or(kept_maker, ("", ""))
        today = date.today()
        wide, half = (
            partial(parts.text_box, width="544px"),
            partial(parts.text_box, width="270px"),
        )
        self.maker = wide("Maker", maker, placeholder="name, street, town")
        self.contact = wide("Contact", contact, placeholder="telephone, mail or page")
        self.page = wide("Web page", placeholder="https://…, for a QR code on the label")
        self.identity = wide("Product", LabelDetails().identity)
        # next free number of the journal
        lot = read_or(lambda journal: journal.next_lot(today), f"{today:%Y%m%d}-1")
        self.lot, self.mixed_on = half("Lot", lot), half("Mixed on", f"{today}")
        self.keeps = half("Shelf life", placeholder="months")
        self.opened = half("After opening", placeholder="months, if > 30")
        self.scent = parts.choice("Scent", SCENTS)
        self.placed_on = half("On the market", placeholder=f"{today}")
        self.language = parts.choice("Language", list(LANGUAGES), "270px")
        pairs = (
            (self.lot, self.mixed_on),
            (self.placed_on, self.language),
            (self.keeps, self.opened),
        )
        above = (self.maker, self.contact, self.identity)
        self.controls = (
            *above,
            *chain(*pairs),
            self.scent,
        )  # the page follows the blend in hand
        self.view = parts.column(
            *above, self.page, *(parts.columns(*pair) for pair in pairs), self.scent
        )

    def read(self) -> LabelDetails:
        return LabelDetails(
            maker=self.maker.value,
            contact=self.contact.value,
            identity=self.identity.value,
            lot=self.lot.value,
            mixed_on=read_day(self.mixed_on.value, "mixed on"),
            placed_on=self.placed_on.value.strip() or None,
            languages=LANGUAGES[self.language.value],
            page=self.page.value,
            opened_on=read_or(opening_days, {}),
            stored=read_or(storings, {}),
            keeps_months=_months(self.keeps),
            after_opening_months=_months(self.opened),
            scent=self.scent.value,
        )


class _StickerControls:
    """Sticker, type size, and the sheet they are printed on."""

    def __init__(self) -> None:
        sizes = [(f"{name}: {sticker.words}", sticker) for name, sticker in stickers()]
        self.size_of = parts.choice("Sticker", [*sizes, (OTHER, None)])
        self.size_of.value = dict(stickers())["wide wrap"]
        self.own = parts.text_box("Size", "", "250px", placeholder="60 × 45 mm, round 40 mm")
        self.rule = parts.choice(
            "Letters by", [(f"{s.rule}: {s.words}", s.rule) for s in type_sizes()]
        )
        self.rule.layout.width = "544px"  # room for the sizes behind the name
        self.paper = parts.choice("Paper", list(PAPERS_MM))
        self.first = parts.text_box("First sticker", "1", "210px")
        self.outlines = parts.tick("draw where to cut", ticked=True)
        self.boxes = {key: parts.text_box(key.capitalize(), "", "210px") for key in TYPED}
        boxes = [*self.boxes.values()]
        for box, hint in zip(boxes, ["as many as fit"] * 2 + ["8 mm"] * 4, strict=True):
            box.placeholder = hint
        self._region = ""
        pairs = [parts.row(*pair) for pair in zip(boxes[::2], boxes[1::2], strict=True)]
        sheet = (self.paper, *pairs, self.first, self.outlines)
        more = parts.fold("The sheet: paper, columns, margins, gaps", *sheet)
        self.view = parts.column(self.size_of, self.own, self.rule, more)
        self.controls = (
            self.size_of, self.own, self.rule, self.paper, self.first, *boxes,
        )  # fmt: skip
        self.size_of.observe(self._show_own, "value")
        self._show_own()

    def follow(self, region: str) -> None:
        """Choose the region's own rule for letters when the region changes."""
        if region != self._region:
            self._region = region
            self.rule.value = usual_type_size(region).rule

    def sticker(self) -> Sticker:
        chosen: Sticker | None = self.size_of.value
        return chosen or read_sticker(self.own.value)

    def size(self) -> TypeSize:
        return type_size(self.rule.value)

    def grid(self) -> Grid:
        typed = {key: box.value for key, box in self.boxes.items()}
        return read_grid(self.sticker(), self.paper.value, typed)

    def first_place(self) -> int:
        return self.grid().check_place(parts.number_of(self.first.value))

    def _show_own(self, _: object = None) -> None:
        self.own.layout.display = None if self.size_of.value is None else "none"


def _months(box: widgets.Text) -> Any:
    """Read months; None where nothing is typed, the text itself where it is no number."""
    text = box.value.strip()
    return parts.number_of(text) if text else None
