"""How a part lies, in words that a hand can follow: what looks up, where pin 1, lens and plugs are."""

from __future__ import annotations

from fitplan.model.placed import Placement
from fitplan.model.solids import AXES, PLACE_WORDS, SIDE_NAMES, Direction, Vec

_TO = {way: f"to the {name}" if way[1] != "z" else name for way, name in SIDE_NAMES.items()}
_LIES: dict[str, str] = {"x": "along the vehicle", "y": "across the vehicle", "z": "upright"}
_SQUARE = 0.05


def orientation(placement: Placement) -> str:
    """Return how a part lies: ``"top up, long side along the vehicle, pin 1 GND at the rear, USB plug …"``.

    The top is the side that the catalogue draws upwards. Front, rear, left and right are the vehicle's.
    """
    pose, part = placement.place.pose, placement.part
    said = [f"top {_TO[pose.turn_direction('+z')]}"]
    size = placement.bounds.size
    longest = max(range(3), key=lambda axis: size[axis])
    if sorted(size)[2] - sorted(size)[1] > _SQUARE:
        said.append(f"long side {_LIES[AXES[longest]]}")
    if part.mount.looks is not None:
        said.append(f"looks {_TO[pose.turn_direction(part.mount.looks)]}")
    for clearance in part.clearances:
        if clearance.kind == "plug":
            way = _from_middle(part.bounds.center, clearance.solid.bounds.center)
            said.append(f"{clearance.name} {_TO[pose.turn_direction(way)]}")
    if len(part.pins) > 1:
        # seen from the top: which end of the board, not whether the pins stand above or below it
        x, y, _ = part.pins[0].at
        way = pose.turn_direction(_from_middle(part.bounds.center, (x, y, part.bounds.center[2])))
        said.append(f"pin 1 ({part.pins[0].name}) {PLACE_WORDS[way]}")
    return ", ".join(said)


def _from_middle(middle: Vec, point: Vec) -> Direction:
    """Return the direction in which a point lies from a middle, along the axis where it is farthest."""
    apart = [there - here for here, there in zip(middle, point, strict=True)]
    axis = max(range(3), key=lambda place: abs(apart[place]))
    found: Direction = ("+x", "+y", "+z")[axis] if apart[axis] >= 0 else ("-x", "-y", "-z")[axis]
    return found
