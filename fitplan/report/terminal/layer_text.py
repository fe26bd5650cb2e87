"""Layer drawings of a vehicle and small drawings of a part, in characters, for the terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.text import Text

from fitplan.model.part import Part
from fitplan.model.placed import Placement
from fitplan.model.solids import AXES, Box, Cylinder, Solid
from fitplan.model.vehicle import STATES, Vehicle
from fitplan.report.drawings.slices import SOLID_STATES, CellGrid, Section, cells_of, sections_of
from fitplan.report.lists.wording import counted, edges_word, millimetres, number, shorten
from fitplan.units import PLATE, STUD

SIGNS = {"fixed": "█", "removable": "▒", "keep-clear": "~", "free": "·", "outside": " "}
_STYLES = {"fixed": "", "removable": "yellow", "keep-clear": "red", "free": "dim", "outside": ""}
MARKS = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"
THIN = "▔▁▏▕"
"""Signs for walls thinner than half of a half stud: at the left, the right, the rear and the front side."""
_TOUCH = 1e-6
_PART_WIDE = 56
_PART_HIGH = 14


def layers_text(vehicle: Vehicle, placements: Iterable[Placement] = ()) -> RenderableType:
    """Return a vehicle layer by layer from the bottom up, half a stud a character.

    Front to the right, left side on top. ``placements`` of this vehicle's parts are drawn as letters, with
    a key below; give them in the vehicle's own frame.
    """
    placed = list(placements)
    cells = cells_of(vehicle)
    blocks: list[RenderableType] = []
    for section in sections_of(vehicle, cells):
        head = Text(f"{section.name or 'layer'}", style="bold")
        head.append(
            f"  {millimetres(section.low)} to {millimetres(section.high)} above the rail"
            f", {counted(round((section.high - section.low) / PLATE), 'plate')}",
            style="not bold dim",
        )
        blocks.append(head)
        blocks.append(Padding(_grid(cells, section, vehicle, placed), (0, 0, 1, 2)))
    blocks.append(_key(vehicle, placed))
    return Group(*blocks)


def _grid(cells: CellGrid, section: Section, vehicle: Vehicle, placed: Sequence[Placement]) -> Text:
    text = Text(no_wrap=True, overflow="crop")
    half = STUD / 2
    across, along = vehicle.studs_wide, vehicle.studs_long * 2
    for row in range(across):
        y = (across - row - 0.5) * STUD
        if row:
            text.append("\n")
        for column in range(along):
            x = (column + 0.5) * half
            sign, style = _body_sign(cells, section, x, y)
            for place, placement in enumerate(placed):
                if _covers(placement, x, y, section):
                    sign, style = MARKS[place % len(MARKS)], "bold cyan"
            text.append(sign, style)
    return text


def _body_sign(cells: CellGrid, section: Section, x: float, y: float) -> tuple[str, str]:
    i = int(np.searchsorted(cells.cuts[0], x)) - 1
    j = int(np.searchsorted(cells.cuts[1], y)) - 1
    if not (0 <= i < section.state.shape[0] and 0 <= j < section.state.shape[1]):
        return " ", ""
    state = STATES[section.state[i, j]]
    if section.state[i, j] not in SOLID_STATES and (thin := _thin_wall(cells, section, x, y)):
        return thin, ""
    return SIGNS[state], _STYLES[state]


def _thin_wall(cells: CellGrid, section: Section, x: float, y: float) -> str:
    """Return the sign for a wall at one side of a half stud whose middle is clear; empty for none."""
    far: dict[str, float] = {}
    half_x, half_y = STUD / 4, STUD / 2
    i0, i1 = (int(np.searchsorted(cells.cuts[0], x + side)) for side in (-half_x + _TOUCH, half_x - _TOUCH))
    j0, j1 = (int(np.searchsorted(cells.cuts[1], y + side)) for side in (-half_y + _TOUCH, half_y - _TOUCH))
    for i in range(max(i0 - 1, 0), min(i1, section.state.shape[0])):
        for j in range(max(j0 - 1, 0), min(j1, section.state.shape[1])):
            if section.state[i, j] in SOLID_STATES:
                along = (cells.cuts[0][i] + cells.cuts[0][i + 1]) / 2 - x
                across = (cells.cuts[1][j] + cells.cuts[1][j + 1]) / 2 - y
                wide = np.clip(cells.cuts[0][i : i + 2], x - half_x, x + half_x)
                deep = np.clip(cells.cuts[1][j : j + 2], y - half_y, y + half_y)
                flat = float(wide[1] - wide[0]) >= float(deep[1] - deep[0])
                sign = ("▔" if across > 0 else "▁") if flat else ("▕" if along > 0 else "▏")
                far[sign] = far.get(sign, 0.0) + float((wide[1] - wide[0]) * (deep[1] - deep[0]))
    return max(far, key=lambda sign: far[sign]) if far else ""


def _covers(placement: Placement, x: float, y: float, section: Section) -> bool:
    """Whether a part fills the middle of this half stud somewhere within the layer."""
    for solid in placement.part.envelope:
        box = placement.place.move_solid(solid).bounds
        if (
            box.low[0] <= x <= box.high[0]
            and box.low[1] <= y <= box.high[1]
            and box.low[2] < section.high
            and box.high[2] > section.low
        ):
            return True
    return False


def _key(vehicle: Vehicle, placed: Sequence[Placement]) -> Text:
    text = Text("█ fixed   ▒ removable   ~ keep clear   · free   one stud is two characters", style="dim")
    text.append(f"\n{THIN} thin walls, at the side of the half stud where they stand", "dim")
    for place, placement in enumerate(placed):
        name, part = shorten(placement.need, 40), shorten(placement.part.name, 40)
        text.append(f"\n{MARKS[place % len(MARKS)]}", "bold cyan")
        text.append(f" {name}: {part}", "not dim")
    for entry in vehicle.removables:
        text.append(f"\n▒ {shorten(entry.name, 60)}, cost {number(entry.cost, 2)}", "not dim")
    return text


def part_text(part: Part) -> RenderableType:
    """Return a small drawing of a part from above and from the side, with its sizes, to one scale."""
    box = part.bounds
    size = box.size
    scale = min(_PART_WIDE / max(size[0], 1e-6), 2 * _PART_HIGH / max(size[1], size[2], 1e-6), 2.0)
    top = _view(part, box, 0, 1, scale)
    side = _view(part, box, 0, 2, scale)
    sizes = edges_word(size)
    return Group(
        Text(f"from above ({number(size[0])} × {number(size[1])} mm)", "dim"),
        Padding(top, (0, 0, 1, 2)),
        Text(f"from its right side ({number(size[0])} × {number(size[2])} mm)", "dim"),
        Padding(side, (0, 0, 1, 2)),
        Text(f"{sizes} mm long, wide and high over all; ○ is a pin, ▓ stands higher or nearer", "dim"),
    )


def _view(part: Part, box: Box, across: int, up: int, scale: float) -> Text:
    """Project along the third axis; characters are twice as high as wide."""
    deep = 3 - across - up
    wide = max(1, round(box.size[across] * scale))
    high = max(1, round(box.size[up] * scale / 2))
    grid = [[" "] * wide for _ in range(high)]
    faces = [_face(solid, deep) for solid in part.envelope]
    base = min(faces)
    for row in range(high):
        v = box.high[up] - (row + 0.5) * box.size[up] / high
        for column in range(wide):
            u = box.low[across] + (column + 0.5) * box.size[across] / wide
            over = [
                face
                for solid, face in zip(part.envelope, faces, strict=True)
                if _projects(solid, across, up, u, v)
            ]
            if over:
                grid[row][column] = "▓" if max(over) > base + 1e-6 else "▒"
    for pin in part.pins:
        column = int(
            np.clip((pin.at[across] - box.low[across]) / max(box.size[across], 1e-6) * wide, 0, wide - 1)
        )
        row = int(np.clip((box.high[up] - pin.at[up]) / max(box.size[up], 1e-6) * high, 0, high - 1))
        grid[row][column] = "○"
    return Text("\n".join("".join(row).rstrip() for row in grid), no_wrap=True)


def _face(solid: Solid, deep: int) -> float:
    """How near a solid comes to the eye: up for the view from above, right (low y) for the side view."""
    bounds = solid.bounds
    return bounds.high[2] if deep == 2 else -bounds.low[1]


def _projects(solid: Solid, across: int, up: int, u: float, v: float) -> bool:
    box = solid.bounds
    if not (box.low[across] <= u <= box.high[across] and box.low[up] <= v <= box.high[up]):
        return False
    if isinstance(solid, Cylinder) and AXES.index(solid.axis) == 3 - across - up:
        middle = box.center
        return (u - middle[across]) ** 2 + (v - middle[up]) ** 2 <= solid.radius**2
    return True
