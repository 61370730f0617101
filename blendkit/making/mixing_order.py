"""At the bench: the order in which to mix, what to sniff first, and what to mind.

Everything here is text and numbers; `showing.tables` and `showing.sheets` show it.
"""

from __future__ import annotations

from dataclasses import dataclass

from blendkit.blend.filling import Filling, Portion
from blendkit.blend.rounding import Miniature, miniatures
from blendkit.foundation.units import ML_PER_M3, show
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


@dataclass(frozen=True)
class Step:
    """One line of the bench sheet.

    Attributes
    ----------
    action : str
        What to do, in words.
    portion : Portion or None
        What to add, where something is added.
    """

    action: str
    portion: Portion | None = None


def mixing_steps(filling: Filling) -> list[Step]:
    """What to do in which order: base, middle, swirl, top, swirl and sniff, carriers, shake.

    Common practice, no published source.
    """
    steps: list[Step] = []
    for note in ("base", "middle"):
        steps += [
            Step(f"Add the {note} note", p) for p in filling.oils if p.note == note and p.drops
        ]
    if steps:
        steps.append(Step("Swirl gently"))
    steps += [Step("Add the top note", p) for p in filling.oils if p.note == "top" and p.drops]
    steps.append(Step("Swirl, then sniff from a blotter. Adjust now, and write it down"))
    if filling.fields.botanicals_m3:
        volume = show(filling.fields.botanicals_m3 * ML_PER_M3)
        steps.append(
            Step(f"Put in the dried botanicals (about {volume} mL of liquid displaced)")
        )
    steps += [Step("Pour the carrier", portion) for portion in filling.carriers]
    steps.append(Step(_fill_mark(filling)))
    return steps


def _fill_mark(filling: Filling) -> str:
    room = filling.fields.headspace_m3 * ML_PER_M3
    level = f"stop {show(room)} mL below the mark" if room else "stop at the mark"
    return f"The bottle should be full: {level}. Press the ball in, cap, shake, label"


def bench_cautions(filling: Filling) -> list[str]:
    """What to mind with this very bottle, one line a topic; general cautions last.

    `blendkit.skin.cautions` has all of them, with their sources and grades.
    """
    of_blend = [caution for caution in cautions_for(filling.fields) if caution.because_of]
    found = []
    for topic in _AT_THE_BENCH:
        # the strictest comes first; its text stands for the others of its topic
        same = [caution for caution in of_blend if caution.topic == topic]
        if same:
            causes = ", ".join(dict.fromkeys(caution.because_of for caution in same))
            found.append(f"{topic.capitalize()}, {same[0].who}: {same[0].text} ({causes})")
    return [*found, *GENERAL_CAUTIONS]


def sniff_test(filling: Filling) -> Miniature | None:
    """The whole-drop miniature to sniff before mixing, on one cotton round or blotter.

    Parameters
    ----------
    filling : Filling

    Returns
    -------
    Miniature or None
        The smallest one whose shares lie near enough to the blend's, or else the nearest there
        is; None where no small number of drops holds every oil.
    """
    copies = miniatures(filling)
    near = [copy for copy in copies if copy.largest_error <= _NEAR_ENOUGH]
    return next(iter(near or copies[-1:]), None)
