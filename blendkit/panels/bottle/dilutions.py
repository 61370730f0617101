"""One press that makes the dilution for an oil too little to count, and uses it."""

from functools import partial

from blendkit.blend.filling import Filling
from blendkit.blend.rounding import LeftOut, list_left_out
from blendkit.foundation.units import show
from blendkit.keeping.own_materials import keep_mixture
from blendkit.materials import catalogue
from blendkit.panels.bottle.blend_editor import BlendEditor
from blendkit.panels.kit.parts import Message, button, column


class Dilutions:
    """A button for each oil of a blend whose share comes to less than a drop.

    Attributes
    ----------
    view : ipywidgets.VBox
    """

    def __init__(self, editor: BlendEditor, message: Message) -> None:
        self.editor, self.message = editor, message
        self.view = column()
        self._offered: list[LeftOut] = []

    def offer(self, filling: Filling) -> None:
        """Offer a dilution of each oil that gets no drop; none without a carrier."""
        before = [each.material for each in self._offered]
        self._offered = list_left_out(filling) if filling.carriers else []
        if [each.material for each in self._offered] == before:
            return
        buttons = (
            button(
                f"Use a {show(float(each.predilution) * 100)} % dilution of {each.name}",
                self.message.guard(partial(self.use, each.material)),
            )
            for each in self._offered
        )
        self.view.children = column(*buttons).children

    def use(self, oil_id: str) -> None:
        """Keep the dilution of an oil as a material, and put its drops in the blend."""
        left = next((each for each in self._offered if each.material == oil_id), None)
        if left is None:  # a press that was on its way while the blend changed
            return
        carrier = max(left.fields.carriers, key=lambda part: part.parts).carrier
        percent = float(left.predilution) * 100
        name = f"{left.name} {show(percent)} % in {carrier.name}"
        by = "drops" if left.fields.step_kg is None else "mass"
        note = next(part.note for part in left.fields.oils if part.oil.id == oil_id)
        amounts = {oil_id: percent, carrier.id: 100 - percent}
        made = keep_mixture(name, amounts, by, note=note)
        self.editor.list_materials()
        self.editor.show(self._with(left, catalogue.pinned(made.id)))
        amount = left.fields.count_in_words(left.predilution_drops)
        self.message.say(
            f"Kept {made.name} as a material, and put {amount} of it in. Enter a batch of it "
            "in notebook 02 once it is mixed."
        )

    def _with(self, left: LeftOut, dilution: str) -> dict[str, object]:
        document = self.editor.document
        for place, entry in enumerate(document["oils"]):
            if entry["id"] == left.material:
                fixed = {"id": dilution, "note": entry["note"], "parts": entry.get("parts", 1)}
                document["oils"][place] = {**fixed, "drops": left.predilution_drops}
        return document
