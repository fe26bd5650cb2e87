"""A vehicle as the text of a vehicle file, to be read and corrected by a person."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from fitplan.files.layers import DEFAULT_LEGEND, body_of_layers
from fitplan.model.part import Pin
from fitplan.model.solids import SIDE_NAMES, Box, Cylinder, Solid, Vec
from fitplan.model.vehicle import BodySolid, BuiltIn, State, Vehicle
from fitplan.units import PLATE, STUD

_AXES = {"x": "front", "y": "left", "z": "up"}
_PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9 .()/×–-]*")
_WORDS = {"yes", "no", "on", "off", "true", "false", "null", "y", "n"}


def vehicle_yaml(vehicle: Vehicle, notes: Iterable[str] = (), sidecar: str = "") -> str:
    """Return the text of a vehicle file that reads back as this vehicle.

    Parameters
    ----------
    vehicle
        Its layers come first; what its body has beyond them is written as solids.
    notes
        Sentences for the head of the file, as comments.
    sidecar
        Name of a file beside it that holds the solids beyond the layers; they are not written out then.
    """
    legend = _legend(vehicle)
    solids = vehicle.body[len(body_of_layers(vehicle.layers, legend)) :] if vehicle.layers else vehicle.body
    # The room for loads is worked out again when the file is read.
    if vehicle.load_top:
        solids = tuple(entry for entry in solids if entry.solid.bounds.low[2] < vehicle.top)
    lines = [
        "# A vehicle. x runs from the rear end to the front, y from the right side to the left, z up from",
        "# the rail head (or the road). A stud is 8 mm, a plate 3.2 mm; lengths without a unit are mm.",
        *(f"# {line}" for note in notes for line in _wrapped(note)),
        "",
        f"vehicle: {_text(vehicle.name)}",
        f"kind: {vehicle.kind}",
        f"footprint: {{long: {vehicle.studs_long}, wide: {vehicle.studs_wide}}}  # studs",
        f"floor finish: {vehicle.floor_finish}",
        f"mass: {_number(vehicle.mass_g)}  # g; weigh yours",
        f"mass center: {_point(vehicle.mass_center)}",
    ]
    lines += _removables(vehicle)
    if vehicle.layers:
        lines += _layers(vehicle)
    else:
        lines.append(f"base: {_height(vehicle.base)}")
    if vehicle.rounded:
        lines.append(
            f"rounded: {_number(vehicle.rounded)}  # solids may be smaller by this than they are drawn"
        )
    if vehicle.load_top:
        lines.append(f"load height: {_number(vehicle.load_top)}  # loads stand no higher above the rail head")
    if sidecar:
        lines += ["", f"voxels: {_text(sidecar)}  # boxes of the body, in a file beside this one"]
    elif solids:
        lines += ["", "solids:  # drawn after the layers, later ones replace earlier ones"]
        lines += [
            f"  - {{state: {_state(entry)}{_smooth(entry)}, {_solid(entry.solid)}}}" for entry in solids
        ]
    lines += _list("openings", [
        f"{{name: {_text(o.name)}, {_boxed(o.box)}, out: {SIDE_NAMES[o.out]}, often: {_yes(o.often)}}}"
        for o in vehicle.openings
    ])  # fmt: skip
    for key, places in (("windows", vehicle.windows), ("ports", vehicle.ports)):
        lines += _list(
            key, [f"{{name: {_text(p.name)}, {_boxed(p.box)}, out: {SIDE_NAMES[p.out]}}}" for p in places]
        )
    lines += _list("couplings", [
        f"{{end: {c.end}, pivot: {_number(c.pivot_x)}, height: {_number(c.height)},"
        f" length: {_number(c.length)}}}"
        for c in vehicle.couplings
    ])  # fmt: skip
    lines += ["", _wheels(vehicle)]
    if vehicle.built_in:
        lines += ["", "built in:"]
        for built in vehicle.built_in:
            lines += _built_in(built)
    return "\n".join(lines) + "\n"


def _legend(vehicle: Vehicle) -> dict[str, tuple[State, str]]:
    legend = dict(DEFAULT_LEGEND)
    for character, words in vehicle.characters:
        state, _, name = words.partition(" ")
        legend[character] = (state, name)  # type: ignore[assignment]
    return legend


def _removables(vehicle: Vehicle) -> list[str]:
    lines: list[str] = []
    legend = _legend(vehicle)
    own = {
        character: meaning
        for character, meaning in legend.items()
        if DEFAULT_LEGEND.get(character) != meaning
    }
    if own and vehicle.layers:
        lines += ["", "legend:"]
        for character, (state, name) in own.items():
            lines.append(f'  "{character}": {f"{{removable: {_text(name)}}}" if name else state}')
    if vehicle.removables:
        lines += ["", "removable:"]
        lines += [f"  - {{name: {_text(r.name)}, cost: {_number(r.cost)}}}" for r in vehicle.removables]
    return lines


def _layers(vehicle: Vehicle) -> list[str]:
    lines = [
        "",
        f"base: {_height(vehicle.layers[0].base)}",
        "layers:  # from the bottom to the top; first row the left side, front to the right",
    ]
    for layer in vehicle.layers:
        lines += [f"  - name: {_text(layer.name)}", f"    plates: {layer.plates}"]
        lines += ["    smooth: yes"] if layer.smooth else []
        lines += [*(["    halves: yes"] if layer.halves else []), "    rows: |"]
        lines += [f"      {row}" for row in layer.rows]
    return lines


def _list(key: str, entries: Sequence[str]) -> list[str]:
    return ["", f"{key}:", *(f"  - {entry}" for entry in entries)] if entries else []


def _wheels(vehicle: Vehicle) -> str:
    wheels = vehicle.wheels
    at = ", ".join(_number(place) for place in wheels.at)
    driven = ", ".join(_yes(entry) for entry in wheels.driven)
    more = f", bogie wheelbase: {_number(wheels.bogie_wheelbase)}" if wheels.kind == "bogies" else ""
    radius = _number(wheels.wheel_radius)
    return f"wheels: {{kind: {wheels.kind}, at: [{at}], driven: [{driven}], radius: {radius}{more}}}"


def _built_in(built: BuiltIn) -> list[str]:
    lines = [f"  - name: {_text(built.name)}", f"    kind: {built.kind}", "    solids:"]
    lines += [f"      - {{{_solid(solid)}}}" for solid in built.solids]
    if built.faces:
        lines.append("    faces:")
        lines += [
            f"      - {{name: {_text(face.name)}, {_boxed(face.box)}, out: {SIDE_NAMES[face.out]}}}"
            for face in built.faces
        ]
    if built.pins:
        lines.append("    pins:")
        lines += [f"      - {_pin(pin)}" for pin in built.pins]
    for key, value in (("mass", built.mass_g), ("stall", built.stall_ma), ("current", built.current_ma)):
        if value:
            lines.append(f"    {key}: {_number(value)}")
    return lines


def _pin(pin: Pin) -> str:
    words = [
        f"name: {_text(pin.name)}", f"role: {_text(pin.role)}", f"at: {_point(pin.at)}",
        f"exit: {SIDE_NAMES[pin.exit]}",
    ]  # fmt: skip
    for key, values in (("can", pin.can), ("wants", pin.wants)):
        if values:
            words.append(f"{key}: [{', '.join(sorted(values))}]")
    if pin.volts:
        words.append(f"volts: {_number(pin.volts)}")
    if pin.optional:
        words.append("optional: yes")
    return "{" + ", ".join(words) + "}"


def _state(entry: BodySolid) -> str:
    return f"{{removable: {_text(entry.removable)}}}" if entry.state == "removable" else entry.state


def _smooth(entry: BodySolid) -> str:
    return ", smooth: yes" if entry.smooth else ""


def _solid(solid: Solid) -> str:
    match solid:
        case Box():
            return _boxed(solid)
        case Cylinder():
            return (
                f"cylinder: {{axis: {_AXES[solid.axis]}, from: {_point(solid.start)},"
                f" length: {_number(solid.length)}, diameter: {_number(2 * solid.radius)}}}"
            )
    low, high = _point(solid.box.low), _point(solid.box.high)
    return (
        f"wedge: {{from: {low}, to: {high}, base: {SIDE_NAMES[solid.base]}, back: {SIDE_NAMES[solid.back]}}}"
    )


def _boxed(box: Box) -> str:
    return f"box: {{from: {_point(box.low)}, to: {_point(box.high)}}}"


def _point(point: Vec) -> str:
    x, y, z = point
    return f"[{_sideways(x)}, {_sideways(y)}, {_number(z)}]"


def _sideways(value: float) -> str:
    studs = value / STUD
    if value and abs(studs - round(studs)) < 1e-6:
        return f"{round(studs)} stud{'s' if abs(round(studs)) != 1 else ''}"
    return _number(value)


def _height(value: float) -> str:
    plates = value / PLATE
    if value and abs(plates - round(plates)) < 1e-6:
        return f"{round(plates)} plate{'s' if abs(round(plates)) != 1 else ''}"
    return _number(value)


def _number(value: float) -> str:
    return f"{round(value, 4):.10g}"


def _yes(value: bool) -> str:
    return "yes" if value else "no"


def _text(text: str) -> str:
    if _PLAIN.fullmatch(text) and text == text.strip() and text.lower() not in _WORDS:
        return text
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _wrapped(text: str, width: int = 106) -> list[str]:
    lines, line = [], ""
    for word in text.split():
        if line and len(line) + 1 + len(word) > width:
            lines.append(line)
            line = word
        else:
            line = f"{line} {word}".strip()
    return [*lines, line] if line else lines
