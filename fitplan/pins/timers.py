"""Timers of a controller that something sets to a frequency of its own, and what else wants them.

A carrier sets the timer of its pin, a tone that of the tone call whatever its pin, and the clock keeps its
own. What is dimmed has no frequency of its own, but not that of a tone or a carrier.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from fitplan.model.electrical import Controller
from fitplan.model.part import Part
from fitplan.pins.wants import PinRequest


@dataclass(frozen=True)
class TimerUse:
    """A timer that a tone or a carrier sets, with all that wants it.

    Attributes
    ----------
    setters
        Tones and carriers, in the order of the wants, each with its pin.
    dimmed
        What is dimmed at its pins.
    clock
        Whether the clock keeps it.
    """

    timer: str
    setters: tuple[tuple[PinRequest, str], ...]
    dimmed: tuple[tuple[PinRequest, str], ...]
    clock: bool

    @property
    def clashes(self) -> bool:
        """True where two frequencies are wanted: tones alone take turns, carriers alone share theirs."""
        return len({want.use for want, _ in self.setters}) + bool(self.dimmed) + self.clock > 1

    @property
    def makes_way(self) -> tuple[PinRequest, ...]:
        """What another pin takes out of a clash: what is dimmed, and carriers beside a tone or the clock."""
        if not self.clashes:
            return ()
        carriers = [want for want, _ in self.setters if want.use == "carrier"]
        beside = self.clock or len(carriers) < len(self.setters)
        return (*(want for want, _ in self.dimmed), *(carriers if beside else ()))


def timers_in_use(part: Part, given: Iterable[tuple[PinRequest, str]]) -> tuple[TimerUse, ...]:
    """Return the timers of a controller that tones and carriers set, in the order of what sets them.

    Parameters
    ----------
    given
        What is wanted of the controller, each with the name of its pin; empty where it has none.
    """
    figures = part.figure(Controller)
    if figures is None:
        return ()
    timers = {pin.name: pin.timer for pin in part.pins}
    setters: dict[str, list[tuple[PinRequest, str]]] = {}
    dimmed: dict[str, list[tuple[PinRequest, str]]] = {}
    for want, pin in given:
        timer = figures.tone_timer if want.use == "tone" else timers.get(pin, "")
        if timer and want.use:
            setters.setdefault(timer, []).append((want, pin))
        elif timer and "pwm" in want.abilities:
            dimmed.setdefault(timer, []).append((want, pin))
    return tuple(
        TimerUse(timer, tuple(users), tuple(dimmed.get(timer, ())), timer == figures.clock_timer)
        for timer, users in setters.items()
    )
