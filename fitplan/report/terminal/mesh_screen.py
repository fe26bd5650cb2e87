"""The first screen after a mesh was read: what was understood, in words and drawn, and what to check."""

from __future__ import annotations

from rich.console import Console

from fitplan.meshes.blocks import FIXED
from fitplan.meshes.from_mesh import MeshVehicle
from fitplan.meshes.lids import lid_words
from fitplan.meshes.mesh_notes import CavitySize
from fitplan.meshes.running_gear import gear_questions
from fitplan.model.solids import PLACE_WORDS, Box
from fitplan.model.vehicle import Port, Vehicle
from fitplan.report.lists.wording import counted, number
from fitplan.report.terminal.layer_text import layers_text
from fitplan.units import BRICK, PLATE, STUD

_MOST_ROOMS = 3
_NEAR = 0.05
_MOSTLY = 0.5


def print_mesh(made: MeshVehicle, console: Console) -> None:
    """Print what a mesh was understood as: one sentence, the layers, how it was read, and what to check."""
    console.print(understood(made), markup=False, style="bold")
    console.print()
    console.print(layers_text(made.vehicle))
    console.print("\nHow it was read")
    for note in made.notes:
        console.print(f"· {note}", markup=False)
    console.print("\nCheck by hand, shortest first")
    for place, text in enumerate(to_check(made), 1):
        console.print(f"{place}. {text}", markup=False)


def understood(made: MeshVehicle) -> str:
    """Return one sentence: footprint, height, floor, rooms, windows, doors, and what lifts off."""
    vehicle = made.vehicle
    words = [
        f"{vehicle.studs_long} × {vehicle.studs_wide} studs",
        f"{_high(vehicle.top - vehicle.base)} high",
        "floor studded" if vehicle.floor_finish == "studded" else "floor smooth",
        *_rooms(made),
    ]
    windows, ports = len(vehicle.windows), _holes(vehicle)
    doors = sum(" door" in port.name for port in vehicle.ports)
    words += [f"{_count(windows)} window{'s' if windows > 1 else ''}"] if windows else ["no window"]
    words += [f"{_count(doors)} door{'s' if doors > 1 else ''}"] if doors else []
    words += [f"{_count(len(ports))} hole{'s' if len(ports) > 1 else ''} for wires"] if ports else []
    words += [f"{lid.opening} of {lid_words(lid)} lifts off" for lid in made.lids if lid.lifts]
    words += [f"{entry.name} comes out" for entry in vehicle.removables]
    words += [f"{entry.name} built in" for entry in vehicle.built_in]
    return ", ".join(words)


def to_check(made: MeshVehicle) -> list[str]:
    """Return what a person must confirm or correct: first what a look tells, last what must be weighed."""
    vehicle = made.vehicle
    checks = [f"Look: the front is at the right of the drawing ({_end(vehicle)})."]
    if vehicle.windows:
        named = ", ".join(window.name for window in vehicle.windows)
        checks.append(f"Look: {named}: windows that a sensor may look through, clear panes left out.")
    checks += [f"Look: {question}" for question in gear_questions(made.gear)]
    unsure = [lid.opening for lid in made.lids if not lid.lifts and lid.opening in _openings(vehicle)]
    for name in unsure:
        checks.append(f"Try: does {name} lift off? The mesh does not tell; else strike it from 'openings'.")
    if not vehicle.openings and any(_covered(room, made) for room in made.cavities):
        checks.append("Try: what lifts off to get in? Nothing in the mesh does; add it under 'openings'.")
    if vehicle.kind != "road":
        if made.height_guessed:
            guess = f"{number(vehicle.base)} mm is a guess" if vehicle.base else "it is drawn on the rail"
            checks.append(
                f"Measure: how high does its body begin above the rail? {guess}; say it with --base."
            )
        kinds = {entry.kind for entry in made.gear}
        checks.append(
            f"Measure: {'axles' if 'wheel' in kinds else 'no wheels are drawn; axles are guessed'} at "
            + " and ".join(f"{number(at)} mm" for at in vehicle.wheels.at)
            + f" from the rear, wheels of {number(2 * vehicle.wheels.wheel_radius)} mm; which are driven?"
        )
        checks.append(
            f"Measure: {'couplings' if 'coupling' in kinds else 'no couplings are drawn; guessed are'} "
            + " and ".join(
                f"{number(c.length)} mm out, {number(c.height)} mm high at the {c.end}"
                for c in vehicle.couplings
            )
            + "."
        )
    checks.append(f"Weigh: {number(vehicle.mass_g, 0)} g is a guess from its bricks.")
    return checks


def _openings(vehicle: Vehicle) -> set[str]:
    return {opening.name for opening in vehicle.openings}


def _end(vehicle: Vehicle) -> str:
    ends = sorted({window.out for window in vehicle.windows if window.out in ("+x", "-x")})
    return "a window " + " and ".join(PLACE_WORDS[end] for end in ends) if ends else "both ends are closed"


def _holes(vehicle: Vehicle) -> list[Port]:
    """Return the ports that are neither windows nor doors."""
    seen = {window.box for window in vehicle.windows}
    return [port for port in vehicle.ports if " door" not in port.name and port.box not in seen]


def _rooms(made: MeshVehicle) -> list[str]:
    """Return the rooms in words, the largest first; equal ones together."""
    cavities = made.cavities
    if not cavities:
        return ["no room inside"]
    sizes: dict[str, int] = {}
    for room in cavities:
        x, y, z = room.largest.size
        above = "" if _covered(room, made) else ", open above"
        size = f"{_studs(x)} × {_studs(y)} studs and {_high(z)} high{above}"
        sizes[size] = sizes.get(size, 0) + 1
    told = list(sizes.items())[:_MOST_ROOMS]
    more = len(cavities) - sum(count for _, count in told)
    return [
        f"{_count(count)} room{'s' if count > 1 else ''} of {size}{' each' if count > 1 else ''}"
        for size, count in told
    ] + ([f"{_count(more)} smaller"] if more else [])


def _covered(room: CavitySize, made: MeshVehicle) -> bool:
    """Tell whether something of the body lies over most of a room: a mast beside it covers nothing."""
    box, frame = room.largest, made.block.frame
    over = Box((box.low[0], box.low[1], box.high[2]), (box.high[0], box.high[1], made.vehicle.top))
    if over.high[2] - over.low[2] <= _NEAR:
        return False
    solid = made.block.codes[frame.box_slice(over, "inward")] >= FIXED
    return solid.size > 0 and float(solid.any(axis=2).mean()) > _MOSTLY


def _studs(length: float) -> str:
    return number(length / STUD, 1)


def _high(height: float) -> str:
    """Return a height in bricks and plates where it is a whole number of plates, in mm otherwise."""
    plates = round(height / PLATE)
    if abs(height - plates * PLATE) > _NEAR:
        return f"{number(height)} mm"
    bricks, rest = divmod(plates, round(BRICK / PLATE))
    if not bricks:
        return counted(rest, "plate")
    return counted(bricks, "brick") + (f" and {counted(rest, 'plate')}" if rest else "")


def _count(value: int) -> str:
    words = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
    return words[value] if value < len(words) else str(value)
