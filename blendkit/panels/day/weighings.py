"""Weighing at home on the fade panel: strokes of the roller, and a drop that dries."""

from typing import Any

from blendkit.blend.blend import Blend
from blendkit.evaporation.home_weighings import DROP, STROKES, Weighing, sentences
from blendkit.foundation.errors import BadNumber, Problem
from blendkit.journal.records import WeighingRow
from blendkit.keeping.clock import keep_weighing, kept_weighings
from blendkit.keeping.open_store import read_or, the_journal
from blendkit.panels.day.parts import Section, WornPanel, offer
from blendkit.panels.kit import parts
from blendkit.skin.check import options

MINUTES = (0, 15, 30, 60, 120)


class WeighingSection(Section):
    """A small form; keeping a weighing narrows the clock of the forecast."""

    def __init__(self, panel: WornPanel) -> None:
        super().__init__(panel, "Nothing was weighed yet.")
        kinds = [("strokes of the roller", STROKES), ("a drop of oil drying", DROP)]
        self.kind = parts.choice("Weigh", kinds)
        box, count = parts.unit_box, parts.text_box
        self.length = box("Patch, length", "cm", "4 cm")
        self.width = box("Patch, width", "cm", "2 cm", placeholder="empty if round")
        self.scale_step = box("Scale's step", "g", "0.01 g")
        self.before = box("Bottle before", "g", placeholder="24.31 g")
        self.after = box("Bottle after", "g", placeholder="24.16 g")
        self.strokes = count("Strokes", "10", "210px")
        self.worn = count("On one patch", "2", "210px", placeholder="strokes you wear")
        self.oil = parts.choice("Oil, undiluted", [])
        self.warmth = box("Room", "°C", "22 °C")
        self.masses = [box(f"At {each} min", "g", placeholder="g") for each in MINUTES]
        of_strokes = parts.column(self.before, self.after, self.strokes, self.worn)
        of_drop = parts.column(self.oil, self.warmth, *self.masses)
        self.forms = {STROKES: of_strokes, DROP: of_drop}
        actions = parts.row(
            self.button("Keep the weighing", self.keep),
            self.button("Undo the last weighing", self.undo),
        )
        self.view = parts.column(
            parts.hint(_HINT),
            *(self.kind, *self.forms.values(), self.length, self.width, self.scale_step),
            *(actions, self.result),
        )
        self.kind.observe(panel.message.guard(self._show_form), "value")
        self._show_form()

    def offer(self, blend: Blend) -> None:
        """Offer the oils of a blend, and say what was weighed, newest first."""
        offer(self.oil, options(part.oil.id for part in blend.oils))
        kept: list[tuple[WeighingRow, Weighing]] = read_or(kept_weighings, [])
        mass_kg = sum(portion.mass_kg for portion in blend.bottle.portions)
        self.tell(line for _, each in reversed(kept) for line in sentences(each, mass_kg))

    def keep(self) -> None:
        """Keep the weighing, and forecast by it."""
        with self.refusing():
            keep_weighing(the_journal(), self.document)
            for box in (self.before, self.after, *self.masses):
                box.value = ""  # else a second press would count them twice
            self._forecast("Kept in your journal.")

    def undo(self) -> None:
        """Withdraw the weighing that was kept last."""
        journal = the_journal()
        rows = journal.all(WeighingRow)
        if not rows:
            raise BadNumber([Problem("weighing", "none kept", "one to undo")])
        journal.withdraw(rows[-1])
        self._forecast("The last weighing is withdrawn.")

    @property
    def document(self) -> dict[str, Any]:
        """The weighing as typed."""
        shared = {"length": self.length, "width": self.width, "scale_step": self.scale_step}
        typed: dict[str, Any] = {name: box.quantity for name, box in shared.items()}
        typed["kind"] = self.kind.value
        if self.kind.value == STROKES:
            counts = {"strokes": self.strokes, "worn": self.worn}
            typed |= {name: parts.number_of(box.value) for name, box in counts.items()}
            return typed | {"before": self.before.quantity, "after": self.after.quantity}
        at = zip(MINUTES, self.masses, strict=True)
        typed["readings"] = [[minute, box.quantity] for minute, box in at if box.quantity]
        return typed | {"oil": self.oil.value, "temperature": self.warmth.quantity}

    def _forecast(self, words: str) -> None:
        self.panel.use.value = True
        self.panel.update()
        self.panel.message.say(words)

    def _show_form(self) -> None:
        for kind, form in self.forms.items():
            form.layout.display = None if kind == self.kind.value else "none"


_HINT = (
    "Strokes: weigh the bottle, roll ten strokes, weigh again, and measure the patch that you "
    "wear it on. A drop: set the scale to zero with a slide on it, spread a drop of one oil, "
    "measure it, and weigh it as it dries. A round patch (draw around a coin) has no width."
)
