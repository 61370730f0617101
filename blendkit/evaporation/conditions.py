"""Conditions of wear, as people write them and as the film needs them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from blendkit.foundation.errors import Problem, attempt, near_miss, quoted, refuse_any
from blendkit.foundation.units import KELVIN_AT_0_CELSIUS, to_si

if TYPE_CHECKING:
    from pint import Quantity

INDOOR_AIR_SPEED_M_PER_S = 0.2
SURFACES = ("skin", "blotter")
# Vapour at the nose over that at the film; judgement. 1e-3 m/s over 10 cm2 of skin feeds 1 mL/s
# of saturated air; it meets a plume of 1 L/s at arm's length, and 5 L/s of fresh air in a room
NOSES: Mapping[str, float] = {"wrist": 0.1, "arm's length": 1e-3, "room": 2e-4}
# Air over the film in words [m/s]; the sleeve is a layer of still air (judgement)
AIRS: Mapping[str, str] = {
    "bare": "0.2 m/s", "under a sleeve": "0.03 m/s", "outdoors": "1.5 m/s",
}  # fmt: skip
# Skin in words; judgements about cold hands and about skin in a warm room
SKINS: Mapping[str, str] = {"cold hands": "26 degC", "warm room": "34 degC"}
SKIN_TEMPERATURE, BLOTTER_TEMPERATURE = "32 degC", "22 degC"


@dataclass(frozen=True)
class Conditions:
    """Conditions of wear. Make one with `Conditions.read`, units and all.

    Attributes
    ----------
    temperature_k : float
        Of the skin, or of the blotter. [K]
    film_kg_per_m2 : float
        What was put on, carrier and all. [kg/m2]
    air_speed_m_per_s : float
    surface : str
        "skin", or "blotter": a bare strip with the oils alone, which takes nothing up.
    nose : str
        Where it is smelt: a key of `NOSES`.
    clock_factor : float
        Times come out this many times longer than the plain model says; 1 unless learnt. [-]
    """

    temperature_k: float = KELVIN_AT_0_CELSIUS + 32
    film_kg_per_m2: float = 0.02
    air_speed_m_per_s: float = INDOOR_AIR_SPEED_M_PER_S
    surface: str = "skin"
    clock_factor: float = 1.0
    nose: str = "wrist"

    @property
    def dilution(self) -> float:
        """Vapour at the nose over that at the film. [-]"""
        return NOSES[self.nose]

    @classmethod
    def read(
        cls,
        skin_temperature: str | Quantity[Any] | None = None,
        film: str | Quantity[Any] = "20 g/m**2",
        air_speed: str | Quantity[Any] = "bare",
        surface: str = "skin",
        clock_factor: float = 1.0,
        nose: str = "wrist",
    ) -> Conditions:
        """Conditions as people write them.

        Parameters
        ----------
        skin_temperature : str, optional
            "cold hands", "warm room", or from 15 to 40 degC. "32 degC" on skin, "22 degC" on a
            blotter, where left out.
        film : str, optional
            Load, from 1 to 200 g/m**2; a roll-on leaves about 20 (common practice for tests of
            what is spread on skin, no published figure for a roller).
        air_speed : str, optional
            "bare" (indoors), "under a sleeve", "outdoors", or a speed from 0.02 to 5 m/s.
        surface : str, optional
        clock_factor : float, optional
            From 0.02 to 50.
        nose : str, optional
            "wrist", "arm's length" or "room".

        Raises
        ------
        BadNumber
            Lists every problem.
        """
        if skin_temperature is None:
            skin_temperature = BLOTTER_TEMPERATURE if surface == "blotter" else SKIN_TEMPERATURE
        elif isinstance(skin_temperature, str):
            skin_temperature = SKINS.get(skin_temperature, skin_temperature)
        if isinstance(air_speed, str):
            air_speed = AIRS.get(air_speed, air_speed)
        wanted = (
            ("skin_temperature", skin_temperature, "K", 288.15, 313.15, "15 to 40 °C"),
            ("film", film, "kg/m**2", 0.001, 0.2, "1 to 200 g/m²"),
            ("air_speed", air_speed, "m/s", 0.02, 5.0, "0.02 to 5 m/s"),
        )
        words = (("surface", surface, SURFACES), ("nose", nose, tuple(NOSES)))
        problems = [
            Problem(name, quoted(word), " or ".join(known), near_miss(word, known))
            for name, word, known in words
            if word not in known
        ]
        numbers = []
        for name, value, unit, low, high, span in wanted:
            number = attempt(problems, to_si, value, unit, name=name)
            numbers.append(number or 0.0)
            if number is not None and not low * (1 - 1e-9) <= number <= high * (1 + 1e-9):
                problems.append(Problem(name, quoted(value), f"from {span}"))
        if not isinstance(clock_factor, int | float) or not 0.02 <= clock_factor <= 50:
            needed = "a number from 0.02 to 50; 1 where nothing was learnt"
            problems.append(Problem("clock_factor", quoted(clock_factor), needed))
        refuse_any(problems)
        temperature_k, load, speed = numbers
        return cls(temperature_k, load, speed, surface, float(clock_factor), nose)
