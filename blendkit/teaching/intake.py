"""The intake form: a letter for every condition, and the answers a teacher types from it.

The letters follow the order of the table of cautions, so that the printed form and the box on
the screen agree.
"""

import re
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any

from blendkit.skin.cautions import WEARERS
from blendkit.teaching.plan import SUN

CONDITIONS: Mapping[str, str] = MappingProxyType(
    {chr(ord("A") + place): name for place, name in enumerate((SUN, *WEARERS))}
)
_LETTERS = {name: letter for letter, name in CONDITIONS.items()}


def read_answers(typed: str) -> dict[str, Any]:
    """Keys of a seat from typed letters, such as "B G"; any other text stays for the reader.

    Examples
    --------
    >>> read_answers("a, g")
    {'sun_afterwards': True, 'wearers': ['epilepsy or seizures']}
    """
    if typed.strip() in WEARERS:
        return {"wearers": [typed.strip()]}
    words = [word for word in re.split(r"[\s,;.]+", typed.upper()) if word]
    named = list(dict.fromkeys(CONDITIONS.get(word, word) for word in words))
    wearers = [name for name in named if name != SUN]
    sun = {"sun_afterwards": True} if SUN in named else {}
    return {**sun, **({"wearers": wearers} if wearers else {})}


def letters_of(seat: Mapping[str, Any]) -> str:
    """The letters of a seat of a document."""
    wearers: Sequence[str] = seat.get("wearers", ())
    named = [SUN] * bool(seat.get("sun_afterwards")) + [*wearers]
    return " ".join(sorted(_LETTERS.get(name, str(name)) for name in named))
