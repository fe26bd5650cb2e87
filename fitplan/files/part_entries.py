"""One part as part files say it: envelope, clearances, pins, mount, access, figures."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, PlainValidator, ValidationInfo, model_validator

from fitplan.files.document import Text
from fitplan.files.electrical_entries import figures_entry
from fitplan.files.entries import Collector, Entry, about, check_once, collector_of, many
from fitplan.files.fields import (
    Name,
    PartId,
    Prose,
    Side,
    ValueKind,
    Words,
    YesNo,
    number,
    one_of,
    one_of_phrase,
    read_side,
    several,
)
from fitplan.files.on_envelope import PIN_MARGIN, faces_away, leaves_into, point_words, span_words, within
from fitplan.files.part_figures import ElectricalEntry
from fitplan.files.pin_entries import Joint, PinEntry, check_joined, check_programs
from fitplan.files.solid_entries import FlatBoxEntry, SolidEntry
from fitplan.model import electrical as figures
from fitplan.model.part import (
    ACCESS_KINDS,
    CLEARANCE_KINDS,
    Access,
    AccessKind,
    Clearance,
    ClearanceKind,
    Mount,
    Part,
)
from fitplan.model.solids import SIDE_NAMES, Cylinder, Direction, Solid, bounds_of

CAUTIONS = ("lithium", "button-cell", "primary-cells", "nimh", "mains-charger", "soldering", "small-parts")
"""Usual cautions that a part can carry."""
FIGURE_KEYS: dict[type, str] = {
    figures.Controller: "controller", figures.CellPack: "cells", figures.Bank: "bank",
    figures.Regulator: "regulator", figures.Charger: "charger", figures.Coil: "coil",
    figures.Ranger: "ranger",
    figures.Emitter: "emitter", figures.MotorDriver: "driver", figures.Switch: "switch",
    figures.Connector: "connector", figures.Conductor: "conductor", figures.Lead: "lead",
}  # fmt: skip
OwnLeadsEntry = figures_entry("own leads")


class ClearanceEntry(SolidEntry):
    """Room that a part needs beyond its envelope."""

    name: Name = about("what it is for, such as USB plug")
    kind: Annotated[
        ClearanceKind, PlainValidator(one_of(CLEARANCE_KINDS)), ValueKind(one_of_phrase(CLEARANCE_KINDS))
    ] = about("plug, lead (wires may pass), lens, air (wires may pass), finger")
    needed: Annotated[str, PlainValidator(one_of(("always", "access"))), ValueKind("always or access")] = (
        Field("always", description="always, or only for access while the vehicle is open")
    )


class MountEntry(Entry):
    """How a part may sit."""

    looks: Side | None = Field(None, description="the part's side that must look out of a window")
    lens: FlatBoxEntry | None = Field(
        None,
        description="with `looks`: the rectangle of that side that must lie inside the window (`from`, `to`)",
    )
    sits: Side | None = Field(
        None, description="the part's side that must lie on the face of something built in"
    )
    upright: YesNo = Field(False, description="its up must point up")
    up: (
        Annotated[list[Direction], PlainValidator(several(read_side, "sides")), ValueKind("list of sides")]
        | None
    ) = Field(None, description="which of its own sides may point up; all when not given")
    turnable: YesNo = Field(True, description="no: only as drawn")
    needs_support: YesNo = Field(True, description="something must carry it from below")

    @model_validator(mode="after")
    def _check_lens(self) -> Self:
        if (self.looks is None) != (self.lens is None):
            found = "'looks' without 'lens'" if self.lens is None else "'lens' without 'looks'"
            raise self.lacking(
                found, "both: the side that looks out and the rectangle of it that must stay clear"
            )
        return self

    def mount(self) -> Mount:
        """Return the rules."""
        return Mount(
            looks=self.looks,
            lens=self.lens.flat_box() if self.lens is not None else None,
            sits=self.sits,
            upright=self.upright,
            up=tuple(self.up or ()),
            turnable=self.turnable,
            needs_support=self.needs_support,
        )


class AccessEntry(Entry):
    """What must be reachable once the part is built in."""

    name: Name = about("what it is, such as USB socket")
    kind: Annotated[
        AccessKind, PlainValidator(one_of(ACCESS_KINDS)), ValueKind(one_of_phrase(ACCESS_KINDS))
    ] = about("switch, socket, cells that are changed, or the serial console's socket")
    side: Side = about(
        "the part's side from which it is reached: over all of it, unless a clearance that is needed for"
        " access tells where on it (a finger before a switch, a plug before a socket)"
    )
    often: YesNo = Field(
        True,
        description="in everyday use; no: only when building. Cells that a board in the train charges, and a "
        "charging board that a coil feeds, are got at when building only",
    )


class PartEntry(Entry):
    """One part."""

    id: PartId = about("how train files name it; lower-case letters, digits and hyphens")
    name: Words = about("what it is, for people")
    envelope: Annotated[list[SolidEntry], *many(SolidEntry, "solids", may_be_empty=False)] | None = Field(
        None, description="the solids that it fills together; only a wire may go without"
    )
    clearances: Annotated[list[ClearanceEntry], *many(ClearanceEntry, "clearances")] = Field(
        [], description="room that it needs beyond the envelope"
    )
    pins: Annotated[list[PinEntry], *many(PinEntry, "pins")] = Field(
        [], description="where wires are connected"
    )
    pin_rows: Annotated[str, PlainValidator(one_of(("below",))), ValueKind("below")] | None = Field(
        None,
        description="its pin rows come loose: there is a second part, `ID-pins`, with them soldered in below",
    )
    wired: OwnLeadsEntry | None = Field(  # type: ignore[valid-type]
        None,
        description="it is also sold ready-wired: there is a second part, `ID-leads`, with leads of its own",
    )
    joint: Joint = Field("solder", description="how wires are fastened at pins that do not say it themselves")
    mount: MountEntry | None = Field(
        None, description="how it may sit; any way with support below when not given"
    )
    access: Annotated[list[AccessEntry], *many(AccessEntry, "access rules")] = Field(
        [], description="what must be reachable once it is built in"
    )
    mass: Annotated[float, PlainValidator(number("g", least=0)), ValueKind("number in g")] = about("mass")
    electrical: Annotated[list[ElectricalEntry], *many(ElectricalEntry, "figures")] = Field(
        [], description="electrical figures, one block a kind"
    )
    price: Annotated[float, PlainValidator(number(least=0)), ValueKind("number")] = Field(
        0.0, description="price of one, or of one set of primary cells, in your currency; 0: not given"
    )
    typical: YesNo = Field(False, description="a typical outline: measure yours")
    cautions: Annotated[list[str], PlainValidator(several(one_of(CAUTIONS), "cautions")), ValueKind(
        f"list of {one_of_phrase(CAUTIONS)}"
    )] = Field([], description="usual cautions that apply")  # fmt: skip
    source: Prose = about("where the figures come from")

    @model_validator(mode="after")
    def _check_whole(self, info: ValidationInfo) -> Self:
        collector = collector_of(info)
        before = len(collector.mistakes)
        self._check_names(collector)
        self._check_positions(collector)
        self._is_sound = self._is_sound and len(collector.mistakes) == before
        return self

    def _check_positions(self, collector: Collector) -> None:
        envelope = [entry.solid() for entry in self.envelope or ()]
        if not envelope:
            return
        bounds = bounds_of(tuple(envelope))
        for entry in self.pins:
            for pin in entry.pins():
                if not within(pin.at, bounds, PIN_MARGIN):
                    collector.add(
                        entry.spot,
                        f"pin {pin.name!r} at {point_words(pin.at)}",
                        f"a place on the envelope, {span_words(bounds)}",
                    )
                elif leaves_into(pin, envelope):
                    found = (
                        f"pin {pin.name!r} at {point_words(pin.at)}, which leaves into the part's own body"
                    )
                    collector.add(entry.spot, found, "an 'exit' that leads out of the envelope")
        if self.mount is not None and self.mount.lens is not None:
            lens = self.mount.lens.flat_box()
            if not (within(lens.low, bounds, 0.01) and within(lens.high, bounds, 0.01)):
                found = f"a lens from {point_words(lens.low)} to {point_words(lens.high)}"
                collector.add(self.mount.lens.spot, found, f"a place on the envelope, {span_words(bounds)}")
            elif self.mount.looks is not None and faces_away(lens, self.mount.looks, bounds):
                found = f"a lens at the other side of a part that looks to the {SIDE_NAMES[self.mount.looks]}"
                collector.add(self.mount.lens.spot, found, "a lens at the side that it looks to")

    def _check_names(self, collector: Collector) -> None:
        pins = [Text(pin.name, entry.spot) for entry in self.pins for pin in entry.pins()]
        check_once(collector, "pin", pins)
        check_joined(collector, self.pins)
        check_programs(collector, self.pins)
        check_once(collector, "clearance", [entry.name for entry in self.clearances])
        check_once(collector, "access rule", [entry.name for entry in self.access])
        kinds: set[type[object]] = set()
        for block in self.electrical:
            figure = block.figures()
            if type(figure) in kinds:
                key = FIGURE_KEYS.get(type(figure), type(figure).__name__.lower())
                collector.add(block.spot, f"a second block {key!r}", "one block of each kind")
            kinds.add(type(figure))
            if isinstance(figure, figures.Controller):
                for name in figure.serial_pins:
                    if name not in pins and self.is_sound:
                        collector.add(
                            block.spot, f"the serial pin {name!r}", f"a pin of the part {str(self.id)!r}"
                        )

    def part(self, family: str) -> Part:
        """Return the part."""
        electrical = tuple(block.figures() for block in self.electrical)
        envelope = tuple(entry.solid() for entry in self.envelope or ())
        return Part(
            id=str(self.id),
            name=str(self.name),
            family=family,
            envelope=envelope or _piece_of_wire(electrical),
            mass_g=self.mass,
            source=str(self.source),
            clearances=tuple(
                Clearance(
                    str(entry.name),
                    entry.kind,
                    entry.solid(),
                    "access" if entry.needed == "access" else "always",
                )
                for entry in self.clearances
            ),
            pins=tuple(pin for entry in self.pins for pin in entry.pins(self.joint)),
            mount=self.mount.mount() if self.mount is not None else Mount(),
            access=tuple(
                Access(str(entry.name), entry.kind, entry.side, entry.often) for entry in self.access
            ),
            electrical=electrical,
            typical=self.typical,
            price=self.price,
            cautions=tuple(self.cautions),
        )


def _piece_of_wire(electrical: tuple[figures.Electrical, ...]) -> tuple[Solid, ...]:
    """Return 10 mm of a wire, so that every part has an envelope to show."""
    wire = next((figure for figure in electrical if isinstance(figure, figures.Conductor)), None)
    if wire is None:
        return ()
    radius = wire.outer_mm / 2
    pitch = wire.pitch_mm or wire.outer_mm
    return tuple(
        Cylinder("x", (0.0, radius + i * pitch, radius), 10.0, radius) for i in range(wire.conductors)
    )
