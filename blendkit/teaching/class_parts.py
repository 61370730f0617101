"""What a class is made of: its seats, the oils on its tables and the blends it may follow."""

from __future__ import annotations

from dataclasses import dataclass

from blendkit.blend.blend import Blend
from blendkit.foundation.errors import Refused
from blendkit.materials import catalogue


class BadClass(Refused):
    """A class that cannot be planned as written."""

    heading = "This class cannot be planned as written"


@dataclass(frozen=True)
class Seat:
    """One learner's place.

    Attributes
    ----------
    number : int
        From 1.
    name : str
        As typed; "" where the seat has only its number.
    wearers : tuple of str
        Keys of `blendkit.skin.cautions.WEARERS` that hold for whoever will wear the bottle.
    sun_afterwards : bool
        Whether the skin will meet sunlight or a tanning lamp within a day.
    dislikes : tuple of str
        Ids of oils that this seat does not want.
    """

    number: int
    name: str = ""
    wearers: tuple[str, ...] = ()
    sun_afterwards: bool = False
    dislikes: tuple[str, ...] = ()

    @property
    def label(self) -> str:
        """Its name, or "Seat 3"."""
        return self.name or f"Seat {self.number}"


@dataclass(frozen=True)
class PaletteOil:
    """One oil on the tables.

    Attributes
    ----------
    oil : Oil
    note : str
    popularity : float
        How readily it is picked beside the others of its note; only proportions count.
    bottles : int
        Bottles of it that stand on the tables.
    """

    oil: catalogue.Oil
    note: str
    popularity: float = 1.0
    bottles: int = 1


@dataclass(frozen=True)
class ClassBlend:
    """One set blend that seats may choose, in the class's bottle, with its popularity."""

    blend: Blend
    popularity: float = 1.0
