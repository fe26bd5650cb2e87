"""One wrong train a line of what a plan must hold on the workbench, and what is said of it.

Run ``python -m tests.checks.workbench`` to print the table. Each train is a short file in
``workbench_trains``; its first line says what is wrong with it.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from fitplan.checks import run_unplaced_checks
from fitplan.files.read import read_train
from fitplan.model.plan import Finding, Severity

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
    Case("02-charger-left-out", "stop", "charger"),
    Case("02b-charged-too-fast", "stop", "charge"),
    Case("03-motor-beyond-its-driver", "stop", "when its motors start"),
    Case("04-step-up-asked-for-too-much", "stop", "is asked for"),
    Case("05-two-parts-at-one-address", "stop", "answer at one address"),
    Case("05b-lamps-beyond-the-chip", "stop", "its chip gives"),
    Case("06-fuse-trips-in-running", "stop", "trips in running"),
    Case("07-net-that-nothing-feeds", "stop", "nothing gives volts"),
    Case("07b-part-without-supply", "stop", "nothing feeds eye"),
    Case("10-block-at-the-raw-pin", "caution", "a 9 V block holds"),
    Case("10b-four-cells-at-the-raw-pin", "caution", "its input lies"),
    Case("11-switch-bypassed", "stop", "it interrupts nothing"),
    Case("11b-no-ground", "stop", "no net joins any ground"),
    Case("11c-cells-turned-round", "stop", "plus and minus exchanged"),
    Case("12-hours-that-are-not-reached", "stop", "are asked of cells"),
    Case("12b-both-ways-with-one-ranger", "stop", "watch one way only"),
    Case("14-downhill", "stop", "the train hits"),
    Case("15-blind-in-curves", "stop", "in the curve"),
    Case("17-body-reaches-out", "stop", "body of"),
)


def findings_of(case: Case) -> list[Finding]:
    """Return what the checks say of a train before anything has a place."""
    outcomes = run_unplaced_checks(read_train(case.path))
    return [found for outcome in outcomes for found in outcome.findings]


def told(case: Case) -> Finding | None:
    """Return the finding that tells what is wrong; None where nothing does."""
    return next(
        (one for one in findings_of(case) if one.severity == case.severity and case.words in one.message),
        None,
    )


def main() -> None:
    """Print line, what is wrong, and what is said."""
    for case in CASES:
        found = told(case)
        print(f"{case.file.split('-')[0]:>4}  {case.wrong}")
        if found is None:
            print("      NOT TOLD")
        else:
            print(f"      {found.severity}: {found.where}: {found.message}\n      > {found.remedy}")


if __name__ == "__main__":
    main()
