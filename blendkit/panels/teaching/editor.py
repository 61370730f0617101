"""The controls that write the document of a class: what, who, and the palette."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import ipywidgets as widgets

from blendkit.blend.market import Market
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import counted, is_whole_number
from blendkit.materials import catalogue
from blendkit.panels.kit import parts
from blendkit.panels.kit.entry_grid import EntryGrid, GridColumn, cell_text
from blendkit.panels.kit.market_choice import MarketChoice
from blendkit.panels.kit.message import raise_flag
from blendkit.skin.check import options
from blendkit.teaching.class_reader import USUAL_MARGIN
from blendkit.teaching.intake import letters_of, read_answers

MOST_SEAT_ROWS = 60
_NOTHING = ("–", "")
_OIL_KEYS = ("id", "note", "popularity", "bottles")
# what has no control of its own comes back as it came
_PLAIN = ("spillage", "sniffing_drops")
# boxes of the document: label, width, unit (None for a plain number), and what is usual
_BOXES: dict[str, tuple[str, str, str | None, object]] = {
    "name": ("Name", "380px", "", ""),
    "tables": ("Tables", "190px", None, 1),
    "starts_at": ("Starts at", "190px", "", ""),
    "minutes": ("Minutes", "190px", None, 90),
    "budget": ("Budget, if any", "210px", None, ""),
    "currency": ("", "66px", "", ""),
    "bottle": ("Bottle", "210px", "mL", ""),
    "headspace": ("Left empty", "210px", "mL", ""),
    "margin": ("Use of a limit", "210px", "%", USUAL_MARGIN),
}
_OPTIONAL = ("starts_at", "budget", "currency", "headspace")  # left out while empty


class ClassEditor:
    """Reads and writes the document of a class through controls.

    Parameters
    ----------
    document : mapping
        As `blendkit.teaching.class_document.ClassPlan` reads it.
    changed : callable
        Called after every change, good or bad.
    """

    def __init__(self, document: Mapping[str, Any], changed: Callable[..., None]) -> None:
        self._changed = changed
        self._is_quiet = False
        self._plain: dict[str, Any] = {}
        self.drop_sizes: dict[str, Any] = {}
        self.blends: list[Mapping[str, Any]] = []
        self.boxes = {
            key: parts.unit_box(label, unit or "", width=width)
            for key, (label, width, unit, _) in _BOXES.items()
        }
        self.boxes["starts_at"].placeholder = "18:30"
        self.boxes["currency"].tooltip = "currency"
        self.name, self.minutes = self.boxes["name"], self.boxes["minutes"]
        self.seats = parts.text_box("Seats", width="190px")
        self.drops_per_ml = parts.text_box("Drops in 1 mL", width="210px")
        self.market = MarketChoice(self._report)
        self.strength = parts.SlidingNumber("Strength, up to", "20 %", 1, 40, 1, "%")
        self.parts = {
            note: parts.SlidingNumber(f"{note.capitalize()} parts", "1", 0.5, 6, 0.5)
            for note in NOTES
        }
        self.palette = EntryGrid("The palette", _palette_columns())
        carrier = GridColumn("id", "Carrier", "240px", [_NOTHING, *parts.carrier_options()])
        self.carriers = EntryGrid("Carriers", [carrier])
        self.people = EntryGrid("Seats and what each leaves out", [])
        self.people_note = widgets.HTML()
        self.view = self._lay_out()
        self._set(document)
        numbers = (each.box for each in (self.strength, *self.parts.values()))
        boxes = (*self.boxes.values(), self.seats, self.drops_per_ml, *numbers)
        parts.observe(self._report, *boxes)
        parts.observe(self._report, self.palette, self.carriers, self.people, of="rows")

    @property
    def document(self) -> dict[str, Any]:
        """The document of the controls, good or bad."""
        document = self._plain | self.market.document
        for key, box in self.boxes.items():
            if box.value.strip() or key not in _OPTIONAL:
                is_number = _BOXES[key][2] is None
                document[key] = parts.number_of(box.value) if is_number else box.quantity
        if "budget" not in document:
            document.pop("currency", None)
        count, people = self._count(), self.people.rows
        document["seats"] = [_seat(row) for row in people[:count]] if count else (
            parts.number_of(self.seats.value)
        )  # fmt: skip
        document["carriers"] = _filled(self.carriers.rows, "id")
        if self.drops_per_ml.value.strip():
            size = parts.number_of(self.drops_per_ml.value)
            document["drops_per_ml"] = {"default": size, **self.drop_sizes}
        if self.blends:
            return document | {"blends": [{"blend": dict(blend)} for blend in self.blends]}
        oils = [_oil(row) for row in self.palette.rows if cell_text(row, "id")]
        used = {oil.get("note") or catalogue.oil(oil["id"]).note for oil in oils}
        ratio = {n: parts.number_of(self.parts[n].value) for n in NOTES if n in used}
        return document | {"strength": self.strength.value, "note_parts": ratio, "oils": oils}

    def show(self, document: Mapping[str, Any]) -> None:
        """Set every control from a document; reports one change at the end."""
        self._set(document)
        self._report()

    def mix_along(self, blends: Sequence[Mapping[str, Any]]) -> None:
        """Let the class mix along set blends, or freely where there is none."""
        self.blends = list(blends)
        for widget in self._free_only:
            widget.layout.display = "none" if self.blends else None
        self._report()

    def _set(self, document: Mapping[str, Any]) -> None:
        with raise_flag(self, "_is_quiet"):
            self._plain = {key: document[key] for key in _PLAIN if key in document}
            for key, box in self.boxes.items():
                box.value = f"{document.get(key, _BOXES[key][3])}"
            seats = document.get("seats", 1)
            entries = seats if isinstance(seats, list) else []
            self.seats.value = f"{len(entries) or seats}"
            sizes = document.get("drops_per_ml", "")
            self.drop_sizes = dict(sizes) if isinstance(sizes, Mapping) else {"default": sizes}
            self.drops_per_ml.value = f"{self.drop_sizes.pop('default', '')}"
            market = {key: document[key] for key in self.market.document if key in document}
            self.market.show(Market(**market))
            self.strength.value = str(document.get("strength", "20 %"))
            for note, share in document.get("note_parts", {}).items():
                if note in self.parts:
                    self.parts[note].value = f"{share}"
            self.palette.rows = [
                {key: f"{oil[key]}" for key in _OIL_KEYS if key in oil}
                for oil in document.get("oils", [])
            ]
            self.carriers.rows = [{"id": str(name)} for name in document.get("carriers", [])]
            self.people.rows = [_seat_row(entry) for entry in entries]
            self.blends = [dict(entry["blend"]) for entry in document.get("blends", [])]
        self._fit_rows()

    def _count(self) -> int:
        """The number of seats; 0 where there are no rows for it."""
        count = parts.number_of(self.seats.value)
        return count if is_whole_number(count, 1, MOST_SEAT_ROWS) else 0

    def _fit_rows(self) -> None:
        """As many rows as seats, and an empty one at the end of every other grid.

        Rows beyond a smaller number of seats wait, in case of a mistake.
        """
        with raise_flag(self, "_is_quiet"):
            for grid in (self.palette, self.carriers):
                if not grid.rows or any(cell_text(grid.rows[-1], key) for key in grid.rows[-1]):
                    grid.rows = [*grid.rows, {}]
            count, there = self._count(), len(self.people.rows)
            if there < count:
                self.people.rows = [*self.people.rows, *({} for _ in range(count - there))]
            note = f"Rows for each seat show for 1 to {MOST_SEAT_ROWS} seats."
            if count:
                extra = counted(there - count, "row")
                note = f"The last {extra} are not counted." if there > count else ""
            self.people_note.value = f'<p class="bk-faint">{note}</p>' if note else ""
            self.people.use_columns(self._people_columns())

    def _report(self, *_: Any) -> None:
        if not self._is_quiet:
            self._fit_rows()
            self._changed()

    def _people_columns(self) -> list[GridColumn]:
        # as many columns as the seat with the most dislikes has, and one more
        most = max((len(_disliked(row)) for row in self.people.rows), default=0)
        disliked = [name for row in self.people.rows for name in _disliked(row)]
        ids = dict.fromkeys([*_filled(self.palette.rows, "id"), *disliked])
        oils = [_NOTHING, *options(ids)]
        return [
            GridColumn("name", "Name, if you like", "150px"),
            GridColumn("answers", "Letters ticked on the form", "130px"),
            GridColumn("cap", "Strength at most, %", "80px"),
            *(
                GridColumn(f"dislike{n or ''}", "nor" if n else "Does not like", "160px", oils)
                for n in range(most + 1)
            ),
        ]

    def _lay_out(self) -> widgets.Widget:
        ratio = [self.parts[note].view for note in NOTES]
        palette = [parts.heading("The palette"), self.palette]
        self._free_only = [self.strength.view, *ratio, *palette]
        box = self.boxes
        details = (self.drops_per_ml, box["headspace"], *self.market.controls, box["margin"])
        return parts.column(
            *(self.name, self.seats, box["tables"], box["starts_at"], self.minutes),
            *(parts.row(box["budget"], box["currency"]), box["bottle"]),
            parts.fold("Drop size, room left empty, and which limits count", *details),
            *self._free_only,
            parts.heading("Carriers"),
            parts.hint(
                "The first carrier is the usual one; the others are for who needs another."
            ),
            self.carriers,
        )


def _filled(rows: Sequence[Mapping[str, Any]], key: str) -> list[str]:
    return [cell_text(row, key) for row in rows if cell_text(row, key)]


def _seat(row: Mapping[str, Any]) -> dict[str, Any]:
    """One seat as the document of a class has it."""
    seat = {
        "name": cell_text(row, "name"),
        **read_answers(cell_text(row, "answers")),
        "dislikes": list(dict.fromkeys(_disliked(row))),
        "strength_cap": parts.with_unit(cell_text(row, "cap"), "%"),
    }
    return {key: value for key, value in seat.items() if value}


def _oil(row: Mapping[str, Any]) -> dict[str, Any]:
    """One oil of the palette as the document of a class has it."""
    typed = {key: cell_text(row, key) for key in _OIL_KEYS if cell_text(row, key)}
    numbers = {key: parts.number_of(typed[key]) for key in _OIL_KEYS[2:] if key in typed}
    return typed | numbers


def _disliked(row: Mapping[str, Any]) -> list[str]:
    return [
        cell_text(row, key) for key in sorted(row) if key.startswith("dislike") and row[key]
    ]


def _seat_row(entry: Mapping[str, Any]) -> dict[str, str]:
    """One seat of a document, as the grid shows it."""
    row = {
        "name": str(entry.get("name", "")),
        "answers": letters_of(entry),
        "cap": str(entry.get("strength_cap", "")),
    }
    dislikes = enumerate(entry.get("dislikes", ()))
    row |= {f"dislike{n or ''}": str(name) for n, name in dislikes}
    return {key: value for key, value in row.items() if value}


def _palette_columns() -> list[GridColumn]:
    oils = sorted(options(catalogue.oil_ids()))
    notes = [("usual", ""), *((note, note) for note in NOTES)]
    return [
        GridColumn("id", "Oil", "190px", [_NOTHING, *oils]),
        GridColumn("note", "Note", "84px", notes),
        GridColumn("popularity", "Popularity", "62px", number=True),
        GridColumn("bottles", "Bottles on the tables", "62px", number=True),
    ]
