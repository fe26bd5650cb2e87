"""Which damages to a plan are noticed, and by what: by the plan alone, or with its checks and files."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from fitplan.errors import PlanFormatError
from fitplan.files.plan_json import plan_from_json
from fitplan.model.train import Train
from fitplan.recheck import recheck
from fitplan.verify import Report
from tests.attack.damaged_plans import DAMAGES, Damage, Json, applied


@dataclass(frozen=True)
class Result:
    """What came of one damage.

    ``by``: "format" when the file is refused, "plan" when the plan alone gives it away, "checks" when its
    checks run again do, "files" when its train read again does, "" when nothing does.
    """

    damage: Damage
    by: str
    trusted: tuple[str, ...] = ()


def noticed(document: Json, train: Train | None, damages: Iterable[Damage] = DAMAGES) -> Iterator[Result]:
    """Do each damage that finds something to change, and yield what notices it.

    Parameters
    ----------
    train
        The train as its files hold it; None: by the plan and its checks alone.
    """
    for entry in damages:
        broken = applied(document, entry)
        if broken is not None:
            yield _result(entry, broken, train)


def _result(entry: Damage, broken: Json, train: Train | None) -> Result:
    try:
        plan = plan_from_json(json.dumps(broken))
    except PlanFormatError:
        return Result(entry, "format")
    report: Report = recheck(plan, train)
    subjects = {problem.subject for problem in report.problems}
    by = "plan" if subjects - {"findings", "files"} else "checks" if "findings" in subjects else "files"
    return Result(entry, by if subjects else "", tuple(item.what for item in report.trusted))
