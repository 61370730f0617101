"""Mixing order, sniff test and cautions of a bench sheet.

Everything here is text and numbers; `blendkit.showing.bottle` shows it.
"""

from typing import NamedTuple

from blendkit.blend.filling import Filling, Portion
from blendkit.blend.rounding import Miniature, miniatures
from blendkit.foundation.units import ML_PER_M3, show, show_ml
from blendkit.skin.cautions import cautions_for

SNIFF_TIMES = ("now", "10 min", "1 h", "next day")
GENERAL_CAUTIONS = (
    "Patch test first: a coin-sized spot inside the elbow, twice a day for 7 to 10 days; "
    "notebook 03 has the steps.",
    "Keep away from eyes, lips, broken skin and mucous membranes; from children, pets, flames.",
    "Not for children under 3. When pregnant, breast-feeding, or living with epilepsy or "
    "asthma, ask a doctor or pharmacist first. Undiluted oils do not go on skin.",
    "This sheet is no skin assessment: your suppliers' certificates, local law and a "
    "qualified assessor decide.",
)
_NEAR_ENOUGH = 0.02  # of an oil's share of the drops (judgement)
_AT_THE_BENCH = (
    "sun",
    "nut and seed allergy",
    "pregnancy and breastfeeding",
    "epilepsy and seizures",
    "small children",
)


class MixingStep(NamedTuple):
    """One line of the bench sheet.

    Attributes
    ----------
    action : str
        Instruction in words.
    portion : Portion or None
        Portion to add, where there is one.
    """

    action: str
    portion: Portion | None = None


def mixing_steps(filling: Filling) -> list[MixingStep]:
    """List the steps in order: base, middle, swirl, top, swirl and sniff, carriers, shake.

    Common practice, no published source.
    """
    weighed = filling.fields.step_kg is not None
    until = " until the scale shows" if weighed else ""

    def add(note: str) -> list[MixingStep]:
        oils = (oil for oil in filling.oils if oil.note == note and oil.drops)
        return [MixingStep(f"Add the {note} note{until}", oil) for oil in oils]

    tare = MixingStep("Put the empty bottle on the scale and set it to zero")
    steps = [tare] * weighed + [*add("base"), *add("middle")]
    if len(steps) > weighed:
        steps.append(MixingStep("Swirl gently"))
    steps += add("top")
    steps.append(MixingStep("Swirl, then sniff from a blotter. Adjust now, and write it down"))
    if filling.fields.botanicals_m3:
        displaced = f"{show_ml(filling.fields.botanicals_m3)} of liquid displaced"
        steps.append(MixingStep(f"Put in the dried botanicals (about {displaced})"))
    steps += [MixingStep(f"Pour the carrier{until}", portion) for portion in filling.carriers]
    steps.append(MixingStep(_fill_mark(filling)))
    return steps


def _fill_mark(filling: Filling) -> str:
    last = "Press the ball in, cap, shake, label"
    if filling.fields.make_kg is not None:
        return last
    room = filling.fields.headspace_m3 * ML_PER_M3
    way = "below" if room > 0 else "above"
    level = f"stop {show(abs(room))} mL {way} the mark" if room else "stop at the mark"
    return f"The bottle should be full: {level}. {last}"


def bench_cautions(filling: Filling) -> list[str]:
    """List the cautions of this bottle, one line a topic; general cautions last.

    `blendkit.skin.cautions` has all of them, with their sources and grades.
    """
    of_blend = [caution for caution in cautions_for(filling.fields) if caution.because_of]
    cautions = []
    for topic in _AT_THE_BENCH:
        # the strictest comes first; its text covers the others of its topic
        same = [caution for caution in of_blend if caution.topic == topic]
        if same:
            causes = ", ".join(dict.fromkeys(caution.because_of for caution in same))
            cautions.append(f"{topic.capitalize()}, {same[0].who}: {same[0].text} ({causes})")
    return [*cautions, *GENERAL_CAUTIONS]


def sniff_test(filling: Filling) -> Miniature | None:
    """Find the whole-drop miniature to sniff before mixing, on one cotton round or blotter.

    Parameters
    ----------
    filling : Filling

    Returns
    -------
    Miniature or None
        The smallest one whose shares are close enough to the blend's, or else the nearest;
        None where no small number of drops holds every oil.
    """
    copies = miniatures(filling)
    near = [copy for copy in copies if copy.largest_error <= _NEAR_ENOUGH]
    return next(iter(near or copies[-1:]), None)
