"""Train files: what may stand in them."""

from __future__ import annotations

from typing import Annotated, Self, get_args

from pydantic import Field, PlainValidator, ValidationInfo, model_validator

from fitplan.files.as_built import AsBuiltEntry
from fitplan.files.document import Block, Row, Text, shown
from fitplan.files.entries import Entry, ListOf, about, collector_of, many
from fitplan.files.fields import (
    InvalidValue,
    Name,
    PartId,
    ValueKind,
    Words,
    YesNo,
    number,
    one_of,
    one_of_phrase,
    read_id,
    read_name,
    read_text_value,
    several,
    whole,
)
from fitplan.files.measured_entries import MeasuredEntry, read_measured
from fitplan.files.need_entries import NeedEntry, PreferenceEntry
from fitplan.files.operation_entries import RunningEntry, TrackEntry
from fitplan.files.solid_entries import FullBoxEntry
from fitplan.files.wiring_entries import Style, WiringEntry
from fitplan.model.nets import NetRole
from fitplan.model.on_hand import TOOLS, Tool

NET_ROLES: tuple[NetRole, ...] = get_args(NetRole)


def _read_pin_ref(value: object) -> Text:
    text = read_text_value(value)
    owner, dot, pin = text.rpartition(".")
    if not dot or not owner.strip() or not pin.strip():
        raise InvalidValue(shown(text), "an owner, a dot and a pin, such as cells.plus or shunter/motor.plus")
    return text


class VehicleRefEntry(Entry):
    """A vehicle in its place in the train."""

    name: Name = about("as needs and nets name it")
    file: Words = about("its vehicle file, from the folder of the train file")
    turned: YesNo = Field(False, description="its own front looks backwards")


class NetEntry(Entry):
    """Pins that are joined."""

    name: Name = about("as reports name it")
    role: Annotated[NetRole, PlainValidator(one_of(NET_ROLES)), ValueKind(one_of_phrase(NET_ROLES))] = about(
        "what it carries"
    )
    joins: Annotated[list[Text], PlainValidator(several(_read_pin_ref, "pins", lone=False)), ValueKind(
        "list of `owner.pin`"
    )] = about(
        "owner: a need, or `vehicle/built-in`; pin: a name, a role, or `*` for any signal pin that can do it"
    )  # fmt: skip
    style: Style | None = Field(None, description="how it branches; that of `wiring` when not given")
    current: Annotated[float, PlainValidator(number("mA", least=0)), ValueKind("number in mA")] = Field(
        0.0, description="your own figure for the gauge; 0: from the loads"
    )
    lead: PartId | None = Field(
        None,
        description="a lead as bought that plugs the two ends of a supply net together, ground with it; "
        "wires from the spool when not given",
    )


_Weight = Annotated[float, PlainValidator(number(least=0)), ValueKind("number")]


class WeightsEntry(Entry):
    """What one unit of each cost weighs when choices are compared."""

    vehicles_opened: _Weight = Field(1000.0, description="a vehicle that something is built into")
    wagons_added: _Weight = Field(500.0, description="a wagon that is added")
    conductors_across: _Weight = Field(50.0, description="a conductor across a coupling")
    bricks_removed: _Weight = Field(20.0, description="a unit of your own cost of removable bricks")
    wire_metres: _Weight = Field(5.0, description="a metre of wire")
    mass_off_balance: _Weight = Field(0.1, description="a gram off balance")
    unfused_across: _Weight = Field(
        25.0, description="a conductor across a coupling ahead of the fuse, beside its weight as a conductor"
    )
    later_in_list: _Weight = Field(
        1.0, description="a part one place further down the list of what may serve a need"
    )


def _read_drawer(value: object, info: ValidationInfo) -> list[tuple[Text, int]]:
    """Return ids and counts; a list of ids is one of each."""
    if isinstance(value, Row | Text):
        return [(name, 1) for name in several(read_id, "part ids")(value)]
    if not isinstance(value, Block):
        raise InvalidValue(shown(value), "ids and how many there are, such as {cells-aa-2: 1}")
    found: list[tuple[Text, int]] = []
    for key, item in value.items():
        spot = value.key_spots.get(key, item.spot)
        try:
            found.append((read_id(Text(key, spot)), whole(0, 1000)(item)))
        except InvalidValue as wrong:
            collector_of(info).add(wrong.spot or item.spot, wrong.found, wrong.expected)
    return found


class OwnedEntry(Entry):
    """What you have already."""

    parts: Annotated[list[tuple[Text, int]], PlainValidator(_read_drawer), ValueKind("ids and counts")] = (
        Field(
            [], description="parts in the drawer: `{switch-slide: 2}`; choices prefer them, you buy the rest"
        )
    )
    tools: Annotated[
        list[Tool],
        PlainValidator(several(one_of(TOOLS), "tools")),
        ValueKind(f"list of {one_of_phrase(TOOLS)}"),
    ] = Field(
        list(TOOLS),
        description="all of them when not given; no soldering iron: as `solder: no`; no crimping tool: leads "
        "with contacts are bought",
    )


def _read_zone_parts(value: object) -> tuple[bool, tuple[Text, ...]]:
    """Return whether any part may be in a zone, and where not, the needs that may."""
    if isinstance(value, Text) and value in ("yes", "no"):
        return (value == "yes", ())
    return (False, tuple(several(read_name, "needs, or yes or no")(value)))


class ZoneEntry(Entry):
    """Room of a vehicle that is shut to parts or to wires."""

    name: Name = about("as findings name it")
    vehicle: Name = about("which vehicle")
    box: FullBoxEntry = about("its room, in the vehicle's frame")
    parts: Annotated[
        tuple[bool, tuple[Text, ...]],
        PlainValidator(_read_zone_parts),
        ValueKind("yes, no, or list of needs"),
    ] = Field((True, ()), description="no: no part may be there; or the needs that alone may")
    wires: YesNo = Field(True, description="no: no wire may be there, and no pin that is wired")

    @model_validator(mode="after")
    def _check_shut(self) -> Self:
        if self.parts[0] and self.wires:
            raise self.lacking(
                "a zone that is shut to nothing", "`parts: no`, `parts` with needs, or `wires: no`"
            )
        return self


class TrainFile(Entry):
    """A train file."""

    train: Name = about("what the train is called")
    vehicles: Annotated[list[VehicleRefEntry], *many(VehicleRefEntry, "vehicles", may_be_empty=False)] = (
        about("in running order, the leading vehicle first")
    )
    needs: Annotated[list[NeedEntry], *many(NeedEntry, "needs", may_be_empty=False)] = about(
        "what must be built in"
    )
    nets: Annotated[list[NetEntry], *many(NetEntry, "nets")] = Field([], description="which pins are joined")
    usual_nets: YesNo = Field(
        False,
        description="join what `nets` leave open as is usual: ground to all, the supply through fuse, "
        "charger, switch and regulator to the controller, its rails to what they feed, each signal to a pin "
        "that can do it, of several controllers to the one in its vehicle; "
        "what belongs to a net that is written joins that net; where the parts of a choice are wired "
        "otherwise than one another, the first of them that work are left to choose from",
    )
    zones: Annotated[list[ZoneEntry], *many(ZoneEntry, "zones")] = Field(
        [], description="room of vehicles that is shut to parts or to wires"
    )
    track: TrackEntry = Field(
        default_factory=TrackEntry.model_construct, description="the track; a common one when not given"
    )
    running: RunningEntry = about("how the train runs")
    weights: WeightsEntry = Field(
        default_factory=WeightsEntry.model_construct, description="what counts when choices are compared"
    )
    wiring: WiringEntry = Field(
        default_factory=WiringEntry.model_construct, description="wires and connectors"
    )
    preferences: Annotated[list[PreferenceEntry], *many(PreferenceEntry, "preferences")] = Field(
        [],
        description="what is liked, in the order of importance: what is to be near goes into one vehicle "
        "if that fits, whatever wires and bricks cost; inside a vehicle each counts ten times the next",
    )
    owned: OwnedEntry = Field(
        default_factory=OwnedEntry.model_construct, description="what you have already: parts and tools"
    )
    may_add_wagon: YesNo = Field(
        False,
        description="a wagon may be proposed when something does not fit: like the last one, or a plain van",
    )
    may_open: YesNo = Field(
        False,
        description="where wires find no way through a body, the least is opened in it: removable bricks "
        "out, bricks with a hole in place of whole ones (1 each), or bricks left out (2 each)",
    )
    measured: Annotated[
        list[MeasuredEntry] | Text,
        PlainValidator(read_measured),
        ValueKind("list of measured figures, or the file that holds it"),
        ListOf(MeasuredEntry),
    ] = Field(
        [],
        description="what you measured, each with its date; it goes before typical figures. Or the name of a "
        "file beside this one that holds `measured:` and the list",
    )
    as_built: AsBuiltEntry = Field(
        default_factory=AsBuiltEntry.model_construct,
        description="what is built already; `fitplan freeze` writes it, and a plan keeps it unless something "
        "must go",
    )
