"""Sentences about drop sizes and rounding."""

from blendkit.blend.behaviour import bottle_behaviour
from blendkit.blend.blend import Blend
from blendkit.blend.filling import Filling
from blendkit.blend.rounding import exact_totals_near, largest_rounding_error, list_left_out
from blendkit.foundation.units import show, show_g


def drop_sizes_in_words(filling: Filling) -> str:
    """The drop sizes, or the step of the scale, that a filling was counted with."""
    fields = filling.fields
    if fields.step_kg is not None:
        return f"Weighed in steps of {show_g(fields.step_kg)}."
    default = f"Counted at {show(fields.drops_per_ml['default'])} drops to the millilitre"
    own = [
        f"{portion.name} {show(fields.dropper_of(portion.material))}"
        for portion in filling.oils
        if portion.material in fields.drops_per_ml
    ]
    return f"{default} ({', '.join(own)})." if own else f"{default}."


def behaviour(filling: Filling, kinds: tuple[str, ...] = ()) -> list[str]:
    """Sentences about how the content may behave, with sources; `kinds` alone where named."""
    found = []
    for remark in bottle_behaviour(filling):
        if remark.behaviour == "not on record":
            words = f"No figure on record. {remark.text}"
        else:
            words = f"{remark.text} ({remark.source}; {remark.grade})"
        if not kinds or remark.behaviour in kinds:
            found.append(words)
    return found


def remarks(blend: Blend) -> list[str]:
    """Sentences about what whole drops do to the ratio; none where they keep it exactly."""
    found = [str(oil) for oil in list_left_out(blend.bottle)]
    error = largest_rounding_error(blend.bottle)
    if error > 0.005:
        if blend.step_kg is not None:
            off = show_g(error * blend.step_kg, 2)
            return [*found, f"Whole steps of the scale miss the ratio by up to {off}."]
        made = blend.bottle.oil_drops
        totals = [total for total in exact_totals_near(blend) if total != made]
        sentence = f"Whole drops miss the ratio by up to {show(error, 2)} of a drop."
        if totals:
            offer = " or ".join(str(total) for total in totals[:3])
            found.append(f"{sentence} With {offer} drops in all it would be exact.")
        else:
            near = f"within a tenth of {blend.total_drops}"
            found.append(f"{sentence} No number of drops {near} makes it exact.")
    return found
