"""Pins and rows of pins as part and vehicle files say them."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, PlainValidator, model_validator

from fitplan.files.document import Text
from fitplan.files.entries import Collector, Entry, about
from fitplan.files.fields import (
    Name,
    PinName,
    Point,
    ProgramName,
    Side,
    ValueKind,
    YesNo,
    number,
    one_of,
    one_of_phrase,
    read_pin_name,
    read_program_name,
    several,
    whole,
)
from fitplan.model.part import (
    CANS,
    PIN_CARES,
    PIN_JOINTS,
    PIN_ROLES,
    SOCKETS,
    WIRES_OF_JOINT,
    Can,
    Pin,
    PinCare,
    PinJoint,
    PinRole,
    Socket,
)

Cans = Annotated[
    list[Can], PlainValidator(several(one_of(CANS), "abilities")), ValueKind(f"list of {one_of_phrase(CANS)}")
]
_MOST_WIRES = 12
Joint = Annotated[PinJoint, PlainValidator(one_of(PIN_JOINTS)), ValueKind(one_of_phrase(PIN_JOINTS))]
_Role = Annotated[PinRole, PlainValidator(one_of(PIN_ROLES)), ValueKind(one_of_phrase(PIN_ROLES))]


class PinEntry(Entry):
    """A pin, or a row of pins at equal spacing."""

    name: PinName | None = Field(None, description="name of the pin; or give `names`")
    names: Annotated[
        list[PinName], PlainValidator(several(read_pin_name, "pin names")), ValueKind("list of pin names")
    ] | (None) = Field(None, description="names of a row of pins; with `from` and `step`")
    role: _Role = about(
        "ground; raw: unregulated input; 5v, 3v3: rails; supply: is fed here; plus: gives here; signal"
    )
    at: Point | None = Field(None, description="where the wire leaves")
    from_: Point | None = Field(None, description="where the wire of the first pin of a row leaves")
    step: Point | None = Field(None, description="from one pin of a row to the next")
    exit: Side = about("which way the wire leaves")
    can: Cans | None = Field(None, description="a controller's signal pin: what it can do")
    wants: Cans | None = Field(
        None,
        description="another part's signal pin: what the controller's pin at the other end must do",
    )
    volts: Annotated[float, PlainValidator(number("V", least=0)), ValueKind("number in V")] = Field(
        0.0, description="fixed level of a rail or signal; 0: it follows the supply"
    )
    optional: YesNo = Field(False, description="may stay unconnected")
    joint: Joint | None = Field(
        None, description="how a wire is fastened there; as the part says, or `solder`, when not given"
    )
    wires: (
        Annotated[
            int, PlainValidator(whole(1, _MOST_WIRES)), ValueKind(f"whole number from 1 to {_MOST_WIRES}")
        ]
        | None
    ) = Field(
        None,
        description="how many wires it takes; when not given 2 for solder and screw, 1 for the others "
        "(common practice, no source)",
    )
    socket: Annotated[Socket, PlainValidator(one_of(SOCKETS[1:])), ValueKind(one_of_phrase(SOCKETS[1:]))] = (
        Field("", description="the USB socket that it is a contact of; a lead as bought plugs in there")
    )
    joined: Name | None = Field(
        None,
        description="name of the pins that the part joins inside, such as a rail of a distribution board: "
        "each wire of a net there gets a pin of its own",
    )
    care: Annotated[list[PinCare], PlainValidator(several(one_of(PIN_CARES), "cares")), ValueKind(
        f"list of {one_of_phrase(PIN_CARES)}"
    )] = Field([], description="what must be minded when it is used")  # fmt: skip
    timer: Name | None = Field(
        None, description="the timer that drives its PWM: pins of one timer have one frequency"
    )
    port: Name | None = Field(
        None, description="the group of pins whose currents the chip bounds together: `port` of `controller`"
    )
    program: ProgramName | None = Field(
        None,
        description="what a program calls the pin; when not given the number of a label such as D7 or 7, "
        "else the label itself",
    )
    programs: Annotated[
        list[ProgramName],
        PlainValidator(several(read_program_name, "what a program calls the pins")),
        ValueKind("list of what a program calls the pins"),
    ] | (None) = Field(None, description="the same for each pin of a row")

    @model_validator(mode="after")
    def _check_form(self) -> Self:
        lone = self.name is not None and self.at is not None
        row = self.names is not None and self.from_ is not None and self.step is not None
        extra = (self.names, self.from_, self.step) if lone else (self.name, self.at)
        if not (lone or row) or any(value is not None for value in extra):
            given = [
                k
                for k in ("name", "names", "at", "from", "step")
                if getattr(self, k.replace("from", "from_"))
            ]
            found = f"{' and '.join(map(repr, given)) or 'none of them'}"
            raise self.lacking(
                found, "'name' and 'at' for a pin, or 'names', 'from' and 'step' for a row of pins"
            )
        if self.programs is not None and (self.names is None or len(self.programs) != len(self.names)):
            raise self.lacking(
                f"{len(self.programs)} names in programs for {len(self.names or [1])} pins",
                "'program' for a pin, or 'programs' with one for each of the 'names' of a row",
            )
        if self.program is not None and self.names is not None:
            raise self.lacking("'program' for a row of pins", "'programs', a list with one for each pin")
        return self

    def pins(self, joint: PinJoint | None = None) -> list[Pin]:
        """Return the pin or the pins of the row; `joint` is that of the part, where the pin says nothing."""
        joint = self.joint or joint or "solder"
        first = self.at or self.from_
        assert first is not None
        step = self.step or (0.0, 0.0, 0.0)
        names = self.names if self.names is not None else [self.name]
        called = [str(self.program or "")] if self.programs is None else [str(one) for one in self.programs]
        called += [""] * (len(names) - len(called))
        return [
            Pin(
                name=str(name),
                role=self.role,
                at=(
                    round(first[0] + i * step[0], 6),
                    round(first[1] + i * step[1], 6),
                    round(first[2] + i * step[2], 6),
                ),
                exit=self.exit,
                can=frozenset(self.can or ()),
                wants=frozenset(self.wants or ()),
                volts=self.volts,
                optional=self.optional,
                joint=joint,
                wires=self.wires or WIRES_OF_JOINT[joint],
                socket=self.socket,
                joined=str(self.joined or ""),
                care=frozenset(self.care),
                timer=str(self.timer or ""),
                port=str(self.port or ""),
                program=called[i],
            )
            for i, name in enumerate(names)
        ]


def check_programs(collector: Collector, entries: list[PinEntry]) -> None:
    """Report pins of a controller that a program would call the same: its constants would be one pin."""
    seen: dict[str, str] = {}
    for entry in entries:
        for place, pin in enumerate(entry.pins()):
            if pin.role != "signal" or not pin.can or pin.joined:
                continue
            spots = (entry.programs, entry.names)
            given = next((row[place] for row in spots if row is not None), entry.program or entry.name)
            first = seen.setdefault(pin.in_program, pin.name)
            if first != pin.name and given is not None:
                found = f"pin {pin.name!r}, which a program calls {pin.in_program} as it does pin {first!r}"
                collector.add(given.spot, found, "a name in programs of its own for each pin: `program: …`")


def check_joined(collector: Collector, entries: list[PinEntry]) -> None:
    """Report groups of joined pins that have one pin only, or pins of different roles."""
    groups: dict[str, list[tuple[Pin, Text]]] = {}
    for entry in entries:
        for pin in entry.pins():
            if entry.joined is not None:
                groups.setdefault(pin.joined, []).append((pin, entry.joined))
    for name, members in groups.items():
        first, spot = members[0][0], members[0][1].spot
        other = next(((pin, text) for pin, text in members if pin.role != first.role), None)
        if len(members) == 1:
            collector.add(spot, f"one pin joined as {name!r}", "at least two pins of this name")
        elif other is not None:
            found = f"pin {other[0].name!r} of the role {other[0].role} joined as {name!r}"
            collector.add(other[1].spot, found, f"the role of pin {first.name!r}, {first.role}")
