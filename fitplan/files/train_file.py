"""Train files: what may stand in them."""

from __future__ import annotations

from typing import Annotated, Literal, Self, get_args

from pydantic import Field, PlainValidator, ValidationInfo, model_validator

from fitplan.errors import nearest_name
from fitplan.files.as_built import AsBuiltEntry
from fitplan.files.document import Block, Row, Text, Value, shown
from fitplan.files.entries import Entry, about, collector_of, many
from fitplan.files.fields import (
    Distance,
    Extent,
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
from fitplan.files.fixed_place import AtEntry
from fitplan.files.measured import MeasuredEntry
from fitplan.files.part_file import FAMILIES
from fitplan.files.solid_entries import FullBoxEntry
from fitplan.model.needed import PREFERENCES, PreferenceKind
from fitplan.model.nets import NetRole, WiringStyle
from fitplan.model.on_hand import TOOLS, Tool
from fitplan.model.part import CANS, Can
from fitplan.model.wiring import SPOOL_COLOURS

NET_ROLES: tuple[NetRole, ...] = get_args(NetRole)
STYLES: tuple[WiringStyle, ...] = get_args(WiringStyle)

Style = Annotated[WiringStyle, PlainValidator(one_of(STYLES)), ValueKind(one_of_phrase(STYLES))]


def _read_pin_counts(value: object, info: ValidationInfo) -> list[tuple[Can, int]]:
    if not isinstance(value, Block) or not value:
        raise InvalidValue(shown(value), "abilities and how many pins, such as {pwm: 1}")
    counts: list[tuple[Can, int]] = []
    for key, item in value.items():
        if key not in CANS:
            spot = value.key_spots.get(key, item.spot)
            collector_of(info).add(spot, f"the ability {key!r}", one_of_phrase(CANS), nearest_name(key, CANS))
            continue
        try:
            counts.append((key, whole(1, 60)(item)))
        except InvalidValue as wrong:
            collector_of(info).add(item.spot, wrong.found, wrong.expected)
    return sorted(counts)


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


def _parts_of_place(value: Value, keys: tuple[str, ...]) -> Block | None:
    """Return ``vehicle/window`` and the like as a block with these keys."""
    words = value.split("/") if isinstance(value, Text) else []
    if len(words) != len(keys) or not all(word.strip() for word in words):
        return None
    assert isinstance(value, Text)
    block = Block(value.spot)
    for key, word in zip(keys, words, strict=True):
        block.put(key, Text(word.strip(), value.spot), value.spot)
    return block


class LooksEntry(Entry):
    """Which window a part looks out of; short: ``vehicle/window``."""

    @classmethod
    def from_short(cls, value: Value) -> Block | None:
        """Return the block for ``vehicle/window``."""
        return _parts_of_place(value, ("vehicle", "window"))

    vehicle: Name = about("which vehicle")
    window: Name = about("which of its windows")


class SitsEntry(Entry):
    """Which face a part sits on; short: ``vehicle/built-in/face``."""

    @classmethod
    def from_short(cls, value: Value) -> Block | None:
        """Return the block for ``vehicle/built-in/face``."""
        return _parts_of_place(value, ("vehicle", "on", "face"))

    vehicle: Name = about("which vehicle")
    on: Name = about("what it sits on: something built in")
    face: Name = about("which of its faces")


class ExchangeEntry(Entry):
    """What may be opened and taken out to get at a part that is exchanged, plugged in or switched often."""

    open: Annotated[
        list[Text], PlainValidator(several(read_name, "openings")), ValueKind("list of openings")
    ] = Field([], description="openings that may be opened for it; those with `often: yes` when not given")
    parts_out: Annotated[int, PlainValidator(whole(0, 20)), ValueKind("number from 0 to 20")] = Field(
        0, description="how many other parts may have to come out before it"
    )
    bricks_out: Annotated[int, PlainValidator(whole(0, 20)), ValueKind("number from 0 to 20")] = Field(
        0, description="how many removable bricks may have to come out before it"
    )


class ChooseEntry(Entry):
    """What is asked of a part that is chosen from the catalogue; short: a list of ids."""

    @classmethod
    def from_short(cls, value: Value) -> Block | None:
        """Return the block for a list of ids, or for the name of a family."""
        if isinstance(value, Text) and value not in FAMILIES:
            return None
        block = Block(value.spot)
        block.put("parts" if isinstance(value, Row) else "family", value, value.spot)
        return block

    family: Annotated[list[str], PlainValidator(several(one_of(FAMILIES), "families")), ValueKind(
        "family, or list of families"
    )] | None = Field(None, description="families of the catalogue; not needed with `parts`")  # fmt: skip
    parts: (
        Annotated[list[PartId], PlainValidator(several(read_id, "part ids")), ValueKind("list of ids")] | None
    ) = Field(None, description="only these parts, the preferred first")
    pins: Annotated[
        list[tuple[Can, int]], PlainValidator(_read_pin_counts), ValueKind("abilities and counts")
    ] = Field([], description="signal pins that must be there beyond those that the nets ask for")
    volts: Annotated[float, PlainValidator(number("V", above=0)), ValueKind("number in V")] | None = Field(
        None, description="a supply: volts that must arrive"
    )
    hours: Annotated[float, PlainValidator(number("h", above=0)), ValueKind("number in h")] | None = Field(
        None, description="a supply: how long it must last"
    )

    @model_validator(mode="after")
    def _check_any(self) -> Self:
        if self.family is None and self.parts is None:
            raise self.lacking("neither 'family' nor 'parts'", "a family, or the ids of some parts")
        return self


_Vehicles = Annotated[
    list[Text], PlainValidator(several(read_name, "vehicle names")), ValueKind("list of vehicles")
]


class NeedEntry(Entry):
    """One thing that must be built in."""

    name: Name = about("as nets and reports name it")
    part: PartId | None = Field(None, description="id of the part; or give `choose`")
    choose: ChooseEntry | None = Field(
        None,
        description="what the part must be able to do; or a list of ids, the preferred first; or give `part`",
    )
    in_: _Vehicles | None = Field(
        None, description="vehicles that it may go into, the preferred first; any when not given"
    )
    looks: LooksEntry | None = Field(None, description="the window that it looks out of: `vehicle/window`")
    sits: SitsEntry | None = Field(None, description="the face that it sits on: `vehicle/on/face`")
    at: AtEntry | None = Field(
        None, description="a place that you have fixed, wholly or in some respects; what is open is found"
    )
    duty: Annotated[float, PlainValidator(number(least=0, most=1)), ValueKind("number from 0 to 1")] = Field(
        1.0, description="share of the running time in which it draws its current"
    )
    exchange: ExchangeEntry | None = Field(
        None,
        description="what may come out to get at it: `open`, `parts out`, `bricks out`; nothing but a lid"
        " when not given",
    )

    @model_validator(mode="after")
    def _check_one(self) -> Self:
        if (self.part is None) == (self.choose is None):
            found = "neither 'part' nor 'choose'" if self.part is None else "both 'part' and 'choose'"
            raise self.lacking(found, "the id of a part in 'part', or what it must be able to do in 'choose'")
        return self


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


class TrackEntry(Entry):
    """The track."""

    radius: Extent = Field(320.0, description="sharpest curve, to the middle of the track")
    reverse_curve: YesNo = Field(
        False, description="curves follow each other the other way without a straight"
    )
    straight_between: Distance = Field(
        128.0,
        description="shortest straight between curves of opposite hand; none with `reverse curve`",
    )
    gradient: Annotated[float, PlainValidator(number("%", least=0, most=25)), ValueKind("number in %")] = (
        Field(0.0, description="steepest gradient, up and down")
    )
    gauge: Extent = Field(38.0, description="from rail to rail")
    structure_half_width: Extent = Field(40.0, description="clear width beside the middle of straight track")
    structure_height: Extent = Field(120.0, description="clear height above the rail head")
    adhesion: Annotated[float, PlainValidator(number(above=0, most=2)), ValueKind("number from 0 to 2")] = (
        Field(0.25, description="most pull or brake of a driven wheel over its load; steel on dry steel")
    )


class RunningEntry(Entry):
    """How the train runs."""

    speed: Annotated[
        float, PlainValidator(number("mm/s", above=0, most=5000)), ValueKind("number in mm/s")
    ] = about("top speed")
    deceleration: Annotated[float, PlainValidator(number("mm/s²", above=0)), ValueKind("number in mm/s²")] = (
        Field(600.0, description="when the motor is stopped")
    )
    reading_interval: Annotated[
        float, PlainValidator(number("s", above=0, most=60)), ValueKind("number in s")
    ] = Field(0.1, description="from one reading of a ranger to the next")
    command_delay: Annotated[
        float, PlainValidator(number("s", least=0, most=60)), ValueKind("number in s")
    ] = Field(0.15, description="from the decision to the motor")
    temperature: Annotated[
        float, PlainValidator(number("°C", least=-30, most=60)), ValueKind("number in °C")
    ] = Field(20.0, description="of the air")
    trip_distance: Distance = Field(
        0.0, description="distance at which your program stops; 0: to be proposed"
    )
    margin: Distance = Field(20.0, description="distance that must be left")
    hours: Annotated[float, PlainValidator(number("h", above=0, most=1000)), ValueKind("number in h")] = (
        Field(2.0, description="how long the train is to run")
    )
    push_pull: YesNo | None = Field(
        None, description="runs both ways, so something must watch both; not said: one way is asked about"
    )
    reads: Annotated[
        Literal["front", "alternating", "all"],
        PlainValidator(one_of(("front", "alternating", "all"))),
        ValueKind("front, alternating or all"),
    ] = Field("front", description="which rangers are read")
    reading_order: Annotated[
        list[Text], PlainValidator(several(read_name, "rangers")), ValueKind("list of needs")
    ] = Field([], description="rangers in the order in which they are read; as `reads` says when not given")
    median: Annotated[int, PlainValidator(whole(1, 31)), ValueKind("odd number from 1 to 31")] = Field(
        1, description="your program follows the median of so many readings"
    )
    frame_interval: Annotated[
        float, PlainValidator(number("s", above=0, most=60)), ValueKind("number in s")
    ] = Field(0.1, description="from one infrared frame of a command to its repetition")
    lost_frames: Annotated[int, PlainValidator(whole(0, 20)), ValueKind("number from 0 to 20")] = Field(
        1, description="infrared frames one after the other that are reckoned lost"
    )
    coupling_play: Distance = Field(1.0, description="how far each coupling gives between pull and push")
    speed_in_curves: (
        Annotated[float, PlainValidator(number("mm/s", above=0, most=5000)), ValueKind("number in mm/s")]
        | None
    ) = Field(None, description="about curves, where your program slows down; `speed` when not given")

    @model_validator(mode="after")
    def _check_median(self) -> Self:
        if self.median % 2 == 0:
            raise self.lacking(f"a median of {self.median} readings", "an odd number in 'median'")
        return self


_Share = Annotated[float, PlainValidator(number(least=0, most=1)), ValueKind("number from 0 to 1")]
_Weight = Annotated[float, PlainValidator(number(least=0)), ValueKind("number")]


class WeightsEntry(Entry):
    """What one unit of each cost weighs when choices are compared."""

    vehicles_opened: _Weight = Field(1000.0, description="a vehicle that something is built into")
    wagons_added: _Weight = Field(500.0, description="a wagon that is added")
    conductors_across: _Weight = Field(50.0, description="a conductor across a coupling")
    bricks_removed: _Weight = Field(20.0, description="a unit of your own cost of removable bricks")
    wire_metres: _Weight = Field(5.0, description="a metre of wire")
    mass_off_balance: _Weight = Field(0.1, description="a gram off balance")


class AllowancesEntry(Entry):
    """What is added to a wire's way before it is cut; common practice, no source."""

    lead_out: Distance = Field(
        0.0, description="straight piece at a pin or cavity; the way itself begins along the pin's exit"
    )
    slack_share: _Share = Field(0.04, description="share of the way: a wire that is taped down is never taut")
    per_bend: Distance = Field(1.0, description="at each turn by more than `bend from`")
    bend_from: Annotated[float, PlainValidator(number("°", least=0, most=180)), ValueKind("number in °")] = (
        Field(30.0, description="turns by more than this count as bends")
    )
    strip: Distance = Field(4.0, description="insulation taken off at a pin or cavity")
    splice_overlap: Distance = Field(8.0, description="bared copper at a splice")
    service_loop: Distance = Field(25.0, description="at a part that has to come out again")
    rounding: Extent = Field(5.0, description="cut lengths are rounded up to a multiple of this")


class CouplingSlackEntry(Entry):
    """What wires over a coupling are longer than their longest distance; common practice, no source."""

    share: _Share = Field(0.1, description="share of the longest distance over all curves and gradients")
    least: Distance = Field(6.0, description="at least so much")
    above_rail: Distance = Field(
        4.0, description="how far the wires stay above the rail head; a clip is asked for otherwise"
    )


class SpoolEntry(Entry):
    """Wire of one colour that you own."""

    colour: Annotated[str, PlainValidator(one_of(SPOOL_COLOURS)), ValueKind(one_of_phrase(SPOOL_COLOURS))] = (
        about("letter code of IEC 60757")
    )
    metres: Annotated[float, PlainValidator(number("m", above=0)), ValueKind("number in m")] | None = Field(
        None, description="how much of it is left; enough when not given"
    )
    awg: Annotated[int, PlainValidator(whole(10, 40)), ValueKind("whole number")] | None = Field(
        None, description="its gauge (AWG); any when not given"
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


class PreferenceEntry(Entry):
    """What is liked of a part's place; one of its keys beside `of`."""

    of: Name = about("the need whose place it is")
    near: Words | None = Field(None, description="a need, or `vehicle/built-in`, that it lies close to")
    far_from: Words | None = Field(None, description="a need, or `vehicle/built-in`, that it keeps away from")
    same_side_as: Words | None = Field(
        None, description="a need, or `vehicle/built-in`, on whose side, left or right, it lies"
    )
    reachable_from: Words | None = Field(None, description="an opening that it lies under")
    hidden: YesNo = Field(False, description="it is not seen from outside through windows and gaps")

    @property
    def said(self) -> tuple[PreferenceKind, Text | None]:
        """What is liked, and of what."""
        for kind in PREFERENCES:
            value = getattr(self, kind.replace(" ", "_"))
            if value:
                return kind, None if value is True else value
        raise KeyError(self.of)

    @model_validator(mode="after")
    def _check_one(self) -> Self:
        given = [kind for kind in PREFERENCES if getattr(self, kind.replace(" ", "_"))]
        if len(given) != 1:
            found = "no preference" if not given else f"{' and '.join(map(repr, given))} together"
            raise self.lacking(found, f"one of {one_of_phrase(PREFERENCES)}")
        return self


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


class WiringEntry(Entry):
    """What you decide about the harness."""

    signal_wire: PartId | None = Field(None, description="wire for signals; `wire-awg28` when not given")
    power_wire: PartId | None = Field(None, description="wire for power; `wire-awg24` when not given")
    style: Style = Field(
        "tree",
        description="how nets branch: shared ways; a wire each to the net's distribution board, or else to "
        "the first pin that takes them all; or from pin to pin",
    )
    coupling_connector: PartId | None = Field(
        None, description="connector pair at each coupling; wires run through when not given"
    )
    drop_limit: Annotated[float, PlainValidator(number("V", above=0, most=50)), ValueKind("number in V")] = (
        Field(
            0.15,
            description="largest voltage drop there and back in a ground or supply net: decides the gauge",
        )
    )
    allowances: AllowancesEntry = Field(
        default_factory=AllowancesEntry.model_construct, description="what is added to each wire's way"
    )
    coupling_slack: CouplingSlackEntry = Field(
        default_factory=CouplingSlackEntry.model_construct, description="what is added over couplings"
    )
    spools: Annotated[list[SpoolEntry], *many(SpoolEntry, "spools")] = Field(
        [], description="colours of wire that you own; all colours when not given"
    )
    leads: Annotated[
        list[PartId], PlainValidator(several(read_id, "part ids")), ValueKind("list of part ids")
    ] = Field([], description="ready-made single leads that you take for wires whose both ends they fit")
    solder: YesNo = Field(True, description="no: nothing may need a soldering iron")


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
        description="join what `nets` leave open as is usual: ground to all, the supply through fuse, switch "
        "and regulator to the controller, its rails to what they feed, each signal to a pin that can do it",
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
    may_add_wagon: YesNo = Field(False, description="a wagon may be proposed when something does not fit")
    may_open: YesNo = Field(
        False,
        description="where wires find no way through a body, the least is opened in it: removable bricks "
        "out, bricks with a hole in place of whole ones (1 each), or bricks left out (2 each)",
    )
    measured: Annotated[list[MeasuredEntry], *many(MeasuredEntry, "measured figures")] = Field(
        [], description="what you measured, each with its date; it goes before typical figures"
    )
    as_built: AsBuiltEntry = Field(
        default_factory=AsBuiltEntry.model_construct,
        description="what is built already; `fitplan freeze` writes it, and a plan keeps it unless something "
        "must go",
    )
