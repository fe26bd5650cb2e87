"""Makes the reference of the file formats from the models that read them.

``python -m fitplan.files.reference`` writes ``catalog/README.md`` and ``examples/README.md`` of a checkout,
and the form of its catalogue (`fitplan.files.catalogue_form`); a test keeps them up to date.
"""

from __future__ import annotations

import typing
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any

from pydantic.fields import FieldInfo

from fitplan.files.as_built import (
    AsBuiltEntry,
    BrickOutEntry,
    BuiltHoleEntry,
    BuiltPartEntry,
    BuiltPinEntry,
    BuiltSpliceEntry,
    BuiltWayEntry,
    BuiltWireEntry,
)
from fitplan.files.catalogue import digest_of_catalogue, read_catalogue
from fitplan.files.catalogue_form import FORM, form_of
from fitplan.files.electrical_entries import figures_entry
from fitplan.files.electrical_figures import FIGURES
from fitplan.files.entries import Entry, ListOf
from fitplan.files.families import FAMILIES
from fitplan.files.fields import ValueKind
from fitplan.files.fixed_place import AtEntry
from fitplan.files.layer_rows import LayerEntry
from fitplan.files.measured_entries import MeasuredEntry, RoomEntry, SpeedEntry, StopsEntry
from fitplan.files.need_entries import (
    ChooseEntry,
    ExchangeEntry,
    LooksEntry,
    NeedEntry,
    PreferenceEntry,
    SitsEntry,
)
from fitplan.files.one_line import ONE_LINE_CHANGES
from fitplan.files.operation_entries import RunningEntry, TrackEntry
from fitplan.files.part_entries import CAUTIONS, AccessEntry, ClearanceEntry, MountEntry, PartEntry
from fitplan.files.part_file import PartFile
from fitplan.files.pin_entries import PinEntry
from fitplan.files.solid_entries import (
    BoxEntry,
    CylinderEntry,
    FlatBoxEntry,
    FullBoxEntry,
    SolidEntry,
    WedgeEntry,
)
from fitplan.files.starter import STARTER_FOLDER
from fitplan.files.train_file import NetEntry, OwnedEntry, TrainFile, VehicleRefEntry, WeightsEntry, ZoneEntry
from fitplan.files.vehicle_file import (
    MOST_HIGH,
    BodySolidEntry,
    BuiltInEntry,
    CouplingEntry,
    FaceEntry,
    FootprintEntry,
    OpeningEntry,
    PortEntry,
    RemovableEntry,
    VehicleFile,
    WheelsEntry,
    WindowEntry,
)
from fitplan.files.wiring_entries import AllowancesEntry, CouplingSlackEntry, WiringEntry

_FAMILY_LINES = {
    "controller": "boards with a processor and pins",
    "cells": "holders with primary or rechargeable cells",
    "pouch": "flat li-ion cells",
    "bank": "USB banks",
    "regulator": "step-up, step-down and linear regulators",
    "charger": "chargers for one li-ion cell",
    "ranger": "sensors that measure a distance",
    "sensor": "other sensors",
    "emitter": "infrared emitters",
    "lamp": "lamps",
    "sounder": "sounders",
    "driver": "motor drivers",
    "switch": "switches in the supply line",
    "connector": "connector pairs",
    "wire": "wires from the spool",
    "lead": "leads as they are bought, ready-made",
    "junction": "distribution points and what sits in the line",
    "servo": "servos",
    "camera": "camera boards",
    "display": "displays",
    "coil": "receiver coils for wireless charging",
}

_COMMON = """\
## How files are written

Files are YAML in UTF-8: keys and values, lists with hyphens or in square brackets, blocks of keys
indented or in braces, comments after `#`. Every mistake in all files of a train is told at once,
with file, line and column, what was found, what was expected, and the nearest known name.

- **Lengths** are millimetres when they are plain numbers. Otherwise write a sum with units: `3
  studs 1 plate`, `2 studs - 0.2 mm`. A stud is 8 mm, a plate 3.2 mm, a brick 9.6 mm; `mm`, `cm` and
  `m` are known too.
- **Other figures** are numbers in the unit that the table names; the unit may be written behind:
  `20 mA`, `0.5 A`.
- **Directions** are `front` (x grows), `rear`, `left` (y grows), `right`, `up` (z grows) and
  `down`.
- **Points** are lists of three lengths, `[x, y, z]`.
- **Yes or no** is `yes` or `no`. A name may be `no`, `on` or `012`: texts stay as they are written.
- Only a text that begins with a sign such as `*`, `&`, `#`, `-`, `{` or `[`, or that holds `: `,
  needs quotes.
"""

_PARTS_INTRO = """\
# The catalogue: component envelopes

One file a family. A part is described by what it is: the room that it fills, the room that it needs
beyond that, its pins, how it may sit, what must be reachable, its mass and its electrical figures.
Outlines marked `typical` are those of common makes: **measure yours**, and put your figures into a
file in a folder `parts` beside your train file. A part there takes the place of a part of the same
id here. `fitplan parts` lists the catalogue, `fitplan parts show ID` shows one part.

Where cells, soldering or a charger come in, the maker's data sheet and local rules go before
anything written here.

"""

_PARTS_FRAME = """\
## The frame of a part

Each part has a frame of its own in millimetres: x towards its front, along its longest side by
habit, y to its left, z up. The origin is where you like. Pins, clearances and the lens are given in
that frame.

"""

_TRAINS_INTRO = """\
# Examples, and the reference of train and vehicle files

Each folder holds a train that runs as it stands:

    fitplan check examples/harbour-line/train.yaml            what was understood, layer by layer
    fitplan plan examples/harbour-line/train.yaml -o build    places, wires, lists

`fitplan new FOLDER` writes a smaller one with comments, to start your own from. Part files are
described in the README of the catalogue.

"""

_VEHICLE_FRAME = f"""\
## Vehicle files

Measure from the rear end of the footprint towards the front (x), from the right side to the left
(y), and up from the rail head, or the road (z). A vehicle may be up to {MOST_HIGH:g} mm high.

Everything in the body has a state: `fixed` bricks stay, removable ones may come out at a cost,
`keep-clear` is clear and must stay so (links, wheels), parts go into `free` room only, and
`outside` is the clear space round the body where nothing is put but light and sound pass. What is
not drawn is outside, too: draw the room between walls `free`. Draw layers, solids, or both; what is
drawn later replaces what was there.

"""

_TRAIN_INTRO = """\
## Train files

"""


def _annotations(annotation: Any) -> Iterator[Any]:
    """Yield what stands in a type hint's ``Annotated`` layers, inside a union with None too."""
    if typing.get_origin(annotation) is Annotated:
        yield from annotation.__metadata__
        yield from _annotations(typing.get_args(annotation)[0])
    elif type(None) in typing.get_args(annotation):
        for member in typing.get_args(annotation):
            yield from _annotations(member)
    elif isinstance(annotation, type) and issubclass(annotation, Entry):
        yield annotation


def _value_of(field: FieldInfo) -> str:
    """Return what a key may hold, in words."""
    layers = [*field.metadata, *_annotations(field.annotation)]
    says = next((layer.kind for layer in layers if isinstance(layer, ValueKind)), "block of keys")
    holds = next((layer.model for layer in layers if isinstance(layer, ListOf)), None)
    block = next((layer for layer in layers if isinstance(layer, type)), holds)
    title = _TITLES.get(block) if block is not None else None
    return f"{says}: [{title}](#{_anchor(title)})" if title else says


def _default_of(field: FieldInfo) -> str:
    if field.is_required():
        return "required"
    default = field.default
    if isinstance(default, bool):
        return "yes" if default else "no"
    if isinstance(default, float | int):
        return f"{default:g}"
    return f"`{default}`" if isinstance(default, str) and default else ""


def _table(model: type[Entry]) -> str:
    lines = ["| key | value | default | meaning |", "|---|---|---|---|"]
    for field in model.model_fields.values():
        meaning = str(field.description).replace("|", "\\|")
        lines.append(f"| `{field.alias}` | {_value_of(field)} | {_default_of(field)} | {meaning} |")
    return "\n".join(lines) + "\n"


def _anchor(title: str) -> str:
    return "".join(c for c in title.lower().replace(" ", "-") if c.isalnum() or c == "-")


def _example(name: str) -> str:
    """Return a file of the starter, which has comments and holds no mistake, as a block of code."""
    content = (STARTER_FOLDER / name).read_text(encoding="utf-8")
    return f"### An example with comments\n\n```yaml\n{content}```\n\n"


def _section(model: type[Entry], after: str = "") -> str:
    return f"### {_TITLES[model]}\n\n{_table(model)}\n{after}"


_PART_MODELS: dict[type[Entry], str] = {
    PartFile: "Part file",
    PartEntry: "Part",
    SolidEntry: "Solid",
    BoxEntry: "Box",
    CylinderEntry: "Cylinder",
    WedgeEntry: "Wedge",
    ClearanceEntry: "Clearance",
    PinEntry: "Pin",
    MountEntry: "Mount",
    AccessEntry: "Access rule",
}
_TRAIN_MODELS: dict[type[Entry], str] = {
    TrainFile: "Train file",
    VehicleRefEntry: "Vehicle of the train",
    NeedEntry: "Need",
    ChooseEntry: "Choice",
    LooksEntry: "Looks",
    SitsEntry: "Sits",
    AtEntry: "At",
    ExchangeEntry: "Exchange",
    NetEntry: "Net",
    ZoneEntry: "Zone",
    PreferenceEntry: "Preference",
    OwnedEntry: "What you have",
    TrackEntry: "Track",
    RunningEntry: "Running",
    WeightsEntry: "Weights",
    WiringEntry: "Wiring",
    AllowancesEntry: "Allowances",
    CouplingSlackEntry: "Slack over couplings",
    MeasuredEntry: "Measured",
    SpeedEntry: "Measured speed",
    StopsEntry: "Measured stops",
    RoomEntry: "Measured room",
    AsBuiltEntry: "As built",
    BuiltPartEntry: "Part that is built in",
    BuiltPinEntry: "Pin that is wired",
    BuiltWireEntry: "Wire that is laid",
    BuiltWayEntry: "Way of a wire",
    BuiltHoleEntry: "Hole that was opened",
    BrickOutEntry: "Brick that came out",
    BuiltSpliceEntry: "Splice",
}
_VEHICLE_MODELS: dict[type[Entry], str] = {
    VehicleFile: "Vehicle file",
    FootprintEntry: "Footprint",
    RemovableEntry: "Removable brick",
    LayerEntry: "Layer",
    BodySolidEntry: "Solid of the body",
    SolidEntry: "Solid",
    BoxEntry: "Box",
    CylinderEntry: "Cylinder",
    WedgeEntry: "Wedge",
    OpeningEntry: "Opening",
    WindowEntry: "Window",
    PortEntry: "Port",
    CouplingEntry: "Coupling",
    WheelsEntry: "Wheels",
    BuiltInEntry: "Built in",
    FaceEntry: "Face",
    PinEntry: "Pin",
}
_TITLES: dict[type[Entry], str] = {
    **_PART_MODELS,
    **_TRAIN_MODELS,
    **_VEHICLE_MODELS,
    FlatBoxEntry: "Box",
    FullBoxEntry: "Box",
}

_PIN_NOTES = """\
Boards can be exchanged when their pins carry the same names. By habit controllers have `GND`
(ground), `VIN` (raw), `5V` (5v), `3V3` (3v3), `D0` … and `A0` …; supplies have `plus` and `minus`
(ground); what is fed has `VCC` (supply) and `GND`; a ranger `TRIG` and `ECHO` beside them; an
emitter and a lamp `IN` and `GND`; a regulator `in` (supply), `out` (plus) and `GND`; a switch `a`
and `b` (supply).

"""


def parts_reference() -> str:
    """Return the reference of part files, in Markdown."""
    text = _PARTS_INTRO + "| family | what is in it |\n|---|---|\n"
    text += "".join(f"| `{name}` | {_FAMILY_LINES[name]} |\n" for name in FAMILIES)
    text += f"\nUsual cautions that a part can carry: {', '.join(f'`{name}`' for name in CAUTIONS)}.\n\n"
    text += _COMMON + "\n" + _PARTS_FRAME + _example("parts/own-part.yaml") + "## Keys\n\n"
    text += "".join(_section(model, _PIN_NOTES if model is PinEntry else "") for model in _PART_MODELS)
    text += "## Electrical figures\n\nThe list `electrical` holds blocks, each with one of these keys:\n\n"
    for key, (_, what, _) in FIGURES.items():
        text += f"### `{key}`: {what}\n\n{_table(figures_entry(key))}\n"
    return text.rstrip() + "\n"


def trains_reference() -> str:
    """Return the reference of train and vehicle files, in Markdown."""
    text = _TRAINS_INTRO + _COMMON + "\n" + _TRAIN_INTRO
    text += _example("train.yaml") + "".join(_section(model) for model in _TRAIN_MODELS)
    text += _changes()
    text += _VEHICLE_FRAME + _example("railcar.yaml") + "".join(_section(model) for model in _VEHICLE_MODELS)
    return text.rstrip() + "\n"


def _changes() -> str:
    """Return the table of changes that take a line each."""
    text = (
        "## Changes in a line each\n\nIn the files that `fitplan new FOLDER` writes: the line replaces"
        " the one that says the same,\nor follows at the end of its list or file.\n\n"
        "| what is wanted | the line |\n|---|---|\n"
    )
    return text + "".join(f"| {one.wish} | `{one.line.strip()}` |\n" for one in ONE_LINE_CHANGES) + "\n"


def references(root: Path) -> dict[Path, str]:
    """Return the reference files of a checkout with what must stand in them."""
    return {
        root / "catalog" / "README.md": parts_reference(),
        root / "examples" / "README.md": trains_reference(),
        root / "catalog" / FORM: _form(root / "catalog"),
    }


def _form(folder: Path) -> str:
    return form_of(read_catalogue([folder]), digest_of_catalogue(folder))


if __name__ == "__main__":
    for path, content in references(Path(__file__).resolve().parents[2]).items():
        path.write_text(content, encoding="utf-8")
