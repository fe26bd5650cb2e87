"""What was asked is met or told: hours of a supply, eyes for both ways, a receiver, a drive."""

from __future__ import annotations

import math
from collections.abc import Iterator

from fitplan.checks.better_parts import BetterParts
from fitplan.checks.drive import drive_findings
from fitplan.checks.ends import PlacedRanger, chosen_parts, circuit_of, eyes_of, window_of
from fitplan.checks.sources import TRAIN_FILE
from fitplan.checks.supply_limits import DEFAULTS
from fitplan.circuit.chain import flow_through
from fitplan.circuit.discharge import discharge
from fitplan.circuit.leads import lead_ohms
from fitplan.circuit.supply_tree import nominal_volts
from fitplan.model.built import BuiltTrain
from fitplan.model.buying import Asked
from fitplan.model.electrical import Emitter
from fitplan.model.found import Finding, Outcome
from fitplan.model.part import Part
from fitplan.model.train import Train
from fitplan.model.words import listed
from fitplan.pins.train_circuit import TrainCircuit

SUBJECT = "asked"
ASKED = TRAIN_FILE


def check_asked(built: BuiltTrain, circuit: TrainCircuit | None = None) -> Outcome:
    """Compare what the train file asks for with what the parts and places give."""
    train, chosen = built.train, chosen_parts(built)
    hours = _hours(built, circuit_of(built, circuit))
    found = [
        *hours,
        *_both_ways(built),
        *_receivers(train, chosen),
        *_commanded(built, chosen),
        *_left_aside(train),
        *drive_findings(train),
    ]
    return Outcome(SUBJECT, tuple(found))


def _hours(built: BuiltTrain, circuit: TrainCircuit) -> Iterator[Finding]:
    train = built.train
    for tree in circuit.supply.trees:
        need = next((one for one in train.needs if one.name == tree.owner), None)
        wanted = need.choice.min_hours if need is not None and need.choice is not None else 0.0
        if not wanted or not tree.root.everything():
            continue
        leads = lead_ohms(
            train, built.harness, tree, flow_through(tree.root, nominal_volts(tree.source), True, {})[1]
        )
        run = discharge(tree, leads, course=False)
        if run.hours < wanted:
            said, otherwise = f"{tree.part.name} last {run.hours:.1f} h", "ask for fewer hours"
            instead = f"ask for {math.floor(10 * run.hours) / 10:g} h or fewer, or let the train draw less"
            if run.at_start and run.failed is not None:
                said = f"with fresh cells {run.failed.owner} already {run.failed.reason}"
                instead = otherwise = f"feed {run.failed.owner} otherwise"
            cells = BetterParts(tree, train.catalogue, wanted, DEFAULTS).cells()
            yield Finding(
                SUBJECT,
                "stop",
                tree.owner,
                f"{wanted:g} h are asked of {tree.owner}; {said}",
                round(run.hours, 2),
                wanted,
                "h",
                f"allow {cells} in its choice, or {otherwise}"
                if cells
                else f"no cells of the catalogue last as long with these loads: {instead}",
                ASKED,
            )


def _left_aside(train: Train) -> Iterator[Finding]:
    """Tell the parts of lists that were not chosen from, and what stood against them."""
    for one in train.left_aside:
        names = listed([train.catalogue[part].name for part in one.parts])
        are, them = ("is", "it") if len(one.parts) == 1 else ("are", "them")
        why = f", {one.why}" if one.why else ": the train works with the others"
        yield Finding(
            SUBJECT,
            "note",
            one.need,
            f"{names} {are} wired otherwise than the others of its list, and {are} left aside"
            + (f"; wired as is usual for {them}{why}" if one.why else why),
            float(len(one.parts)),
            0.0,
            "parts",
            f"name {them} alone to see {them} planned, or write the nets out",
            ASKED,
        )


def _both_ways(built: BuiltTrain) -> Iterator[Finding]:
    """Tell a train that runs both ways and sees one way only."""
    eyes = [eye for eye in eyes_of(built) if eye.guards]
    asked = built.train.running.push_pull
    if not eyes:
        return
    ways = {_watches(built.train, eye) for eye in eyes}
    if asked is False:
        if ways == {False}:
            yield _looks_back(tuple(eye.need for eye in eyes))
        return
    if len(eyes) >= 2 and ways not in ({True}, {False}):
        return
    yield Finding(
        SUBJECT,
        "stop" if asked else "caution",
        ", ".join(eye.need for eye in eyes),
        "the train is to run both ways, and rangers watch one way only"
        if asked
        else "rangers watch one way only, and whether the train runs both ways is not said",
        1.0,
        2.0,
        "ways",
        "put a ranger at the other end too, or write `push pull: no`: it runs one way only",
        ASKED,
        add=(Asked("ranger"),),
    )


def _looks_back(needs: tuple[str, ...]) -> Finding:
    """Word a train that runs forwards only, with rangers that watch where it comes from."""
    several = len(needs) > 1
    return Finding(
        SUBJECT,
        "stop",
        ", ".join(needs),
        f"the train runs forwards only, and {' and '.join(needs)} {'look' if several else 'looks'} back: "
        "nothing watches the way ahead",
        0.0,
        1.0,
        "ways",
        "let a ranger look out of a window at the leading vehicle's front, or turn the train's order round",
        ASKED,
    )


def _watches(train: Train, eye: PlacedRanger) -> bool | None:
    """Return whether a ranger that guards looks ahead: where it lies, else by its window."""
    window = window_of(train, eye.need)
    if eye.ahead is not None or window is None:
        return eye.ahead
    return (window[1].out == "+x") != window[0].turned


def _commanded(built: BuiltTrain, chosen: dict[str, Part]) -> Iterator[Finding]:
    """Tell a train whose rangers see and where nothing can tell a motor what they saw."""
    train, eyes = built.train, [eye.need for eye in eyes_of(built) if eye.guards]
    motors = [item for entry in train.vehicles for item in entry.vehicle.built_in if item.kind == "motor"]
    sends = any(part.figure(Emitter) is not None for part in chosen.values())
    wired = any(train.built_in(ref.owner) is not None for net in train.nets for ref in net.joins)
    if not eyes or not motors or not train.nets or sends or wired:
        return
    yield Finding(
        SUBJECT,
        "caution",
        ", ".join(eyes),
        "rangers watch the way, and nothing tells the motor to stop: no emitter sits on a receiver, and no "
        "net reaches what is built in",
        0.0,
        1.0,
        "ways",
        "put an emitter onto the motor's receiver, or a motor driver before the motor",
        ASKED,
        add=(Asked("infrared emitter"),),
    )


def _receivers(train: Train, chosen: dict[str, Part]) -> Iterator[Finding]:
    for need in train.needs:
        part = chosen.get(need.name)
        if part is None or part.figure(Emitter) is None:
            continue
        kind = ""
        if need.sits is not None:
            vehicle, name, _ = need.sits
            items = next((one.vehicle.built_in for one in train.vehicles if one.name == vehicle), ())
            kind = next((item.kind for item in items if item.name == name), "")
        if kind != "receiver":
            yield Finding(
                SUBJECT,
                "caution",
                need.name,
                f"{need.name} sends to no receiver: it sits on "
                f"{f'a {kind}' if kind else 'nothing that receives'}",
                0.0,
                1.0,
                "receivers",
                "write `sits` with a receiver that is built in, so that its light reaches the eye",
                ASKED,
            )
