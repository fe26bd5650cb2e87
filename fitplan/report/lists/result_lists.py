"""The results of a plan as tables: pin map, findings, fit, options, assembly; and all lists together."""

from __future__ import annotations

import json
import re

from fitplan.model.facts import mass_of
from fitplan.model.found import Finding
from fitplan.model.placed import SHELF_WORDS, Placement
from fitplan.model.plan import Plan
from fitplan.model.proposed import FitRow, Option
from fitplan.model.solids import SIDE_NAMES
from fitplan.model.ways_in import AssemblyStep, Moves
from fitplan.report.lists.plan_list import Cell, Columns, PlanList, list_of
from fitplan.report.lists.wording import edges_word, number
from fitplan.units import STUD


def pin_list(plan: Plan) -> PlanList:
    """Return the pin map of the controllers."""
    rows = tuple((use.controller, use.pin, use.net, use.serves, use.does) for use in plan.built.pin_map)
    return PlanList("pins", "Pin map", ("controller", "pin", "net", "serves", "does"), rows)


def finding_list(plan: Plan) -> PlanList:
    """Return all findings, stops first."""
    columns: Columns[Finding] = (
        ("weight", lambda found: found.severity),
        ("subject", lambda found: found.subject),
        ("where", lambda found: found.where),
        ("finding", lambda found: found.message),
        ("figure", lambda found: found.figure),
        ("limit", lambda found: found.limit),
        ("unit", lambda found: found.unit),
        ("what to do", lambda found: found.remedy),
        ("source", lambda found: found.source),
    )
    return list_of("findings", "Findings", columns, plan.findings)


def fit_list(plan: Plan) -> PlanList:
    """Return whether each candidate fits into each vehicle, and what is missing."""
    columns: Columns[FitRow] = (
        ("need", lambda row: row.need),
        ("part", lambda row: row.part_id),
        ("vehicle", lambda row: row.vehicle),
        ("verdict", lambda row: row.verdict),
        ("missing (mm)", lambda row: round(row.missing_mm, 2)),
        ("along", lambda row: row.axis),
        ("pose", lambda row: f"pose {row.pose}" if row.pose else ""),
        ("take out", lambda row: ", ".join(row.remove)),
        ("cost", lambda row: row.cost),
        ("reason", lambda row: row.reason),
        ("proof", lambda row: row.proof),
    )
    return list_of("fit", "Fit", columns, plan.fit)


def option_list(plan: Plan) -> PlanList:
    """Return the choices that were weighed, the one that is followed first, and what each costs."""
    chosen = next((option for option in plan.options if option.chosen), None)
    rows: list[tuple[Cell, ...]] = []
    for place, option in enumerate(sorted(plan.options, key=lambda entry: not entry.chosen), 1):
        what = "followed" if option.chosen else "not taken"
        if chosen is None or option.chosen:
            change = ", ".join(f"{need}: {part} in {vehicle}" for need, part, vehicle in option.parts)
        else:
            change = ", ".join(
                f"{need}: {part} in {vehicle}"
                for need, part, vehicle in option.parts
                if (need, part, vehicle) not in chosen.parts
            )
        rows.append(
            (
                place,
                what,
                change,
                option.vehicles_opened,
                option.wagons_added,
                option.conductors_across,
                round(option.bricks_removed, 2),
                round(option.wire_mm, 1),
                round(option.mass_off_balance_g, 2),
                option.unfused_across,
                option.later_in_list,
                option.shut_in,
                round(option.score, 2),
                _why_not(option, chosen),
            )
        )
    columns = (
        "option",
        "state",
        "parts",
        "vehicles opened",
        "wagons added",
        "conductors across",
        "bricks removed",
        "wire (mm)",
        "mass off balance (g)",
        "unfused across",
        "later in list",
        "shut in",
        "score",
        "why",
    )
    return PlanList(
        "options",
        "Options",
        columns,
        tuple(rows),
        "Lower is better in every column. Unfused across: conductors over couplings ahead of the fuse. "
        "Later in list: candidates ahead of the parts in the lists of their needs. "
        "Shut in: parts that cannot be exchanged as the train file allows.",
    )


def assembly_list(plan: Plan) -> PlanList:
    """Return the order of assembly and the moves of each part."""
    rows = tuple(
        (
            step.number,
            " with ".join(step.needs),
            step.vehicle,
            step.opening,
            f"{_put_together(step)}{_way(step.moves)}",
        )
        for step in plan.assembly
    )
    return PlanList("assembly", "Assembly", ("step", "part", "vehicle", "through", "moves"), rows)


def _put_together(step: AssemblyStep) -> str:
    """Say how parts are put to each other before they go in as one."""
    if not step.together:
        return ""
    joined = "; ".join(f"{entry.need} {_way(entry.moves)}" for entry in step.together)
    return f"put together outside: to {step.need} comes {joined}; then as one: "


def _way(moves: Moves) -> str:
    return ", then ".join(f"{MOVE_WORDS[direction]} {number(length)} mm" for direction, length in moves)


def place_list(plan: Plan) -> PlanList:
    """Return where every part lies and how it is turned, in the words of train files, and what carries it."""
    rows: list[tuple[Cell, ...]] = []
    for place, placement in enumerate(plan.built.placements, 1):
        bounds, turn = placement.bounds, placement.place.pose.turn_direction
        rows.append(
            (
                place,
                placement.need,
                placement.part.name,
                placement.vehicle,
                *(round(value, 2) for value in bounds.low),
                *(round(value, 2) for value in bounds.size),
                SIDE_NAMES[turn("+z")],
                SIDE_NAMES[turn("+x")],
                placement.carried_by,
                round(mass_of(placement.part), 2),
                place_key(placement),
            )
        )
    columns = (
        "no.",
        "need",
        "part",
        "vehicle",
        "from rear (mm)",
        "from right (mm)",
        "above rail (mm)",
        "long (mm)",
        "wide (mm)",
        "high (mm)",
        "top towards",
        "front towards",
        "carried by",
        "mass (g)",
        "to keep it there",
    )
    return PlanList("places", "Where every part lies", columns, tuple(rows))


def place_key(placement: Placement) -> str:
    """Return what keeps a part where it lies: the key of its need in the train file."""
    turn = placement.place.pose.turn_direction
    words = [f"vehicle: {_yaml_text(placement.vehicle)}"]
    for key, value in zip(("from rear", "from right", "above rail"), placement.bounds.low, strict=True):
        words.append(f"{key}: {number(value, 2)}")
    words += [f"top towards: {SIDE_NAMES[turn('+z')]}", f"front towards: {SIDE_NAMES[turn('+x')]}"]
    return f"at: {{{', '.join(words)}}}"


def _yaml_text(name: str) -> str:
    """Return a name as it may stand among keys: in quotes where YAML reads its characters otherwise."""
    return name if _PLAIN.fullmatch(name) else json.dumps(name, ensure_ascii=False)


def added_list(plan: Plan) -> PlanList:
    """Return what is added to carry parts: each piece, where it stands, and on how many studs."""
    rows: list[tuple[Cell, ...]] = []
    for placement in plan.built.placements:
        shelf = placement.shelf
        if shelf is None:
            continue
        for number_, piece in enumerate(shelf.parts):
            low, size = piece.box.low, piece.box.size
            note = "" if shelf.steady else "fix the part against tipping"
            if shelf.kind == "block":
                note = "no studs there: print it, or glue it"
            rows.append(
                (
                    placement.need,
                    placement.vehicle,
                    SHELF_WORDS[shelf.kind] if number_ == 0 else "",
                    piece.words,
                    number(low[0] / STUD, 2),
                    number(low[1] / STUD, 2),
                    round(low[2], 1),
                    edges_word(size),
                    shelf.studs if number_ == 0 else "",
                    shelf.cost if number_ == 0 else "",
                    note if number_ == 0 else "",
                )
            )
    columns = (
        "part",
        "vehicle",
        "what",
        "piece",
        "studs from the rear",
        "studs from the right",
        "underside (mm)",
        "size (mm)",
        "on studs",
        "pieces",
        "note",
    )
    return PlanList("added", "What is added to carry parts", columns, tuple(rows))


def exchange_list(plan: Plan) -> PlanList:
    """Return what must come out, in order, to get at what is exchanged, plugged in or switched."""
    rows: list[tuple[Cell, ...]] = []
    for entry in plan.built.exchanged:
        open_ = ", then ".join(entry.openings) or ("nothing" if entry.reached else "")
        first = [f"brick {name}" for name in entry.bricks]
        first += [f"{' with '.join(way.parts)} ({_way(way.moves)})" for way in entry.first]
        last = ""
        if entry.last is not None:
            what = " with ".join(entry.last.parts) or "finger or plug, back out"
            last = f"{what}: {_way(entry.last.moves)}"
        rows.append(
            (
                entry.need,
                entry.access,
                entry.vehicle,
                "often" if entry.often else "when building",
                "yes" if entry.reached else "no",
                open_,
                ", then ".join(first) or ("nothing" if entry.reached else ""),
                last,
            )
        )
    columns = ("part", "what", "vehicle", "needed", "reached", "open", "take out first", "way out")
    return PlanList("exchange", "What comes out to exchange it", columns, tuple(rows))


MOVE_WORDS = {
    "+x": "towards the front",
    "-x": "towards the rear",
    "+y": "to the left",
    "-y": "to the right",
    "+z": "up",
    "-z": "down",
}


_PLAIN = re.compile(r"[^\W\d](?:[\w .+-]*[\w.+-])?")


_RESPECTS = (
    ("vehicles opened", "vehicles_opened", ""),
    ("wagons added", "wagons_added", ""),
    ("conductors across", "conductors_across", ""),
    ("bricks removed", "bricks_removed", ""),
    ("wire", "wire_mm", " mm"),
    ("mass off balance", "mass_off_balance_g", " g"),
    ("unfused across", "unfused_across", ""),
    ("places down the lists", "later_in_list", ""),
    ("parts shut in", "shut_in", ""),
)


def _why_not(option: Option, chosen: Option | None) -> str:
    """In which respects a choice is worse and better than the one that is followed, and what that weighs."""
    if chosen is None or option.chosen:
        return ""
    worse: list[str] = []
    better: list[str] = []
    for name, attribute, unit in _RESPECTS:
        change = getattr(option, attribute) - getattr(chosen, attribute)
        if abs(change) > 1e-6:
            (worse if change > 0 else better).append(f"{name} by {number(abs(change), 2)}{unit}")
    words = [
        f"worse in {', '.join(worse)}" if worse else "",
        f"better in {', '.join(better)}" if better else "",
    ]
    weight = f"weighs {number(option.score - chosen.score, 1)} more by the train's weights"
    return "; ".join(word for word in (*words, weight) if word)
