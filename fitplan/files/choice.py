"""From what is asked of a part to the parts of the catalogue that may serve, the preferred first."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from fitplan.model.electrical import Bank, CellPack, Controller, Regulator
from fitplan.model.matching import all_served
from fitplan.model.part import PIN_ROLES, Can, Part, Pin

NOMINAL_VOLTS = {"alkaline": 1.5, "nimh": 1.2, "li-ion": 3.7}
"""Nominal volts of one cell: IEC 60086-2 for alkaline, makers' data sheets for the others."""
_RAILS = {"5v": 5.0, "3v3": 3.3}
"""Rails of boards, by the role of their pins (V)."""
_VOLTS_LEAST, _VOLTS_MOST = 0.95, 2.0
"""A supply is considered when its nominal volts are between these shares of those asked for."""


@dataclass(frozen=True)
class Demand:
    """What the nets and the user ask of a part.

    Attributes
    ----------
    pins
        Names or roles of pins that nets join.
    chosen
        For each net that takes any signal pin: what that pin must be able to do.
    extra
        How many signal pins with an ability must be left beyond those.
    """

    pins: tuple[str, ...] = ()
    chosen: tuple[frozenset[Can], ...] = ()
    extra: tuple[tuple[Can, int], ...] = ()


def pins_meant(part: Part, name: str) -> list[Pin]:
    """Return the pins that a net's word means: the pin of this name, else the pins of this role."""
    named = [pin for pin in part.pins if pin.name == name]
    if named or name not in PIN_ROLES:
        return named
    return [pin for pin in part.pins if pin.role == name]


def nominal_volts(part: Part) -> float:
    """Return the volts that a supply gives by name; 0 for anything else."""
    if (cells := part.figure(CellPack)) is not None:
        return cells.elements * NOMINAL_VOLTS[cells.chemistry]
    if (bank := part.figure(Bank)) is not None:
        return bank.out_v
    if (regulator := part.figure(Regulator)) is not None:
        return regulator.out_v
    return 0.0


def other_rail(part: Part, name: str) -> str:
    """Return what a board has in place of a rail that it lacks, as a phrase; empty for all else."""
    board = part.figure(Controller)
    if board is None or name.lower() not in _RAILS or pins_meant(part, name):
        return ""
    own = next((pin.role for pin in part.pins if _RAILS.get(pin.role) == board.logic_v), "")
    raw = "takes its supply at 'raw'" if any(pin.role == "raw" for pin in part.pins) else ""
    gives = f"gives {board.logic_v:g} V at {own!r}" if own else ""
    return f"a board of {board.logic_v:g} V, which {' and '.join(one for one in (raw, gives) if one)}"


def unmet(part: Part, demand: Demand) -> str:
    """Return what a part lacks of a demand as a phrase, or an empty text when it lacks nothing."""
    for name in demand.pins:
        if not pins_meant(part, name):
            instead = other_rail(part, name)
            return f"pin {name!r}" + (f": it is {instead}" if instead else "")
    used = {pin.name for name in demand.pins if name not in PIN_ROLES for pin in pins_meant(part, name)}
    free = [
        pin
        for pin in part.pins
        if pin.role == "signal" and pin.can and pin.name not in used and "reset" not in pin.care
    ]
    wanted = [*demand.chosen, *(frozenset([can]) for can, count in demand.extra for _ in range(count))]
    if all_served([[i for i, pin in enumerate(free) if wish <= pin.can] for wish in wanted]):
        return ""
    for can in sorted({can for wants in wanted for can in wants}):
        asked = sum(can in wants for wants in wanted)
        have = sum(can in pin.can for pin in free)
        if have < asked:
            return f"{asked} signal pin{'s' if asked > 1 else ''} for {can}: it has {have}"
    return f"{len(wanted)} signal pins that can do what is asked, each once"


@dataclass(frozen=True)
class Wish:
    """All that is asked of a part that is chosen."""

    families: tuple[str, ...]
    parts: tuple[str, ...]
    volts: float
    demand: Demand
    looks: bool
    sits: bool


def candidates(catalogue: Iterable[Part], wish: Wish) -> tuple[list[Part], str]:
    """Return the parts that may serve, and why there are none.

    Parts that were asked by id keep the user's order; others come the smallest first, by the volume of their
    bounds. The reason is empty unless the list is.
    """
    if wish.parts:
        by_id = {part.id: part for part in catalogue}
        left = [by_id[name] for name in wish.parts if name in by_id]
        if wish.families:
            left = [part for part in left if part.family in wish.families]
        what = "of the parts named there"
    else:
        left = [part for part in catalogue if part.family in wish.families]
        left.sort(key=lambda part: (part.bounds.volume, part.id))
        what = f"of the family {' or '.join(wish.families)}"
    if not left:
        return [], f"there is no part {what}"
    steps: list[tuple[Callable[[Part], bool], str]] = []
    if wish.looks:
        steps.append((lambda part: part.mount.looks is not None, "has a side that looks out"))
    if wish.sits:
        steps.append((lambda part: part.mount.sits is not None, "has a side that sits on something"))
    if wish.volts:
        low, high = wish.volts * _VOLTS_LEAST, wish.volts * _VOLTS_MOST
        steps.append((lambda part: low <= nominal_volts(part) <= high, f"gives about {wish.volts:g} V"))
    for good, phrase in steps:
        left = [part for part in left if good(part)]
        if not left:
            return [], f"none {what} {phrase}"
    good_parts = [part for part in left if not unmet(part, wish.demand)]
    if not good_parts:
        return [], f"{left[-1].id} lacks {unmet(left[-1], wish.demand)}"
    return good_parts, ""
