"""The harness as train files decide it: style, wires, allowances, spools."""

from __future__ import annotations

from typing import Annotated, get_args

from pydantic import Field, PlainValidator

from fitplan.files.entries import Entry, about, many
from fitplan.files.fields import (
    Distance,
    Extent,
    PartId,
    ValueKind,
    YesNo,
    number,
    one_of,
    one_of_phrase,
    read_id,
    several,
    whole,
)
from fitplan.model.nets import WiringStyle
from fitplan.model.wiring import SPOOL_COLOURS

STYLES: tuple[WiringStyle, ...] = get_args(WiringStyle)
Style = Annotated[WiringStyle, PlainValidator(one_of(STYLES)), ValueKind(one_of_phrase(STYLES))]
_Share = Annotated[float, PlainValidator(number(least=0, most=1)), ValueKind("number from 0 to 1")]


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
