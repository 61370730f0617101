"""A class as it is planned: its document, checked.

A class mixes either freely from one palette or along a few set blends.
`blendkit.teaching.plan` and its neighbours work on the `ClassPlan` that comes out.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from blendkit.blend.apportionment import whole_drops
from blendkit.blend.fields import Fields
from blendkit.blend.market import Market
from blendkit.materials import catalogue
from blendkit.teaching.class_parts import BadClass, ClassBlend, PaletteOil, Seat
from blendkit.teaching.class_reader import ClassReader, drops_that_fill


@dataclass(frozen=True)
class ClassPlan:
    """A class, checked. Make one with `ClassPlan.from_dict`.

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
    _document: Mapping[str, Any] = field(repr=False)

    @classmethod
    def from_dict(cls, document: Mapping[str, Any]) -> ClassPlan:
        """Read and check the document of a class.

        Raises
        ------
        BadClass
            Lists every problem found.
        """
        reader = ClassReader(document)
        found = reader.read()
        if reader.problems:
            raise BadClass(reader.problems)
        return cls(**found, _document=copy.deepcopy(dict(document)))

    def to_dict(self) -> dict[str, Any]:
        """The document this class was read from, unchanged."""
        return copy.deepcopy(dict(self._document))

    @property
    def is_free(self) -> bool:
        """Whether seats mix freely from the palette."""
        return not self.blends

    @property
    def carriers(self) -> tuple[catalogue.Carrier, ...]:
        """The usual carrier, then those for whoever needs another."""
        return tuple(part.carrier for part in self.fields.carriers)

    @cached_property
    def total_drops(self) -> int:
        """Most drops of oil in one bottle, at the class's strength."""
        return round(self.fields.strength_fraction * drops_that_fill(self.fields))

    @cached_property
    def note_drops(self) -> dict[str, int]:
        """Drops that each note gets in a free bottle, as the note ratio says."""
        return whole_drops(self.fields.note_parts, self.total_drops)

    def of_note(self, note: str) -> tuple[PaletteOil, ...]:
        """The oils of one note."""
        return tuple(each for each in self.oils if each.note == note)
