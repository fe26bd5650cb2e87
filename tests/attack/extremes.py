"""Every field's extremes through plan, files and verify.

``python -m tests.attack.extremes [COUNT [EXAMPLE]]`` sets one value of a train, of one of its vehicles or
of a part to an extreme; what is read all the same is planned with little work, written, read again and
verified. COUNT of the changes are tried, spread evenly over all of them; 60 of the crane wagon when not
given. Nothing but a refusal may be raised, a plan that is written must be read again and verified to an
end, and none may take boundless time.
"""

from __future__ import annotations

import re
import resource
import shutil
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from fitplan.budget import Budget
from fitplan.errors import FitplanError
from fitplan.files.catalogue import examples_folder
from fitplan.files.plan_json import plan_from_json, plan_to_json
from fitplan.files.read import read_train
from fitplan.planning.run import PlanOptions, plan_train
from fitplan.recheck import recheck
from fitplan.report.plan_folder import plan_files

EXAMPLE = "narrow-crane-wagon"
EXTREMES = ("0", "-1", "1e-9", "1e9", "1e308", "nan", ".inf", "0.5", "1", "400", "[]", "''", "no", "9 studs")
_VALUE = re.compile(r"(?<=: )[-\w.]+(?: (?:studs?|plates?|bricks?|mm))?(?=[,}\]\s]|$)")
SLOW_S = 120.0


def changes(folder: Path) -> Iterator[tuple[str, int, int, str]]:
    """Yield file, start and end of a value, and what to write there, for every value of a train's files."""
    for path in sorted(folder.glob("*.yaml")):
        text = path.read_text("utf-8")
        for found in _VALUE.finditer(text):
            line = text[text.rfind("\n", 0, found.start()) + 1 : found.start()]
            if "#" in line:
                continue
            for value in EXTREMES:
                yield path.name, found.start(), found.end(), value


def tried(folder: Path) -> str:
    """Return what came of a changed train."""
    try:
        train = read_train(folder / "train.yaml")
    except FitplanError:
        return "refused"
    try:
        plan = plan_train(train, PlanOptions(budget=Budget.usual(effort=0.05)))
        files = plan_files(plan)
    except FitplanError:
        return "told when planned"
    again = plan_from_json(plan_to_json(plan))
    if not recheck(again).summary or "plan.json" not in files:
        raise AssertionError("no summary, or no plan among the files")
    return "planned, written, verified"


def main(count: int, example: str = EXAMPLE) -> int:
    """Print the table; return 1 when anything but a refusal was raised, or something took too long."""
    source = examples_folder() / example
    every = list(changes(source))
    chosen = every[:: max(1, len(every) // count)][:count]
    came: Counter[str] = Counter()
    slowest = 0.0
    with tempfile.TemporaryDirectory() as place:
        folder = Path(shutil.copytree(source, Path(place) / "train"))
        for number, (name, start, end, value) in enumerate(chosen):
            text = (source / name).read_text("utf-8")
            (folder / name).write_text(text[:start] + value + text[end:], "utf-8")
            begun = time.process_time()
            try:
                found = tried(folder)
            except Exception:
                found = "bad"
                line = text[text.rfind("\n", 0, start) + 1 : text.find("\n", end)].strip()
                print(f"{name}: {line!r} with {value}: {traceback.format_exc(limit=-2)}", flush=True)
            spent = time.process_time() - begun
            slowest = max(slowest, spent)
            came[found if spent < SLOW_S else "bad"] += 1
            (folder / name).write_text(text, "utf-8")
            if number % 20 == 19:
                print(f"{number + 1} of {len(chosen)}: {dict(came)}", flush=True)
    print(f"{len(chosen)} of {len(every)} changes: {dict(came)}; slowest {slowest:.1f} s")
    print(f"most memory: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6:.2f} GB")
    return min(came["bad"], 1)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 60, *sys.argv[2:3]))
