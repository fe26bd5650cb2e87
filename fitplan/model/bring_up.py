"""What is tried, one thing after the other, when a controller runs for the first time in its train."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias, get_args

from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Ranger
from fitplan.model.part import Part
from fitplan.model.pins_used import PinUse

TestKind: TypeAlias = Literal[
    "volts", "contact", "lamp", "level", "tone", "ranger", "bus", "carrier", "motor"
]  # fmt: skip
KINDS: tuple[TestKind, ...] = get_args(TestKind)
"""In the order in which they are tried: what measures first, what moves last."""
_TRIED = ("input", "output", "pwm", "analog", "data", "clock")
"""What a pin does that can be tried by hand."""


@dataclass(frozen=True)
class BringUpTest:
    """One thing to try.

    Attributes
    ----------
    uses
        The pins that it takes: one; of a ranger with two pins trigger and echo, of a bus clock and data.
    held
        Pins that keep something off, which are released for it.
    see
        What one should see, hear or read.
    """

    kind: TestKind
    controller: str
    serves: str
    uses: tuple[PinUse, ...]
    see: str
    held: tuple[PinUse, ...] = ()


def bring_up_tests(built: BuiltTrain) -> tuple[BringUpTest, ...]:
    """Return what is tried, controller by controller: what cannot move first, motors last."""
    found: list[BringUpTest] = []
    for controller in dict.fromkeys(use.controller for use in built.pin_map):
        uses = [
            use
            for use in built.pin_map
            if use.controller == controller and use.net and use.serves and use.does in _TRIED
        ]
        tests = _of_controller(built, controller, uses)
        found += sorted(tests, key=lambda test: KINDS.index(test.kind))
    return tuple(found)


def _of_controller(built: BuiltTrain, controller: str, uses: list[PinUse]) -> list[BringUpTest]:
    found: list[BringUpTest] = []
    clock = next((use for use in uses if use.does == "clock"), None)
    data = next((use for use in uses if use.does == "data"), None)
    bused = {serves.rpartition(".")[0] for use in (clock, data) if use for serves in use.serves.split(", ")}
    held = tuple(use for use in uses if use.does == "output" and _owner(use) in bused)
    if clock is not None and data is not None:
        names = ", ".join(sorted(bused))
        see = f"an address for each of {names}; none: look at clock, data, ground and their supply"
        found.append(BringUpTest("bus", controller, names, (clock, data), see, held))
    triggers = {
        _owner(use): use
        for use in uses
        if _is_ranger(built, use) and use.does == "output" and use not in held
    }
    for use in uses:
        owner = _owner(use)
        part = _part(built, owner)
        if use in (clock, data) or use in held or use in triggers.values():
            continue
        if _is_ranger(built, use) and use.does == "input" and owner in triggers:
            see = f"a hand 100 mm before {owner} reads about 100 mm, one drawn back reads more; -1: no echo"
            found.append(BringUpTest("ranger", controller, owner, (triggers[owner], use), see))
            continue
        kind, see = _single(part, owner, use)
        found.append(BringUpTest(kind, controller, owner, (use,), see))
    return found


def _single(part: Part | None, owner: str, use: PinUse) -> tuple[TestKind, str]:
    """Return what is tried at one pin, and what one should see."""
    family = part.family if part is not None else ""
    if use.does == "analog":
        return (
            "volts",
            f"a count that does not change by more than a few; times volts a count it is what {owner} gives",
        )
    if use.does == "input":
        return (
            "contact",
            f"{owner}: 1 at rest and 0 when it is closed, or the other way round; it must change",
        )
    match family:
        case "lamp":
            return "lamp", f"{owner} lights for a second, and nothing else does"
        case "sounder":
            return "tone", f"{owner} sounds for a third of a second"
        case "emitter":
            return "carrier", f"a camera shows {owner} glow for a second; the eye does not see it"
        case "driver":
            return "motor", f"wheels off the table: they turn for a third of a second by {use.net}, and stop"
        case _:
            return "level", f"{owner} gets a high level for a second: a meter reads it at {use.pin}"


def _owner(use: PinUse) -> str:
    return use.serves.split(", ")[0].rpartition(".")[0]


def _part(built: BuiltTrain, owner: str) -> Part | None:
    placement = built.placement(owner)
    return placement.part if placement is not None else None


def _is_ranger(built: BuiltTrain, use: PinUse) -> bool:
    part = _part(built, _owner(use))
    return part is not None and part.figure(Ranger) is not None
