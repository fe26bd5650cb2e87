"""A board of one's own from a few figures: a part of the catalogue, stretched to what a ruler gives.

What lies near an edge keeps its distance from it; what spans the board grows with it; rows of pins move as
one, since their pitch is the board maker's. Electrical figures, names of pins and rules of the mount stay:
they are to be changed in the file.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from fitplan.errors import FitplanError, InputError, Mistake
from fitplan.files.catalogue import read_catalogue
from fitplan.files.document import Text, parse_document
from fitplan.files.fields import InvalidValue, read_id
from fitplan.files.part_copy import part_copy
from fitplan.files.part_file import parts_of
from fitplan.model.part import Part
from fitplan.model.solids import Box, Vec
from fitplan.units import parse_length

DRAWING = """\
  from above                           from the right side

   +-----------L------------+               +------------+         +
   | o o o o o o o o        +---+           |            |         H
   |                        |   |      +----+------------+---------+-----+
   W                    socket  S      +=========== board ===============+ T
   |                        |   |      +--+------------------+-----------+
   | o o o o o o o o        +---+         |                  |     D
   +-P----------------------+             +------------------+     +
   rear                  front
"""
"""What the letters of the questions mean."""

_VECTOR = r"\[([^\]]+)\]"
_BOX = re.compile(rf"from: {_VECTOR}, (to|size): {_VECTOR}")
_CYLINDER = re.compile(rf"axis: (front|left|up), from: {_VECTOR}, length: ([\d.]+)")
_PIN = re.compile(rf"\b(at|from): {_VECTOR}")
_SECTION = re.compile(r"    ([a-z][a-z ]*):")
_Move = Callable[[float], float]


@dataclass(frozen=True)
class PartQuestion:
    """One figure of a part: its letter in the drawing, and what is taken when nothing is said."""

    key: str
    text: str
    default: str
    is_length: bool = True


@dataclass(frozen=True)
class _Extents:
    """The board of a part and what stands out of it, in mm."""

    board: Box
    over: float
    high: float
    deep: float
    pins: float | None

    @classmethod
    def of(cls, part: Part) -> _Extents:
        board, whole = part.envelope[0].bounds, part.bounds
        rows = [pin.at[0] for pin in part.pins if pin.exit in ("+z", "-z")]
        return cls(
            board,
            max(whole.high[0] - board.high[0], 0.0),
            max(whole.high[2] - board.high[2], 0.0),
            max(board.low[2] - whole.low[2], 0.0),
            min(rows) - board.low[0] if rows and min(rows) >= board.low[0] else None,
        )


def questions(part_id: str) -> tuple[PartQuestion, ...]:
    """Return what is asked to make a part of one's own like one of the catalogue.

    Raises
    ------
    FitplanError
        There is no such part, or it fills no room.
    """
    part = _part(part_id)
    have = _Extents.of(part)
    long, wide, thick = have.board.size
    asked = [
        PartQuestion("id", "id: lower-case letters, digits and hyphens", f"own-{part.id}", False),
        PartQuestion("name", "what it is, for people", part.name, False),
        PartQuestion("L", "L: length of the board", f"{long:g}"),
        PartQuestion("W", "W: its width", f"{wide:g}"),
        PartQuestion("T", "T: its thickness", f"{thick:g}"),
        PartQuestion("H", "H: from its upper face to the top of what stands highest", f"{have.high:g}"),
        PartQuestion("D", "D: from its lower face to the lowest point below", f"{have.deep:g}"),
    ]
    if have.over > 0:
        asked.append(PartQuestion("S", "S: how far the socket stands out in front", f"{have.over:g}"))
    if have.pins is not None:
        asked.append(
            PartQuestion("P", "P: from the rear edge to the middle of the rearmost pin", f"{have.pins:g}")
        )
    asked.append(PartQuestion("mass", "mass in g", f"{part.mass_g:g}", False))
    return tuple(asked)


def measured_part(part_id: str, answers: Mapping[str, str]) -> str:
    """Return the part file of a part like one of the catalogue, with measured figures, as YAML.

    Parameters
    ----------
    answers
        By the questions' keys; what is not said takes the default.

    Raises
    ------
    FitplanError
        A figure is none, or the part does not hang together with it.
    """
    part = _part(part_id)
    asked = questions(part_id)
    said = {one.key: answers.get(one.key, "").strip() or one.default for one in asked}
    have, mass = _Extents.of(part), _number("mass", said["mass"])
    moves = _moves(have, {one.key: _length(one, said[one.key]) for one in asked if one.is_length})
    shift = 0.0 if have.pins is None else _length_of("P", said["P"]) - have.pins
    lines, section = [], ""
    for line in part_copy(part_id).splitlines():
        key = _SECTION.match(line)
        section = key[1] if key is not None else section
        if line.startswith("    # "):
            lines.append(line)
        elif line.startswith("  - id: "):
            section = ""
            lines.append(f"  - id: {_id(said['id'])}")
        elif key is not None and section in ("name", "mass", "source"):
            own = {"name": said["name"], "mass": f"{mass:g}", "source": f"measured, after {part.id}"}
            lines.append(f"    {section}: {own[section]}")
        elif section == "typical":
            continue
        elif section in ("envelope", "clearances", "mount"):
            lines.append(_stretched(line, moves))
        elif section == "pins":
            lines.append(_pin_moved(line, moves, shift))
        else:
            lines.append(line)
    text = "\n".join(lines) + "\n"
    mistakes: list[Mistake] = []
    path = Path(f"{said['id']}.yaml")
    parts_of(parse_document(text, path, mistakes), path, mistakes)
    if mistakes:
        raise InputError(mistakes)
    return text


def _part(part_id: str) -> Part:
    part_copy(part_id)  # tells the nearest name where there is none
    part = read_catalogue()[part_id]
    if not part.envelope or "pin rows" in part_id or part_id.endswith("-pins"):
        raise FitplanError(f"{part_id} has no outline of its own to measure")
    return part


def _id(text: str) -> str:
    try:
        return str(read_id(Text(text)))
    except InvalidValue as wrong:
        raise FitplanError(f"id: found {wrong.found}; expected {wrong.expected}") from None


def _number(key: str, text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        raise FitplanError(f"{key}: found {text!r}; expected a number") from None
    if not 0 <= value < 10_000:
        raise FitplanError(f"{key}: found {text!r}; expected a number from 0 to 10000")
    return value


def _length(question: PartQuestion, text: str) -> float:
    value = _length_of(question.key, text)
    if question.key in "LWT" and value <= 0:
        raise FitplanError(f"{question.key}: found {text!r}; expected a length above 0")
    return value


def _length_of(key: str, text: str) -> float:
    try:
        value = parse_length(float(text) if re.fullmatch(r"[\d.]+", text) else text)
    except ValueError as wrong:
        raise FitplanError(f"{key}: {wrong}") from None
    if not 0 <= value <= 320:
        raise FitplanError(f"{key}: found {text!r}; expected a length from 0 to 320 mm")
    return value


def _moves(have: _Extents, now: Mapping[str, float]) -> tuple[_Move, _Move, _Move]:
    """Return where coordinates along x, y and z go."""
    low, high = have.board.low, have.board.high
    long, wide, thick = now["L"], now["W"], now["T"]

    def along(x: float) -> float:
        if x <= (low[0] + high[0]) / 2:
            return x
        grown = long - (high[0] - low[0])
        if x <= high[0]:
            return x + grown
        return high[0] + grown + _scaled(x - high[0], have.over, now.get("S", 0.0))

    def across(y: float) -> float:
        return y if y <= (low[1] + high[1]) / 2 else y + wide - (high[1] - low[1])

    def up(z: float) -> float:
        if z < low[2]:
            return low[2] - _scaled(low[2] - z, have.deep, now["D"])
        if z <= high[2]:
            return low[2] + (z - low[2]) * thick / (high[2] - low[2])
        return low[2] + thick + _scaled(z - high[2], have.high, now["H"])

    return along, across, up


def _scaled(value: float, old: float, new: float) -> float:
    """Return a distance from the board scaled within what stands out of it, and moved on beyond."""
    return value * new / old if old and value <= old else value + new - old


def _vector(text: str) -> Vec:
    x, y, z = (parse_length(float(word)) for word in text.split(","))
    return (x, y, z)


def _written(values: tuple[float, ...]) -> str:
    return f"[{', '.join(f'{round(value, 3):g}' for value in values)}]"


def _stretched(line: str, moves: tuple[_Move, _Move, _Move]) -> str:
    def moved(at: Vec) -> Vec:
        return (moves[0](at[0]), moves[1](at[1]), moves[2](at[2]))

    def box(found: re.Match[str]) -> str:
        low, other = _vector(found[1]), _vector(found[3])
        high = other
        if found[2] == "size":
            high = (low[0] + other[0], low[1] + other[1], low[2] + other[2])
        return f"from: {_written(moved(low))}, to: {_written(moved(high))}"

    def cylinder(found: re.Match[str]) -> str:
        axis = ("front", "left", "up").index(found[1])
        low = _vector(found[2])
        end = [*low]
        end[axis] += float(found[3])
        first, last = moved(low), moved((end[0], end[1], end[2]))
        return f"axis: {found[1]}, from: {_written(first)}, length: {round(last[axis] - first[axis], 3):g}"

    return _CYLINDER.sub(cylinder, line) if "cylinder" in line else _BOX.sub(box, line)


def _pin_moved(line: str, moves: tuple[_Move, _Move, _Move], shift: float) -> str:
    row = "exit: up" in line or "exit: down" in line

    def moved(found: re.Match[str]) -> str:
        x, y, z = _vector(found[2])
        return f"{found[1]}: {_written((x + shift if row else moves[0](x), moves[1](y), moves[2](z)))}"

    return _PIN.sub(moved, line)
