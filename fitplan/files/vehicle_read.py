"""From a vehicle file to a `Vehicle`: what hangs together in it is checked here."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from fitplan.errors import Mistake, nearest_name
from fitplan.files.document import Block, Spot, Text, parse_document
from fitplan.files.electrical_entries import figures_of
from fitplan.files.entries import Collector, check_once, validate_top
from fitplan.files.fields import one_of_phrase
from fitplan.files.layer_rows import LayerEntry, full_rows
from fitplan.files.layers import DEFAULT_LEGEND, Meaning, body_of_layers
from fitplan.files.load_room import open_for_loads, top_of_loads
from fitplan.files.pin_entries import check_joined
from fitplan.files.sidecar import BadSidecar, read_sidecar
from fitplan.files.vehicle_file import MOST_HIGH, BuiltInEntry, CouplingEntry, VehicleFile
from fitplan.files.vehicle_places import TOUCH, check_places
from fitplan.model.electrical import CellPack
from fitplan.model.solids import Box, Solid, Vec, bounds_of
from fitplan.model.vehicle import (
    OPEN_ENDS,
    BodySolid,
    BuiltIn,
    Coupling,
    Face,
    Layer,
    Opening,
    Port,
    Removable,
    Vehicle,
    Wheels,
    Window,
)
from fitplan.units import PLATE, STUD

_STAND_INS = parse_document(
    "{vehicle: a vehicle, kind: wagon, floor finish: smooth, mass: 1, "
    "wheels: {kind: axles, at: 0, radius: 1}}",
    Path(),
    [],
)
"""What is read on with where a key that must be there holds a mistake."""


def vehicle_of(document: Block, path: Path, mistakes: list[Mistake]) -> Vehicle | None:
    """Return the vehicle that a document describes, or None after its mistakes went to the list."""
    before = len(mistakes)
    collector = Collector(path, mistakes)
    entry = validate_top(VehicleFile, document, collector, _STAND_INS)
    if entry is None:
        return None
    legend = {**DEFAULT_LEGEND, **entry.legend}
    entry.couplings = _each_end(entry)
    _check_names(entry, legend, collector)
    layers = _layers(entry, legend, collector)
    body = _body(entry, layers, legend, collector)
    if body is None:
        return None
    hull = _hull(entry, body)
    lids = [item.box.flat_box() for item in entry.openings if item.out == "+z"]
    with_loads = Box(
        hull.low, (*hull.high[:2], top_of_loads(entry.kind, body, lids, hull, entry.load_height))
    )
    check_places(entry, with_loads, collector)
    return None if len(mistakes) > before else _vehicle(entry, layers, body, hull)


def _each_end(entry: VehicleFile) -> list[CouplingEntry]:
    """Return the couplings with two for each that is said of both ends."""
    long, found = entry.footprint.long * STUD, []
    for item in entry.couplings:
        for end, pivot in (("front", long - item.pivot), ("rear", item.pivot)):
            one = item if item.end != "both" else item.model_copy(update={"end": end, "pivot": pivot})
            if one not in found:
                found.append(one)
    return found


# --- names -------------------------------------------------------------------------------------------------


def _check_names(entry: VehicleFile, legend: dict[str, Meaning], collector: Collector) -> None:
    check_once(collector, "removable brick", [item.name for item in entry.removable])
    check_once(collector, "opening", [item.name for item in entry.openings])
    check_once(collector, "window", [item.name for item in entry.windows])
    check_once(collector, "port", [item.name for item in entry.ports])
    check_once(collector, "built-in thing", [item.name for item in entry.built_in])
    check_once(collector, "coupling at the end", [Text(item.end, item.spot) for item in entry.couplings])
    for port in entry.ports:
        if port.name in OPEN_ENDS.values():
            expected = "another name: so is called an end where no brick is and no port is drawn"
            collector.add(port.spot, f"a port named {str(port.name)!r}", expected)
    for item in entry.built_in:
        check_once(collector, "face", [face.name for face in item.faces])
        pins = [Text(pin.name, block.spot) for block in item.pins for pin in block.pins()]
        check_once(collector, "pin", pins)
        check_joined(collector, item.pins)
    declared = [str(item.name) for item in entry.removable]
    used = [name for _, name in legend.values() if name]
    used += [item.state[1] for item in entry.solids if item.state[1]]
    for name in used:
        if name not in declared and name not in collector.broken:
            spot = name.spot if isinstance(name, Text) else entry.spot
            expected = f"a name declared under 'removable': {one_of_phrase(declared)}" if declared else (
                "its name and cost under 'removable'"
            )  # fmt: skip
            collector.add(spot, f"the removable brick {str(name)!r}", expected, nearest_name(name, declared))


# --- body --------------------------------------------------------------------------------------------------


def _layers(entry: VehicleFile, legend: dict[str, Meaning], collector: Collector) -> tuple[Layer, ...]:
    """Return the layers whose drawings are as large as the footprint."""
    if not entry.layers:
        return ()
    if entry.base is None:
        found, expected = (
            "layers without 'base'",
            "the height of the first layer above the rail head in 'base'",
        )
        collector.add(entry.layers[0].spot, found, expected)
    height = entry.base or 0.0
    layers: list[Layer] = []
    below: dict[str, list[Text] | None] = {}
    strange: set[str] = set()
    for item in entry.layers:
        rows = full_rows(item, below, entry.footprint.long, entry.footprint.wide, collector)
        below[str(item.name)] = rows
        if rows is not None and _rows_fit(item, rows, entry, legend, strange, collector):
            drawn = tuple(str(row) for row in rows)
            halves = len(rows) == 2 * entry.footprint.wide
            layers.append(Layer(str(item.name), height, item.plates, drawn, item.smooth, halves))
        else:
            below[str(item.name)] = None
        height = round(height + item.plates * PLATE, 6)
    return tuple(layers)


def _rows_fit(
    item: LayerEntry,
    rows: list[Text],
    entry: VehicleFile,
    legend: dict[str, Meaning],
    strange: set[str],
    collector: Collector,
) -> bool:
    """Report rows that are too many or too long, and each character that the legend lacks once in all."""
    long, wide, each = entry.footprint.long, entry.footprint.wide, "stud"
    if item.halves or (item.like is not None and len(rows) == 2 * wide):
        long, wide, each = 2 * long, 2 * wide, "half stud"
    good = True
    if len(rows) != wide:
        collector.add(
            rows[0].spot,
            f"{len(rows)} row{'s' if len(rows) > 1 else ''} in the layer {str(item.name)!r}",
            f"{wide} rows, one for each {each} of the width",
        )
        good = False
    told: set[Spot] = set()
    for number, row in enumerate(rows, 1):
        if row.spot in told:
            continue
        told.add(row.spot)
        where = f"in row {number} of the layer {str(item.name)!r}"
        if len(row) != long:
            collector.add(
                row.spot,
                f"{len(row)} characters {where}",
                f"{long} characters, one for each {each} of the length",
            )
            good = False
        for character in sorted(set(row) - set(legend)):
            good = False
            if character in strange:
                continue
            strange.add(character)
            collector.add(
                Spot(row.spot.line, row.spot.column + row.index(character)),
                f"the character {character!r} {where}",
                f"a character of the legend: {' '.join(legend)}",
                "" if not character.isspace() else "write free studs as '.' and studs outside as '-'",
            )
    return good


def _body(
    entry: VehicleFile, layers: tuple[Layer, ...], legend: dict[str, Meaning], collector: Collector
) -> tuple[BodySolid, ...] | None:
    """Return the body; None when there is nothing to measure a hull from."""
    drawn = body_of_layers(layers, {key: (state, str(name)) for key, (state, name) in legend.items()})
    width = entry.footprint.wide * STUD
    drawings = [(item, solid) for item in entry.solids for solid in item.both(width)]
    solids = tuple(
        BodySolid(solid, item.state[0], str(item.state[1]), item.smooth) for item, solid in drawings
    )
    if entry.layers is None and not entry.solids and entry.voxels is None:
        collector.add(entry.spot, "neither 'layers' nor 'solids'", "layer drawings, solids, or both")
    if entry.layers is not None and len(layers) < len(entry.layers):
        # The hull cannot be known while some layers are wrong.
        return None
    area = (entry.footprint.long * STUD, entry.footprint.wide * STUD)
    for item, solid in drawings:
        _check_in_footprint(solid, "a solid", item.spot, area, collector)
    for built in entry.built_in:
        for part in built.solids:
            _check_in_footprint(part.solid(), f"a solid of {str(built.name)!r}", part.spot, area, collector)
    if entry.voxels is not None:
        boxes = _boxes(entry.voxels, [str(item.name) for item in entry.removable], collector)
        if boxes:
            bounds = bounds_of(tuple(item.solid for item in boxes))
            _check_in_footprint(bounds, f"the file {str(entry.voxels)!r}", _spot(entry), area, collector)
        drawn = (*drawn, *boxes)
    return (*drawn, *solids) or None


def _boxes(name: str, declared: Sequence[str], collector: Collector) -> tuple[BodySolid, ...]:
    """Return the boxes of the sidecar file; none after its mistakes went to the collector."""
    spot = name.spot if isinstance(name, Text) else Spot(0, 0)
    expected = "a file of boxes beside this one, as it is made from a mesh"
    if Path(name).is_absolute() or ".." in Path(name).parts:
        collector.add(spot, f"the file {str(name)!r}", expected)
        return ()
    try:
        boxes = read_sidecar(collector.path.parent / name)
    except BadSidecar as bad:
        collector.add(spot, f"{bad}: {str(name)!r}", expected)
        return ()
    for brick in sorted({item.removable for item in boxes if item.removable} - set(declared)):
        collector.add(
            spot, f"the removable brick {brick!r} in {str(name)!r}", "its name and cost under 'removable'"
        )
    return boxes


def _spot(entry: VehicleFile) -> Spot:
    return entry.voxels.spot if isinstance(entry.voxels, Text) else entry.spot


def _check_in_footprint(
    solid: Solid, what: str, spot: Spot, area: tuple[float, float], collector: Collector
) -> None:
    box = solid.bounds
    low = (-TOUCH, -TOUCH, -TOUCH)
    high = (area[0] + TOUCH, area[1] + TOUCH, MOST_HIGH)
    for i, axis in enumerate("xyz"):
        if box.low[i] < low[i] or box.high[i] > high[i]:
            limit = MOST_HIGH if i == 2 else area[i]
            collector.add(
                spot,
                f"{what} with {axis} from {box.low[i]:g} to {box.high[i]:g}",
                f"{axis} from 0 to {limit:g}, {'the height' if i == 2 else 'the footprint'} (mm)",
                "" if i == 2 else "make the footprint larger if it stands out",
            )


def _hull(entry: VehicleFile, body: Sequence[BodySolid]) -> Box:
    built = [item.solid() for thing in entry.built_in for item in thing.solids]
    bounds = bounds_of((*(item.solid for item in body), *built))
    low = min(bounds.low[2], entry.base) if entry.base is not None else bounds.low[2]
    return Box((0.0, 0.0, low), (entry.footprint.long * STUD, entry.footprint.wide * STUD, bounds.high[2]))


# --- the vehicle -------------------------------------------------------------------------------------------


def _vehicle(
    entry: VehicleFile, layers: tuple[Layer, ...], body: tuple[BodySolid, ...], hull: Box
) -> Vehicle:
    wheels = entry.wheels
    driven = tuple(wheels.driven) or (False,)
    center: Vec = entry.mass_center or hull.center
    vehicle = Vehicle(
        name=str(entry.vehicle),
        kind=entry.kind,
        studs_long=entry.footprint.long,
        studs_wide=entry.footprint.wide,
        base=hull.low[2],
        top=hull.high[2],
        floor_finish=entry.floor_finish,
        body=body,
        layers=layers,
        removables=tuple(Removable(str(item.name), item.cost) for item in entry.removable),
        openings=tuple(
            Opening(str(item.name), item.box.flat_box(), item.out, item.often) for item in entry.openings
        ),
        windows=tuple(
            Window(str(item.name), item.box.flat_box(), item.out, item.open) for item in entry.windows
        ),
        ports=tuple(Port(str(item.name), item.box.flat_box(), item.out) for item in entry.ports),
        couplings=tuple(_coupling(item) for item in entry.couplings),
        wheels=Wheels(
            kind=wheels.kind,
            at=tuple(sorted(wheels.at)),
            driven=tuple(
                is_driven
                for _, is_driven in sorted(
                    zip(wheels.at, driven if len(driven) > 1 else driven * len(wheels.at), strict=True)
                )
            ),
            wheel_radius=wheels.radius,
            bogie_wheelbase=wheels.bogie_wheelbase or 0.0,
        ),
        built_in=tuple(_built_in(item) for item in entry.built_in),
        mass_g=entry.mass,
        mass_center=center,
        characters=tuple(
            (character, f"{state} {name}".strip())
            for character, (state, name) in {**DEFAULT_LEGEND, **entry.legend}.items()
        ),
        rounded=entry.rounded or 0.0,
    )
    return open_for_loads(vehicle, entry.load_height)


def _coupling(item: CouplingEntry) -> Coupling:
    assert item.end != "both"
    return Coupling(item.end, item.pivot, item.height, item.length, item.parted)


def _built_in(item: BuiltInEntry) -> BuiltIn:
    return BuiltIn(
        name=str(item.name),
        kind=item.kind,
        solids=tuple(solid.solid() for solid in item.solids),
        faces=tuple(Face(str(face.name), face.box.flat_box(), face.out) for face in item.faces),
        pins=tuple(pin for block in item.pins for pin in block.pins()),
        mass_g=item.mass,
        stall_ma=item.stall,
        current_ma=item.current,
        cells=_cells(item),
    )


def _cells(item: BuiltInEntry) -> CellPack | None:
    figures = figures_of("cells", item.cells) if item.cells is not None else None
    return figures if isinstance(figures, CellPack) else None
