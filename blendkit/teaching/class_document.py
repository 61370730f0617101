"""A class as it is planned: seats, oils on the tables, and set blends.

A class mixes either freely from one palette or along a few set blends. `class_reader` makes a
`ClassPlan` from a document; `plan` and its neighbours work on it.
"""

import copy
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from blendkit.blend.apportionment import whole_drops
from blendkit.blend.blend import Blend
from blendkit.blend.fields import Fields
from blendkit.blend.market import Market
from blendkit.foundation.errors import Refused
from blendkit.materials import catalogue

TOO_YOUNG = "child under 3"  # nothing of a class goes on such a child


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
    strength_cap : float or None
        The most that the teacher allows here, by drops; there is no default. [-]
    leaves_out, marked : tuple of str
        On a learner's laptop, in place of every reason: ids of what this seat leaves out, and
        of what a caution is on record for, "" among them for whatever is in the bottle.
    """

    number: int
    name: str = ""
    wearers: tuple[str, ...] = ()
    sun_afterwards: bool = False
    dislikes: tuple[str, ...] = ()
    strength_cap: float | None = None
    leaves_out: tuple[str, ...] = ()
    marked: tuple[str, ...] = ()

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
        How readily it is picked relative to the others of its note; only proportions count.
    bottles : int
        Bottles of it on the tables.
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


@dataclass(frozen=True)
class ClassPlan:
    """A class, checked. Make one with `class_reader.read_class`.

    Attributes
    ----------
    name : str
    seats : tuple of Seat
    tables, minutes : int
    budget : float or None
    currency : str
    fields : Fields
        Bottle, strength, drop sizes, notes, oils and carriers, as a blend has them.
    oils : tuple of PaletteOil
        From the base up, as they go into a bottle.
    blends : tuple of ClassBlend
        Empty where everybody mixes freely.
    market : Market
        Which limits the skin check counts.
    spillage : float
        Share on top of what is counted out. [-]
    sniffing_drops : int
        Drops of each oil for blotters.
    margin : float
        The share of each limit that the card may use. [-]
    starts_at_min : int or None
        Beginning of the class, from midnight. [minutes]
    """

    name: str
    seats: tuple[Seat, ...]
    tables: int
    minutes: int
    budget: float | None
    currency: str
    fields: Fields
    oils: tuple[PaletteOil, ...]
    blends: tuple[ClassBlend, ...]
    market: Market
    spillage: float
    sniffing_drops: int
    margin: float
    starts_at_min: int | None
    _document: Mapping[str, Any] = field(repr=False)

    def to_dict(self) -> dict[str, Any]:
        """The document this class was read from, unchanged."""
        return copy.deepcopy(dict(self._document))

    @property
    def is_free(self) -> bool:
        """True where seats mix freely from the palette."""
        return not self.blends

    @property
    def carriers(self) -> tuple[catalogue.Carrier, ...]:
        """The usual carrier, then those for whoever needs another."""
        return tuple(part.carrier for part in self.fields.carriers)

    @property
    def materials(self) -> dict[str, catalogue.Oil | catalogue.Carrier]:
        """Its oils and carriers, by id."""
        oils: list[catalogue.Oil | catalogue.Carrier] = [each.oil for each in self.oils]
        return {each.id: each for each in (*oils, *self.carriers)}

    @cached_property
    def total_drops(self) -> int:
        """Most drops of oil in one bottle, at the class's strength."""
        return round(self.fields.strength_fraction * self.fields.drops_that_fill)

    def drops_by_note(self, total: int) -> dict[str, int]:
        """Drops of each note in a bottle of a total, such as that of a capped seat."""
        return whole_drops(self.fields.note_parts, total)

    def most_drops(self, seat: Seat) -> int:
        """Most drops of oil for one seat: the class's, or what its cap leaves."""
        if seat.strength_cap is None:
            return self.total_drops
        capped = math.floor(seat.strength_cap * self.fields.drops_that_fill + 1e-9)
        return min(self.total_drops, capped)

    def seat_named(self, name: str) -> Seat | None:
        """The seat of a name or of an account such as "seat-03"; None where there is none."""
        number = re.fullmatch(r"seat[ -]0*(\d+)", name.strip().casefold())
        for seat in self.seats:
            if name.strip() == seat.label or (number and int(number[1]) == seat.number):
                return seat
        return None

    def of_note(self, note: str) -> tuple[PaletteOil, ...]:
        """The oils of one note."""
        return tuple(each for each in self.oils if each.note == note)
