"""Nets: what is wrong with the wiring as it is written, before anything has a place."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from fitplan.checks.ends import chosen_parts, circuit_of
from fitplan.checks.sources import PRACTICE
from fitplan.circuit.fault_kinds import Fault, FaultKind
from fitplan.circuit.faults import net_faults
from fitplan.circuit.motor_faults import motor_faults
from fitplan.model.built import BuiltTrain
from fitplan.model.buying import Asked
from fitplan.model.found import Finding, Outcome, Severity
from fitplan.model.words import listed
from fitplan.pins.train_circuit import TrainCircuit

SUBJECT = "nets"
NETS = "the nets of the train and the parts' own pin lists"
OWN = "the part's own range and absolute maximum; fresh cells at 1.68 V (alkaline, from memory) and 4.2 V"


@dataclass(frozen=True)
class FaultWording:
    """One sentence, one remedy and the unit of the figure."""

    says: Callable[[Fault], str]
    remedy: Callable[[Fault], str]
    unit: str = "pins"
    source: str = NETS
    severity: Severity = "stop"


def _owners(fault: Fault) -> str:
    return listed(fault.owners)


def _nets(fault: Fault) -> str:
    return f"the net{'s' if len(fault.nets) > 1 else ''} {listed(fault.nets)}" if fault.nets else "no net"


def _pins(fault: Fault) -> str:
    return listed(fault.pins)


def _after(fault: Fault) -> str:
    """Word what gets nothing, and what feeds nothing, by this alone."""
    gets = f"{listed(fault.follows)} get{'s' if len(fault.follows) == 1 else ''} nothing"
    feeds = f"{listed(fault.idle)} feed{'s' if len(fault.idle) == 1 else ''} nothing"
    said = [*([gets] if fault.follows else []), *([feeds] if fault.idle else [])]
    return f", so {' and '.join(said)}" if said else ""


_JOINS = {
    "supply": "what feeds to what is fed: the current would be left out",
    "ground": "grounds alone",
    "signal": "signals alone",
}
"""What a net joins whose role is another, by the role that it should have."""

WORDS: dict[FaultKind, FaultWording] = {
    "role of a net": FaultWording(
        lambda f: (
            f"{_nets(f)} {'are' if len(f.nets) > 1 else 'is'} not written as {f.instead} and "
            f"join{'' if len(f.nets) > 1 else 's'} {_JOINS.get(f.instead, '')}"
        ),
        lambda f: f"write `role: {f.instead}` for {_nets(f)}",
    ),
    "no ground": FaultWording(
        lambda f: f"no net joins any ground: without one no current flows through {_owners(f)}",
        lambda f: (
            "write one net of the role ground that joins the minus of the cells and every part's ground"
        ),
    ),
    "part without wire": FaultWording(
        lambda f: f"{_owners(f)} is in no net: it is built in without a wire",
        lambda f: "write nets for its pins, or leave it out of the needs",
    ),
    "part without ground": FaultWording(
        lambda f: f"no net joins the ground of {_owners(f)}",
        lambda f: f"join {listed(f.pins, 'or')} into the ground net",
    ),
    "part without supply": FaultWording(
        lambda f: f"nothing feeds {_owners(f)}",
        lambda f: (
            f"bring a source or a regulator's output into {_nets(f)}, in which {_pins(f)} "
            f"{'stand' if len(f.pins) > 1 else 'stands'}"
            if f.nets
            else f"join {_pins(f)} to a net that a source or a regulator feeds"
        ),
        unit="sources",
    ),
    "supply pin open": FaultWording(
        lambda f: f"{_pins(f)} is in no net: {_owners(f)} wants volts for its logic and for the motors",
        lambda f: "join it to a net that is fed: the logic to the board's rail, the motors to their supply",
    ),
    "pin open": FaultWording(
        lambda f: (
            f"{_pins(f)} {'are' if len(f.pins) > 1 else 'is'} in no net: "
            f"{_owners(f)} does not work without {'them' if len(f.pins) > 1 else 'it'}"
        ),
        lambda f: (
            f"write {'a net for each' if len(f.pins) > 1 else 'a net'} with what feeds it or what it feeds,"
            f" or leave {_owners(f)} out; `optional: yes` in a part file of your own where it may stay open"
        ),
    ),
    "supply feeds nobody": FaultWording(
        lambda f: f"{_owners(f)} feeds nothing",
        lambda f: (
            "join its plus to what it is to feed, by the switch and fuse if there are any, or leave it out"
        ),
        unit="loads",
    ),
    "grounds apart": FaultWording(
        lambda f: (
            f"{_owners(f)} share {listed(f.pins)}, but their grounds, {listed(f.nets)}, never meet: "
            "no current can return"
        ),
        lambda f: "make one ground net of them",
        unit="grounds",
    ),
    "source shorted": FaultWording(
        lambda f: f"plus and minus of {_owners(f)} are one conductor, {_nets(f)}: a dead short",
        lambda f: "take its plus out of the ground net, or its minus out of the supply net",
    ),
    "polarity reversed": FaultWording(
        lambda f: (
            f"{_owners(f)} is wired with plus and minus exchanged"
            + (f": {listed(f.follows)} get nothing, or get it the wrong way round" if f.follows else "")
        ),
        lambda f: f"exchange {_pins(f)} in {_nets(f)}" if len(f.pins) < 2 else f"exchange {_pins(f)}",
    ),
    "ground pin on plus": FaultWording(
        lambda f: f"{_pins(f)} is a ground and stands in {_nets(f)}, which is fed",
        lambda f: "put it into the ground net",
    ),
    "supply pin on ground": FaultWording(
        lambda f: f"{_pins(f)} wants volts and stands in {_nets(f)}, which is ground",
        lambda f: "put it into a net that is fed",
    ),
    "different volts": FaultWording(
        lambda f: f"{_pins(f)} give different volts into {_nets(f)}: {f.figure:g} and {f.limit:g} V",
        lambda f: "split the net, so that one thing alone gives its volts",
        unit="V",
    ),
    "sources in parallel": FaultWording(
        lambda f: (
            f"{_pins(f)} feed {_nets(f)} side by side: the one with more volts drives current into the other"
        ),
        lambda f: "keep one of them, or give each its own part of the train",
        unit="sources",
        source=PRACTICE,
    ),
    "output on supply": FaultWording(
        lambda f: f"{_pins(f)} gives a signal and stands in {_nets(f)}, which a supply holds",
        lambda f: "give the signal a net of its own",
    ),
    "fed at its output": FaultWording(
        lambda f: f"{_owners(f)} is fed at its output {_pins(f)}, and nothing reaches its input",
        lambda f: (
            f"join {f.instead} to what is to feed it, or leave {_owners(f)} out: {_nets(f)} is fed already"
            if f.instead
            else f"exchange the nets at input and output of {_owners(f)}"
        ),
    ),
    "signal on ground": FaultWording(
        lambda f: f"{_pins(f)} is a signal and stands in {_nets(f)}, which is ground",
        lambda f: "give the signal a net of its own, from the controller's pin to the part's",
    ),
    "ground pin on signal": FaultWording(
        lambda f: f"{_pins(f)} is a ground and stands in {_nets(f)}, which is a signal",
        lambda f: "put it into the ground net",
    ),
    "outputs shorted": FaultWording(
        lambda f: f"{_pins(f)} are outputs and all in {_nets(f)}: one would drive against the other",
        lambda f: "give each a net and a pin of its own",
        unit="outputs",
    ),
    "trigger on echo": FaultWording(
        lambda f: f"{_pins(f)} are in {_nets(f)}: one listens, the other sends, and the pin cannot do both",
        lambda f: "give each a net and a pin of its own",
    ),
    "switch bypassed": FaultWording(
        lambda f: f"both ends of {_owners(f)} are joined by {_nets(f)}: it interrupts nothing",
        lambda f: "put its ends into two nets: the source in one, what it feeds in the other",
        unit="ends",
    ),
    "switches side by side": FaultWording(
        lambda f: f"{_owners(f)} lie side by side: nothing is interrupted unless all of them do",
        lambda f: "keep one of them, or put them one after the other",
        unit="ways",
        severity="caution",
        source="common practice, no source",
    ),
    "switch open": FaultWording(
        lambda f: f"{_owners(f)} is joined at one end only: nothing flows through it",
        lambda f: f"join its other end to {f.instead or 'what it is to switch'}",
        unit="ends",
    ),
    "net joins nothing": FaultWording(
        lambda f: f"{_nets(f)} joins nothing: {_pins(f) or 'no pin'} is all there is in it",
        lambda f: "add the pin of another part, or leave the net out",
        unit="parts",
    ),
    "net without source": FaultWording(
        lambda f: f"nothing gives volts to {_nets(f)}",
        lambda f: "join a source, a regulator's output or a controller's rail to it, or leave it out",
        unit="sources",
    ),
    "signal without sender": FaultWording(
        lambda f: f"nothing sends in {_nets(f)}: {_pins(f)} only listen",
        lambda f: "join a controller's pin to it: its name, or * for any that can",
        unit="senders",
    ),
    "input held": FaultWording(
        lambda f: (
            f"{_pins(f)} stands in {_nets(f)}, which a supply holds: it never changes, and {_owners(f)} "
            "does nothing"
        ),
        lambda f: "give it a net of its own, with a pin of the controller",
    ),
    "series of unlike cells": FaultWording(
        lambda f: f"{_owners(f)} are in series and differ in kind, size or capacity: the weakest is reversed",
        lambda f: "use cells of one kind, size and age in series",
        unit="kinds",
        source="common practice, no source; the makers' data sheets go before",
    ),
    "too many volts": FaultWording(
        lambda f: f"{_pins(f)} gets up to {f.figure:.2f} V and stands {f.limit:g} V at most: it is destroyed",
        lambda f: (
            f"join {_nets(f)} to {f.instead}, which stands them"
            if f.instead
            else f"feed {_nets(f)} through a regulator, or by fewer cells in series"
        ),
        unit="V",
        source=OWN,
    ),
    "volts out of range": FaultWording(
        lambda f: f"{_pins(f)} gets up to {f.figure:.2f} V with fresh cells; it is made for {f.limit:g} V",
        lambda f: f"feed {_nets(f)} with fewer volts, or let the cells settle before it is plugged in",
        unit="V",
        source=OWN,
        severity="caution",
    ),
    "regulator input open": FaultWording(
        lambda f: f"{_pins(f)} is in no net: nothing feeds {_owners(f)}",
        lambda f: "join it to the cells, by the switch and fuse if there are any, or leave the part out",
    ),
    "regulator feeds nobody": FaultWording(
        lambda f: (
            f"nothing that draws current hangs at the output of {_owners(f)}"
            + (f", {_nets(f)}" if f.nets else f": {_pins(f)} is in no net")
        ),
        lambda f: f"join {_pins(f)} to {f.instead or 'what it is to feed'}, or leave {_owners(f)} out",
        unit="loads",
    ),
    "charger without cells": FaultWording(
        lambda f: f"no cells hang at {_pins(f)}: {_owners(f)} charges nothing",
        lambda f: f"join {_pins(f)} to the plus of the cells, or leave {_owners(f)} out",
    ),
    "driver without motor": FaultWording(
        lambda f: f"no net joins an output of {_owners(f)}: it drives nothing",
        lambda f: f"join {listed(f.pins)} to the two leads of a motor, or leave {_owners(f)} out",
        severity="caution",
    ),
    "motor on a pin": FaultWording(
        lambda f: f"{_owners(f)} hangs on {_pins(f)}: a pin gives some 20 mA and dies of what a motor draws",
        lambda f: "put a motor driver between the pins and the motor, fed by a supply of its own volts",
        source="the board's own figures; common practice",
    ),
    "motor lead open": FaultWording(
        lambda f: f"{_pins(f)} is in no net: no current flows through {_owners(f)}",
        lambda f: "join both leads of the motor to the two outputs of its driver",
        unit="leads",
    ),
    "motor leads joined": FaultWording(
        lambda f: f"both leads of {_owners(f)} are one conductor, {_nets(f)}: it does not turn",
        lambda f: "give each lead a net of its own, to the two outputs of its driver",
        unit="leads",
    ),
    "motor across channels": FaultWording(
        lambda f: f"the leads of {_owners(f)} hang on outputs that do not belong together: {_pins(f)}",
        lambda f: "join both leads to the two outputs of one channel",
        unit="channels",
    ),
    "driver without commands": FaultWording(
        lambda f: f"no net joins an input of {_owners(f)}: nothing tells its motor to run or to stop",
        lambda f: (
            f"join {listed(f.pins)} to pins of the controller, or to its supply what is only to be high"
        ),
        unit="inputs",
    ),
    "motor not switched": FaultWording(
        lambda f: f"{_owners(f)} lies straight between supply and ground: no controller starts or stops it",
        lambda f: "put a motor driver between the supply and the motor, with its inputs at the controller",
        unit="drivers",
        severity="caution",
    ),
}
"""What is said of each kind of fault, and what helps."""


def check_nets(built: BuiltTrain, circuit: TrainCircuit | None = None) -> Outcome:
    """Examine the nets as nets: grounds, sources, polarity, shorts, open ends, volts at every pin."""
    circuit = circuit_of(built, circuit)
    faults = net_faults(built.train, chosen_parts(built), circuit.nodes, circuit.supply)
    motors = motor_faults(built.train, circuit.nodes)
    return Outcome(SUBJECT, tuple(worded(fault) for fault in (*faults, *motors)))


def worded(fault: Fault) -> Finding:
    """Return a fault as a finding."""
    words = WORDS[fault.kind]
    return Finding(
        SUBJECT,
        words.severity,
        listed(fault.owners) or listed(fault.nets) or "nets",
        words.says(fault) + ("" if fault.kind == "polarity reversed" else _after(fault)),
        fault.figure,
        fault.limit,
        words.unit,
        words.remedy(fault),
        words.source,
        add=(Asked("motor driver"),) if words.remedy(fault).startswith("put a motor driver") else (),
    )
