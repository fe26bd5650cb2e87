"""One wrong train a line of what a plan must hold on the workbench, and what is said of it.

Run ``python -m tests.checks.workbench`` to print the table. Each train is a short file in
``workbench_trains``; its first line says what is wrong with it. Most is told before anything has a place
(``CASES``); the rest by a whole plan (``PLANNED_CASES``, a minute or two in all; ``checks`` leaves them out).
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from fitplan.checks import run_unplaced_checks
from fitplan.checks.lift_out import short_wires
from fitplan.checks.support import unsupported
from fitplan.checks.toppling import topples
from fitplan.errors import ContradictionError
from fitplan.files.read import read_train
from fitplan.model.found import Finding, Severity
from fitplan.model.plan import Plan
from fitplan.planning.run import plan_train
from fitplan.report.lists.verdict_words import verdict_words
from fitplan.surface import confirm

FOLDER = Path(__file__).parent / "workbench_trains"


@dataclass(frozen=True)
class Case:
    """A wrong train: its file, and the severity and words of the finding that must tell it."""

    file: str
    severity: Severity
    words: str

    @property
    def path(self) -> Path:
        return FOLDER / f"{self.file}.yaml"

    @property
    def wrong(self) -> str:
        """What is wrong with it, as its file says."""
        return self.path.read_text(encoding="utf-8").split("\n", 1)[0].removeprefix("# ")


CASES = (
    Case("01-block-at-3v3", "stop", "it is destroyed"),
    Case("01b-echo-of-five-volts", "stop", "into a pin that stands"),
    Case("01c-five-volts-behind-a-switch", "stop", "stands 3.9 V at most"),
    Case("01d-driver-at-a-block", "stop", "driver.VM gets up to"),
    Case("01e-camera-told-by-five-volts", "stop", "cam.RX stands"),
    Case("02-charger-left-out", "stop", "charger"),
    Case("02b-charged-too-fast", "stop", "charge"),
    Case("02c-nimh-on-a-lithium-charger", "stop", "would be charged wrongly"),
    Case("02d-one-of-two-in-series-charged", "stop", "some of the cells in series"),
    Case("02e-protection-bypassed", "stop", "is bypassed"),
    Case("02f-two-chargers-on-one-cell", "stop", "hang on the same cells"),
    Case("02g-unlike-cells-side-by-side", "stop", "drives current into the other"),
    Case("03-motor-beyond-its-driver", "stop", "when its motors start"),
    Case("03b-motor-on-a-pin", "stop", "dies of what a motor draws"),
    Case("03c-motor-across-channels", "stop", "do not belong together"),
    Case("03d-motor-on-a-small-regulator", "stop", "is asked for 2543 mA"),
    Case("03e-driver-without-commands", "stop", "no net joins an input"),
    Case("03f-servo-on-a-pin", "stop", "nothing feeds arm"),
    Case("03g-motor-on-signal-nets", "stop", "the current would be left out"),
    Case("03h-motor-beyond-one-channel", "stop", "a channel of driver carries"),
    Case("04-step-up-asked-for-too-much", "stop", "is asked for"),
    Case("04b-step-up-with-too-many-cells", "stop", "lift.in gets up to"),
    Case("04c-two-regulators-side-by-side", "stop", "feed the net five side by side"),
    Case("04d-one-cell-asked-for-too-much", "stop", "is asked for"),
    Case("05-two-parts-at-one-address", "stop", "answer at one address"),
    Case("05b-lamps-beyond-the-chip", "stop", "its chip gives"),
    Case("05c-coil-on-a-pin", "stop", "from a pin that gives"),
    Case("05d-lamps-on-one-pin", "stop", "together from a pin that gives"),
    Case("05e-lamps-on-one-port", "stop", "belong to one port"),
    Case("05f-carrier-and-tone", "stop", "want timer"),
    Case("05g-reset-pin-as-an-output", "stop", "is the reset pin"),
    Case("05h-echo-on-an-analog-pin", "stop", "cannot serve as input"),
    Case("05i-measured-beside-a-radio", "stop", "while the radio is on"),
    Case("05j-contact-on-a-boot-pin", "stop", "decides at its level"),
    Case("05k-lamp-on-an-input", "stop", "cannot serve as output"),
    Case("05l-contact-without-pull-up", "stop", "has no pull-up inside"),
    Case("05m-clock-and-data-exchanged", "stop", "cannot serve as clock"),
    Case("05n-bare-diode-on-a-pin", "stop", "lamp.IN stands 2.4 V"),
    Case("05o-contact-on-an-analog-pin", "stop", "cannot serve as input"),
    Case("06-fuse-trips-in-running", "stop", "trips in running"),
    Case("06b-second-fuse-too-small", "stop", "the fuse f2 behind"),
    Case("06c-fuse-in-the-minus", "caution", "lies in the minus"),
    Case("06d-fuse-behind-the-regulator", "caution", "a short behind cells"),
    Case("06e-fuse-above-the-wire", "caution", "AWG 30 bears"),
    Case("06f-branch-fuse-too-small", "stop", "f trips in running"),
    Case("07-net-that-nothing-feeds", "stop", "nothing gives volts"),
    Case("07b-part-without-supply", "stop", "nothing feeds eye"),
    Case("07c-driver-without-logic", "stop", "driver.VCC is in no net"),
    Case("07d-fuse-open", "stop", "lift and brain get nothing"),
    Case("07e-ranger-without-echo", "stop", "eye does not work without it"),
    Case("07f-board-without-its-supply", "stop", "lift.out is in no net, so brain gets nothing"),
    Case("10-block-at-the-raw-pin", "caution", "a 9 V block holds"),
    Case("10b-four-cells-at-the-raw-pin", "caution", "its input lies"),
    Case("10c-bank-at-the-raw-pin", "stop", "its input lies"),
    Case("11-switch-bypassed", "stop", "it interrupts nothing"),
    Case("11b-no-ground", "stop", "no net joins any ground"),
    Case("11c-cells-turned-round", "stop", "plus and minus exchanged"),
    Case("11d-lamp-between-two-pins", "stop", "stands in the net low"),
    Case("11e-trigger-on-plus", "stop", "it never changes"),
    Case("11f-echoes-in-one-net", "stop", "one would drive"),
    Case("11g-regulator-without-ground", "stop", "the ground of lift"),
    Case("11h-two-rails-in-one-net", "stop", "give different volts"),
    Case("11i-switches-side-by-side", "caution", "lie side by side"),
    Case("11j-bank-beside-a-regulator", "stop", "side by side"),
    Case("11k-cell-turned-at-its-charger", "stop", "plus and minus exchanged"),
    Case("11l-regulator-turned-round", "stop", "fed at its output"),
    Case("11m-lamp-turned-round", "stop", "plus and minus exchanged"),
    Case("11n-ground-written-as-supply", "stop", "is not written as ground"),
    Case("11o-supply-written-as-signal", "stop", "so brain gets nothing"),
    Case("11p-unlike-cells-in-series", "stop", "the weakest is reversed"),
    Case("12-hours-that-are-not-reached", "stop", "are asked of cells"),
    Case("12b-both-ways-with-one-ranger", "stop", "watch one way only"),
    Case("12c-motor-in-the-floor", "caution", "deep in its bricks"),
    Case("12d-eyes-that-command-nothing", "caution", "nothing tells the motor to stop"),
    Case("12e-looks-back", "stop", "looks back"),
    Case("12f-driver-without-a-motor", "caution", "it drives nothing"),
    Case("14-downhill", "stop", "the train hits"),
    Case("14b-trip-beyond-reach", "stop", "is to stop at 2500 mm"),
    Case("14c-steeper-than-wheels-hold", "stop", "does not come to rest"),
    Case("14d-median-of-many", "stop", "the train hits"),
    Case("14e-faster-than-it-sees", "stop", "reaches less far"),
    Case("14f-twenty-lost-frames", "stop", "the train hits"),
    Case("14g-greasy-rails", "caution", "they slide at"),
    Case("15-blind-in-curves", "stop", "in the curve"),
    Case("15b-fast-about-curves", "stop", "in the curve"),
    Case("16-emitter-on-the-motor", "caution", "sends to no receiver"),
    Case("17-body-reaches-out", "stop", "body of"),
    Case("17b-step-reaches-out", "stop", "step of wagon reaches"),
)


@dataclass(frozen=True)
class PlannedCase:
    """A wrong train that only a whole plan tells: its file, and what the plan says, if anything."""

    file: str
    says: Callable[[Plan], str]

    @property
    def path(self) -> Path:
        return FOLDER / f"{self.file}.yaml"

    @property
    def wrong(self) -> str:
        """What is wrong with it, as its file says."""
        return self.path.read_text(encoding="utf-8").split("\n", 1)[0].removeprefix("# ")


def finding(words: str) -> Callable[[Plan], str]:
    """Return what gives the first finding of a plan with these words."""

    def of(plan: Plan) -> str:
        said = (f"{one.severity}: {one.where}: {one.message}" for one in plan.findings)
        return next((one for one in said if words in one), "")

    return of


def trunk(plan: Plan) -> str:
    """Follow the ground from cells to board over parts that are no small loads, and tell it."""
    wires = [wire for wire in plan.built.harness.wires if wire.net == "ground"]
    reached = {"cells"}
    while True:
        more = {
            two
            for wire in wires
            for one, two in ((wire.start.owner, wire.end.owner), (wire.end.owner, wire.start.owner))
            if one in reached and two not in reached and not one.endswith(("lamp", "horn"))
        }
        if not more:
            break
        reached |= more
    if not reached >= {"brain", "lift"}:
        return ""
    rows = [
        row
        for o in plan.outcomes
        for table in o.tables
        if table.title == "Trunk and branches"
        for row in table.rows
    ]
    return f"cells, regulator and board are joined past small loads; branches: {rows[0][2]}" if rows else ""


def all_wired(plan: Plan) -> str:
    """Tell how many lamps have both their wires."""
    ends = [(end.owner, end.pin) for wire in plan.built.harness.wires for end in (wire.start, wire.end)]
    lamps = [f"lamp {i}" for i in range(10)]
    whole = [name for name in lamps if (name, "IN") in ends and (name, "GND") in ends]
    if len(whole) < len(lamps) or plan.built.harness.unreached or plan.unplaced:
        return ""
    return f"all {len(whole)} lamps have a place and both wires"


def folded_into_one(plan: Plan) -> str:
    """Tell the one finding on a part without a place; every wire ends at something with a name."""
    ends = [end for wire in plan.built.harness.wires for end in (wire.start, wire.end)]
    about = [one for one in plan.findings if one.where.split(".")[0] == "brain"]
    if len(about) != 1 or any(not end.owner or end.owner == "brain" for end in ends):
        return ""
    return f"{about[0].severity}: {about[0].message}; {len(ends) // 2} wires, none to it or to a nameless end"


def one_verdict(plan: Plan) -> str:
    """Tell the verdict's sentence where it names the worst stop."""
    words = verdict_words(plan)
    return f"{words}; exit status 1" if words.startswith("fits, but ") else ""


def refused(plan: Plan) -> str:
    """Cut one wire shorter than its way, and tell why the plan is not handed on."""
    wires = plan.built.harness.wires
    cut = replace(wires[0], cut_mm=wires[0].bare_mm - 10)
    harness = replace(plan.built.harness, wires=(cut, *wires[1:]))
    confirm(plan)
    try:
        confirm(replace(plan, built=replace(plan.built, harness=harness)))
    except ContradictionError as error:
        return " ".join(str(error).split("\n")[:2])
    return ""


def lifted_with_wires(plan: Plan) -> str:
    """Tell that the cells come out with their wires on, and by how much shorter ones would hold them back."""
    built = plan.built
    if any(short_wires(built, entry) for entry in built.exchanged):
        return ""
    for less in range(10, 150, 10):
        wires = tuple(replace(wire, cut_mm=wire.cut_mm - less) for wire in built.harness.wires)
        shorter = replace(built, harness=replace(built.harness, wires=wires))
        held = [one for entry in built.exchanged for one in short_wires(shorter, entry)]
        if held:
            lacks = f"wire {held[0].wire.number} ({held[0].wire.net}) lacks {held[0].missing:.0f} mm"
            return f"{held[0].part} comes out with its wires on; cut {less} mm shorter, {lacks}"
    return ""


def behind_a_pane(plan: Plan) -> str:
    """Tell why the ranger has no place; no brick that goes would open the window, and the plan holds."""
    confirm(plan)
    lost = next((one.message for one in plan.findings if one.where == "eye" and one.severity == "stop"), "")
    return "" if plan.wider_windows else lost


def holds(plan: Plan) -> str:
    """Tell that a plan stands up to the second check, which refused it once."""
    confirm(plan)
    return f"{verdict_words(plan)}, and the second check holds"


def taped(plan: Plan) -> str:
    """Tell what keeps the bank from toppling, and at how many g it would without it."""
    built = plan.built
    bank = next(one for one in built.placements if one.need == "bank")
    bare = topples(replace(built, fastenings=()), bank)
    if not bare or topples(built, bank):
        return ""
    tape = " and ".join(one.words for one in built.fastenings if one.need == "bank")
    return f"without its fastenings the bank topples at {min(one.at_g for one in bare):.2f} g; held by {tape}"


def stands_elsewhere(plan: Plan) -> str:
    """Tell what carries the board, where nothing that is heavy would tip."""
    place = plan.built.placement("brain")
    if place is None or unsupported(plan.built) or not plan.complete:
        return ""
    return f"brain stands on {place.carried_by} at {place.bounds.low[0]:.0f} mm; nothing heavy would tip"


PLANNED_CASES = (
    PlannedCase("08-return-through-a-sounder", trunk),
    PlannedCase("09-two-colours", finding("these nets meet and have one colour")),
    PlannedCase("13-ten-lamps", all_wired),
    PlannedCase("16b-ranger-faces-the-ground", finding("looks down at the ground")),
    PlannedCase("16c-behind-a-pane", behind_a_pane),
    PlannedCase("18-pair-in-a-short-gap", finding("in the gap of")),
    PlannedCase("19-cells-on-short-wires", lifted_with_wires),
    PlannedCase("20-button-under-the-board", finding("button of switch must be reached")),
    PlannedCase("21-bank-on-an-open-deck", finding("is kept from sliding")),
    PlannedCase("21b-board-on-a-regulator", stands_elsewhere),
    PlannedCase("21c-bank-on-edge", taped),
    PlannedCase("22-stop-that-stands", one_verdict),
    PlannedCase("23-part-without-a-place", folded_into_one),
    PlannedCase("24-wire-cut-short", refused),
    PlannedCase("24b-held-across-a-seam", holds),
    PlannedCase("24c-pad-beside-the-middle", finding("on a pad on one side only")),
    PlannedCase("25-holder-too-large", finding("are missing")),
)
IN_TESTS = ("09-", "19-", "21-", "23-", "25-")
"""Lines whose planned cases are cheap enough for the tests."""


@cache
def plan_of(case: PlannedCase) -> Plan:
    """Return the plan of a wrong train."""
    return plan_train(read_train(case.path))


@cache
def findings_of(case: Case) -> tuple[Finding, ...]:
    """Return what the checks say of a train before anything has a place."""
    outcomes = run_unplaced_checks(read_train(case.path))
    return tuple(found for outcome in outcomes for found in outcome.findings)


def told(case: Case) -> Finding | None:
    """Return the finding that tells what is wrong; None where nothing does."""
    return next(
        (one for one in findings_of(case) if one.severity == case.severity and case.words in one.message),
        None,
    )


def main() -> None:
    """Print line, what is wrong, and what is said; ``checks`` leaves out what takes a whole plan."""
    said: list[tuple[str, str]] = []
    for case in CASES:
        found = told(case)
        text = f"{found.severity}: {found.where}: {found.message}\n      > {found.remedy}" if found else ""
        said.append((f"{case.file.split('-')[0]:>4}  {case.wrong}", text))
    for planned in PLANNED_CASES if "checks" not in sys.argv[1:] else ():
        said.append((f"{planned.file.split('-')[0]:>4}  {planned.wrong}", planned.says(plan_of(planned))))
    for wrong, text in sorted(said):
        print(f"{wrong}\n      {text or 'NOT TOLD'}")
    print(f"{sum(bool(text) for _, text in said)} of {len(said)} wrong trains are told")


if __name__ == "__main__":
    main()
