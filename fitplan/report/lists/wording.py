"""How values are worded in lists, tables and drawings: numbers, ends of wires, ways, wire colours."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from itertools import combinations

from fitplan.model.built import BuiltTrain
from fitplan.model.facts import WIRE_COLOURS as WIRE_COLOURS
from fitplan.model.hands import passes
from fitplan.model.part import PinJoint
from fitplan.model.pins_used import Resistor
from fitplan.model.placed import Rebuild
from fitplan.model.plan import Plan
from fitplan.model.proposed import Verdict
from fitplan.model.verdict import grade
from fitplan.model.wired import Wire, WireEnd
from fitplan.report.lists.verdict_words import verdict_words

_UNPRINTABLE = {"Cc", "Cs"}
_CONTROL_OF_DIRECTION = re.compile("[\u202a-\u202e\u2066-\u2069\u200e\u200f\u061c\ufffe\uffff]")


def clean(text: str) -> str:
    """Return a text with line breaks as spaces and unprintable characters as ``\ufffd``.

    Marks that change the direction of the text that follows are unprintable too: a name must not be able to
    turn round the rest of a row.
    """
    if text.isprintable():
        return text
    joined = re.sub(r"\r\n?|\n|\t", " ", text)
    marked = _CONTROL_OF_DIRECTION.sub("\ufffd", joined)
    return "".join("\ufffd" if unicodedata.category(c) in _UNPRINTABLE else c for c in marked)


def shorten(text: str, most: int) -> str:
    """Return a cleaned text of at most ``most`` characters, its middle replaced by an ellipsis.

    Whole clauses and sentences are left out where that leaves half of it; else what is left ends and begins
    with whole words where that costs less than a quarter of it.
    """
    text = clean(text)
    if len(text) <= most:
        return text
    if (apart := _without_clauses(text, most)) is not None:
        return apart
    ahead = (most - 1) * 2 // 3
    head, tail = text[:ahead], text[len(text) - (most - 1 - ahead) :]
    if text[ahead] != " " and len(head) - (space := head.rfind(" ")) <= most // 8:
        head = head[: space + 1]
    if text[-len(tail) - 1] != " " and 0 <= (space := tail.find(" ")) <= most // 8:
        tail = tail[space:]
    return f"{head}…{tail}"


def _without_clauses(text: str, most: int) -> str | None:
    """Return a text without some inner clauses in a row, or the last ones; None where too little is left."""
    ends = [found.end() for found in re.finditer("; |[.] (?=[A-Z0-9])", text)]
    colons = sorted([*ends, *(found.end() for found in re.finditer(": ", text))])
    between, after_colons = (
        [(text[:i], text[j - 1 :]) for i, j in combinations(some, 2)] for some in (ends, colons)
    )
    # What follows a colon says nothing without what stands before it: only where nothing else will do.
    for pairs in (between, [(text[:i], "") for i in ends], after_colons):
        kept = [pair for pair in pairs if most // 2 <= len(pair[0]) + len(pair[1]) < most]
        if kept:
            ahead, behind = max(kept, key=lambda pair: len(pair[0]) + len(pair[1]))
            return f"{ahead}…{behind}"
    return None


def headline(plan: Plan) -> tuple[Verdict, str]:
    """Return whose sign a plan bears and its verdict in words: no sign says go while a stop stands."""
    found = grade(plan)
    return "cannot fit" if found == "fits, but" else found, clean(verdict_words(plan))


def added_words(rebuild: Rebuild) -> str:
    """Return what a rebuild adds, kind by kind."""
    return "; ".join(shelf.words for shelf in rebuild.shelves) or "nothing"


def number(value: float, digits: int = 1) -> str:
    """Return a number with at most ``digits`` decimals, without a trailing zero or a negative zero."""
    text = f"{value:.{digits}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text


def counted(count: int, word: str) -> str:
    """Return a count with its word: ``"1 plate"``, ``"3 plates"``."""
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def runs_word(numbers: Sequence[int]) -> str:
    """Return numbers with neighbours drawn together: ``1 to 4, 7``."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and runs[-1][-1] == number - 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]} to {run[-1]}" for run in runs)


def sentence(text: str) -> str:
    """Return a text with a capital at its start and a full stop at its end."""
    text = clean(text).strip()
    text = text[:1].upper() + text[1:]
    return text if not text or text[-1] in ".!?…" else f"{text}."


def millimetres(value: float, digits: int = 1) -> str:
    """Return a length for people, ``"12.5 mm"``."""
    return f"{number(value, digits)} mm"


def edges_word(edges: Iterable[float]) -> str:
    """Return the edges of a box for people, ``"12.5 × 8 × 3"`` (mm)."""
    return " × ".join(number(edge) for edge in edges)


def colour_word(code: str) -> str:
    """Return a wire colour as ``"red (RD)"``; a code that IEC 60757 does not know is shown as it is."""
    known = WIRE_COLOURS.get(code)
    return f"{known[0]} ({code})" if known else clean(code)


def colour_hex(code: str) -> str:
    """Return the screen colour of a wire colour code, grey for one that is not known."""
    return WIRE_COLOURS.get(code, WIRE_COLOURS["GY"])[1]


def end_word(end: WireEnd) -> str:
    """Return a wire end as ``"front eyes.TRIG"``, ``"splice S1"`` or ``"C1 cavity 3"``."""
    match end.kind:
        case "splice":
            return f"splice {end.owner}"
        case "connector":
            return f"{end.owner} cavity {end.pin}"
        case _:
            return f"{end.owner}.{end.pin}"


_AT_PIN: dict[PinJoint, str] = {
    "solder": "solder to pin",
    "screw": "clamp under the screw",
    "lever": "clamp under the lever",
    "crimp": "crimp a contact",
    "header": "crimp a socket",
    "plug": "plug in",
    "attached": "comes with the part",
}


def end_work(end: WireEnd, joint: PinJoint = "solder") -> str:
    """Return what is done to a wire end: strip length and kind of joint, which at a pin is the pin's."""
    work = _AT_PIN[joint] if end.kind == "pin" else {"splice": "solder in splice"}.get(end.kind, "crimp")
    return f"strip {millimetres(end.strip_mm)}, {work}"


def threaded_first(built: BuiltTrain, end: WireEnd) -> str:
    """Return what comes before a wire is crimped: threading it, where its housing does not pass the port."""
    if end.kind != "connector":
        return ""
    for crossing in built.harness.crossings:
        pair = built.train.catalogue.get(crossing.connector)
        ports = {crossing.ahead: crossing.port_ahead, crossing.behind: crossing.port_behind}
        if crossing.name != end.owner or pair is None or end.vehicle not in ports:
            continue
        port = built.train.vehicle(end.vehicle).vehicle.port(ports[end.vehicle])
        if port is not None and not passes(pair, port.opening):
            return f", after threading it through {port.name}"
    return ""


def joint_at(built: BuiltTrain, end: WireEnd) -> PinJoint:
    """Return how a wire is fastened at the pin that it ends at; solder where there is no pin."""
    return next((pin.joint for pin in built.pins_of(end.owner) if pin.name == end.pin), "solder")


COUNTS = {
    "abilities", "circuits", "ends", "figures", "grounds", "keyed pairs", "kinds", "loads",
    "motors and axles", "out", "outputs", "parts", "pins", "places", "receivers", "resistors", "senders",
    "sockets", "source", "sources", "trunks", "vehicles", "ways", "ways out", "wires",
}  # fmt: skip
"""Units in which findings count things: that 1 is more than 0 says no more than their sentence."""


def tells_a_figure(unit: str) -> bool:
    """Return whether a finding's figure and limit are measured, and so tell more than its sentence."""
    return unit not in COUNTS


def resistor_at(built: BuiltTrain, wire: Wire, end: WireEnd) -> Resistor | None:
    """Return the resistor that is soldered between a wire's end and its pin; None where there is none."""
    if end.kind != "pin":
        return None
    return next(
        (
            one
            for one in built.resistors
            if one.place == "lead" and (one.net, one.owner, one.pin) == (wire.net, end.owner, end.pin)
        ),
        None,
    )


def way_word(wire: Wire) -> str:
    """Return a wire's way: the vehicles in order, with the ports it goes through."""
    parts: list[str] = []
    for leg in wire.legs:
        through = f"in by {leg.enters}" if leg.enters else ""
        out = f"out by {leg.leaves}" if leg.leaves else ""
        detail = ", ".join(word for word in (through, out) if word)
        parts.append(f"{leg.vehicle} ({detail})" if detail else leg.vehicle)
    return " > ".join(parts)


def allowance_word(wire: Wire) -> str:
    """Return a wire's allowances as ``"lead-out 6 + stripping 8"`` (mm)."""
    return " + ".join(f"{name} {number(value)}" for name, value in wire.allowances)
