"""The controls that write the document of a class: what, who, and the palette."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import ipywidgets as widgets

from blendkit.blend.market import Market
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import counted
from blendkit.materials import catalogue
from blendkit.panels.kit import parts
from blendkit.panels.kit.entry_grid import EntryGrid, GridColumn, cell_text
from blendkit.panels.kit.market_choice import MarketChoice
from blendkit.skin.check import options
from blendkit.teaching.class_reader import USUAL_MARGIN
from blendkit.teaching.intake import letters_of, read_answers

MOST_SEAT_ROWS = 60
_NOTHING = ("–", "")
_OIL_KEYS = ("id", "note", "popularity", "bottles")
# what has no control of its own comes back as it came
_MARKET = ("region", "use")
_PLAIN = ("spillage", "sniffing_drops")


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
        self._quiet = False
        self._plain: dict[str, Any] = {}
        self.drop_sizes: dict[str, Any] = {}
        self.blends: list[Mapping[str, Any]] = []
        self.name = parts.text_box("Name", width="380px")
        self.seats = parts.text_box("Seats", width="190px")
        self.tables = parts.text_box("Tables", width="190px")
        self.minutes = parts.text_box("Minutes", width="190px")
        self.starts_at = parts.text_box("Starts at", width="190px", placeholder="18:30")
        self.budget = parts.text_box("Budget, if any", width="210px")
        self.currency = widgets.Text(
            tooltip="currency", continuous_update=False, layout=widgets.Layout(width="66px")
        )
        self.bottle = parts.unit_box("Bottle", "mL")
        self.headspace = parts.unit_box("Left empty", "mL")
        self.drops_per_ml = parts.text_box("Drops in 1 mL", width="210px")
        self.margin = parts.unit_box("Use of a limit", "%")
        self.market = MarketChoice(self._report)
        self.strength = parts.SlidingNumber("Strength, up to", "20 %", 1, 40, 1, "%")
        self.parts = {
            note: parts.SlidingNumber(f"{note.capitalize()} parts", "1", 0.5, 6, 0.5)
            for note in NOTES
        }
        self.palette = EntryGrid("The palette", _palette_columns())
        self.carriers = EntryGrid("Carriers", [_carrier_column()])
        self.people = EntryGrid("Seats and what each leaves out", [])
        self.people_note = widgets.HTML()
        self.view = self._lay_out()
        self._set(document)
        boxes = (
            self.name, self.starts_at, self.tables, self.minutes, self.budget, self.currency,
            self.bottle, self.headspace, self.drops_per_ml, self.margin,
        )  # fmt: skip
        for box in boxes:
            box.observe(self._report, "value")
        self.seats.observe(self._follow_seats, "value")
        for number in (self.strength, *self.parts.values()):
            number.on_change(self._report)
        for grid in (self.palette, self.carriers):
            grid.observe(self._grow, "rows")
        self.people.observe(self._follow_people, "rows")

    @property
    def document(self) -> dict[str, Any]:
        """The document of the controls, good or bad."""
        document: dict[str, Any] = {
            **self._plain,
            "name": self.name.value,
            "seats": self._seats(),
            "tables": parts.number_of(self.tables.value),
            "minutes": parts.number_of(self.minutes.value),
            "starts_at": self.starts_at.value.strip(),
            "bottle": self.bottle.quantity,
            **self.market.document,
            "margin": self.margin.quantity,
            "carriers": _filled(self.carriers.rows, "id"),
        }
        if self.headspace.value.strip():
            document["headspace"] = self.headspace.quantity
        if self.drops_per_ml.value.strip():
            size = parts.number_of(self.drops_per_ml.value)
            document["drops_per_ml"] = {"default": size, **self.drop_sizes}
        if self.budget.value.strip():
            document["budget"] = parts.number_of(self.budget.value)
            document["currency"] = self.currency.value.strip()
        if self.blends:
            return document | {"blends": [{"blend": dict(blend)} for blend in self.blends]}
        oils = self._oils()
        used = {oil.get("note") or catalogue.oil(oil["id"]).note for oil in oils}
        ratio = {n: parts.number_of(self.parts[n].value) for n in NOTES if n in used}
        return document | {
            "strength": self.strength.value,
            "note_parts": ratio,
            "oils": oils,
        }

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
        self._quiet = True
        try:
            self._plain = {key: document[key] for key in _PLAIN if key in document}
            self.name.value = str(document.get("name", ""))
            seats = document.get("seats", 1)
            entries = seats if isinstance(seats, list) else []
            self.seats.value = f"{len(entries) or seats}"
            self.tables.value = f"{document.get('tables', 1)}"
            self.minutes.value = f"{document.get('minutes', 90)}"
            self.starts_at.value = str(document.get("starts_at", ""))
            self.budget.value = f"{document.get('budget', '')}"
            self.currency.value = str(document.get("currency", ""))
            self.bottle.value = str(document.get("bottle", ""))
            self.headspace.value = str(document.get("headspace", ""))
            sizes = document.get("drops_per_ml", "")
            self.drop_sizes = dict(sizes) if isinstance(sizes, Mapping) else {"default": sizes}
            self.drops_per_ml.value = f"{self.drop_sizes.pop('default', '')}"
            self.margin.value = str(document.get("margin", USUAL_MARGIN))
            self.market.show(Market(**{k: document[k] for k in _MARKET if k in document}))
            self.strength.value = str(document.get("strength", "20 %"))
            for note, share in document.get("note_parts", {}).items():
                if note in self.parts:
                    self.parts[note].value = f"{share}"
            oils = [
                {key: f"{oil[key]}" for key in _OIL_KEYS if key in oil}
                for oil in document.get("oils", [])
            ]
            self.palette.rows = [*oils, {}]
            carriers = [{"id": str(name)} for name in document.get("carriers", [])]
            self.carriers.rows = [*carriers, {}]
            self.people.rows = [_seat_row(entry) for entry in entries]
            self.people.use_columns(self._people_columns())
            self.blends = [dict(entry["blend"]) for entry in document.get("blends", [])]
            self._fit_people()
        finally:
            self._quiet = False

    def _oils(self) -> list[dict[str, Any]]:
        oils = []
        for row in self.palette.rows:
            if not cell_text(row, "id"):
                continue
            oil: dict[str, Any] = {"id": cell_text(row, "id")}
            if cell_text(row, "note"):
                oil["note"] = cell_text(row, "note")
            for key in ("popularity", "bottles"):
                if cell_text(row, key):
                    oil[key] = parts.number_of(cell_text(row, key))
            oils.append(oil)
        return oils

    def _seats(self) -> Any:
        """Each seat with what it leaves out; the bare number where there are no rows for it."""
        count = parts.number_of(self.seats.value)
        if not isinstance(count, int) or not 1 <= count <= MOST_SEAT_ROWS:
            return count
        return [_seat(row) for row in self.people.rows[:count]]

    def _follow_seats(self, _: Any = None) -> None:
        self._fit_people()
        self._report()

    def _fit_people(self) -> None:
        """As many rows as seats; rows beyond a smaller number wait, in case of a mistake."""
        count = parts.number_of(self.seats.value)
        if not isinstance(count, int) or not 1 <= count <= MOST_SEAT_ROWS:
            note = f"Rows for each seat show for 1 to {MOST_SEAT_ROWS} seats."
            self.people_note.value = f'<p class="bk-faint">{note}</p>'
            return
        rows = list(self.people.rows)
        if len(rows) < count:
            self.people.rows = [*rows, *({} for _ in range(count - len(rows)))]
        extra = max(0, len(rows) - count)
        note = f"The last {counted(extra, 'row')} are not counted." if extra else ""
        self.people_note.value = f'<p class="bk-faint">{note}</p>' if note else ""

    def _grow(self, change: Any) -> None:
        """Keep one empty row at the end, and offer seats the oils there are to dislike."""
        grid, rows = change["owner"], change["new"]
        if not rows or any(cell_text(rows[-1], key) for key in rows[-1]):
            grid.rows = [*rows, {}]
            return
        self.people.use_columns(self._people_columns())
        self._report()

    def _follow_people(self, _: Any) -> None:
        self.people.use_columns(self._people_columns())
        self._report()

    def _report(self, *_: Any) -> None:
        if not self._quiet:
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
        return parts.column(
            *(self.name, self.seats, self.tables, self.starts_at, self.minutes),
            parts.row(self.budget, self.currency),
            self.bottle,
            parts.fold(
                "Drop size, room left empty, and which limits count",
                *(self.drops_per_ml, self.headspace, *self.market.controls, self.margin),
            ),
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


def _carrier_column() -> GridColumn:
    return GridColumn("id", "Carrier", "240px", [_NOTHING, *parts.carrier_options()])
