"""Changes that a maker would want, each said in one line of the starter's files: a table of the reference.

A change takes the place of the line that holds ``instead``, or follows the one that holds ``after``; without
either it is a line at the end of its file.
"""

from __future__ import annotations

from dataclasses import dataclass

_TRAIN, _BODY = "train.yaml", "railcar.yaml"
_REAR = "box: {from: [1 stud, 1 stud, 19.2], to: [8 studs, 5 studs, 58]}"


@dataclass(frozen=True)
class OneLineChange:
    """A wish, and the line that says it in a file of the starter."""

    wish: str
    line: str
    instead: str = ""
    file: str = _TRAIN
    after: str = ""


def changed(text: str, change: OneLineChange) -> str:
    """Return a file's text with a change made.

    Raises
    ------
    ValueError
        When not exactly one line holds what the change stands at.
    """
    lines = text.splitlines()
    words = change.instead or change.after
    if not words:
        return "\n".join([*lines, change.line]) + "\n"
    found = [number for number, line in enumerate(lines) if words in line]
    if len(found) != 1:
        raise ValueError(f"{len(found)} lines hold {words!r}")
    at = found[0]
    lines[at : at + 1] = [change.line] if change.instead else [lines[at], change.line]
    return "\n".join(lines) + "\n"


def _need(wish: str, line: str, name: str) -> OneLineChange:
    return OneLineChange(wish, f"  - {{name: {name}, {line}}}", f"name: {name},")


def _key(wish: str, line: str) -> OneLineChange:
    key = line.partition(":")[0].lstrip()
    key = f"  {key}" if line.startswith(" ") else key
    return OneLineChange(wish, line, f"{key}:")


ONE_LINE_CHANGES: tuple[OneLineChange, ...] = (
    _need("another board", "part: controller-compact-5v", "brain"),
    _need("any board, the smallest first", "choose: controller", "brain"),
    _need("cells for four hours", "choose: {family: cells, volts: 3, hours: 4}", "supply"),
    _need("these cells and no others", "choose: [cells-aa-2]", "supply"),
    _need(
        "the board nine studs from the rear",
        "choose: [controller-small-5v], at: {vehicle: railcar, from rear: 9 studs}",
        "brain",
    ),
    _need(
        "its plug towards the rear",
        "part: controller-compact-5v, at: {vehicle: railcar, plug towards: rear}",
        "brain",
    ),
    _need(
        "the cells at the right side",
        "part: cells-aa-2, at: {vehicle: railcar, from right: 1 stud}",
        "supply",
    ),
    _need(
        "the regulator lies on its back",
        "part: regulator-step-up-5v-tiny, at: {vehicle: railcar, top towards: down}",
        "lift",
    ),
    _need(
        "one part may come out to change the cells", "part: cells-aa-2, exchange: {parts out: 1}", "supply"
    ),
    _need(
        "the emitter sends a tenth of the time",
        "part: emitter-5mm, sits: railcar/receiver/eye, duty: 0.1",
        "emitter",
    ),
    _need("another ranger", "part: sensor-time-of-flight, looks: railcar/front window", "eye"),
    OneLineChange(
        "a fuse behind the cells",
        "  - {name: fuse, part: junction-resettable-fuse-small}",
        after="name: switch,",
    ),
    OneLineChange(
        "no parts in the driver's view", f"zones: [{{name: view, vehicle: railcar, {_REAR}, parts: no}}]"
    ),
    OneLineChange(
        "no wires near the gears", f"zones: [{{name: gears, vehicle: railcar, {_REAR}, wires: no}}]"
    ),
    OneLineChange(
        "only the cells in the rear", f"zones: [{{name: rear, vehicle: railcar, {_REAR}, parts: [supply]}}]"
    ),
    OneLineChange("the board near the ranger", "preferences: [{of: brain, near: eye}]"),
    OneLineChange("the board far from the motor", "preferences: [{of: brain, far from: railcar/motor}]"),
    OneLineChange("the switch on the board's side", "preferences: [{of: switch, same side as: brain}]"),
    OneLineChange("the switch under the roof's opening", "preferences: [{of: switch, reachable from: roof}]"),
    OneLineChange("the cells not to be seen from outside", "preferences: [{of: supply, hidden: yes}]"),
    OneLineChange("two switches lie in the drawer", "owned: {parts: {switch-slide: 2}}"),
    OneLineChange("there is no crimping tool", "owned: {tools: [soldering iron, heat gun, meter]}"),
    OneLineChange("nothing is soldered", "wiring: {solder: no}"),
    OneLineChange(
        "red and black wire only, 5 m of each",
        "wiring: {spools: [{colour: RD, metres: 5}, {colour: BK, metres: 5}]}",
    ),
    OneLineChange("thicker wire for power", "wiring: {power wire: wire-awg22}"),
    OneLineChange("a wire each from the supply", "wiring: {style: home-run}"),
    OneLineChange(
        "a pin of my own choice for the ranger",
        "nets: [{name: echo, role: signal, joins: [brain.D3, eye.ECHO]}]",
    ),
    _key("a hill", "track: {radius: 40 studs, gradient: 3}"),
    _key("faster", "  speed: 400"),
    _key("both ways", "  push pull: yes"),
    _key("more room before an obstacle", "  margin: 40"),
    OneLineChange("a tiled floor", "floor finish: smooth", "floor finish:", _BODY),
    OneLineChange(
        "a roof of two plates", "  - {name: roof, plates: 2, like: floor}", "name: roof, like", _BODY
    ),
    OneLineChange(
        "a hole for wires at the rear",
        "ports: [{name: hole, box: {from: [0, 2 studs, 19.2], to: [1 stud, 3 studs, 22.4]}, out: rear}]",
        "",
        _BODY,
    ),
    OneLineChange(
        "bars before the tail lamp, half of it open",
        "  - {name: tail window, box: {from: [0, 3 studs, 6 plates], to: [1 stud, 4 studs, 13 plates]}, out: rear, open: 0.5}",
        "name: tail window",
        _BODY,
    ),
)
