"""What a controller's pins do, and what is soldered between them and what they feed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class PinUse:
    """One row of the pin map: a controller's pin, the net on it, and what it does there."""

    controller: str
    pin: str
    net: str
    serves: str
    """``need.pin`` at the other end."""
    does: str
    program: str = ""
    """What a program calls the pin; empty: nothing but its label is known."""


@dataclass(frozen=True)
class Resistor:
    """A resistor in series with a part on a controller's pin: ``ohm`` from series E24.

    ``owner`` and ``pin`` say what it protects, ``net`` in which net; ``power_w`` is the heat that it gives
    off, ``rated_w`` what it is rated for; ``place`` is the lead that it is soldered into, or its board.
    """

    owner: str
    pin: str
    net: str
    ohm: float
    current_ma: float
    power_w: float
    rated_w: float
    place: Literal["lead", "board"]

    @property
    def words(self) -> str:
        """Its value and the power that it is rated for: ``resistor 270 Ω, 0.25 W``."""
        value = f"{self.ohm / 1000:g} kΩ" if self.ohm >= 1000 else f"{self.ohm:g} Ω"
        return f"resistor {value}, {self.rated_w:g} W"
