"""Every leaf of a written plan changed once: what of a plan does nothing hold to?

A list of damages holds what somebody thought of. Here nobody thinks: each number is made larger and smaller
by what would matter, each flag turned round, each text put in place of another of its kind, the ends of each
list dropped, doubled or changed about, one at a time, all over the document. What `verify` does not notice is
printed by pattern, a path in which ``*`` stands for the items of a list. A pattern is checked, or derived
and not written at all, or stands among what is *taken on trust*; `TRUSTED` lists those.

    python -m tests.attack.leaves [EXAMPLE …] [--each N] [--seed N] [--every N]

``--each`` bounds how many leaves of a pattern are tried (0: all of them).
"""

from __future__ import annotations

import argparse
import copy
import json
import os
import random
import sys
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from unittest.mock import patch

from fitplan.errors import PlanFormatError
from fitplan.files.find import example_names, find_train
from fitplan.files.plan_json import plan_from_json, plan_to_json
from fitplan.files.read import read_train
from fitplan.model.plan import Plan
from fitplan.model.train import Train
from fitplan.planning.run import plan_train
from fitplan.recheck import recheck
from fitplan.verify.result import Tally
from tests.attack.damaged_plans import Json

Way = tuple[str | int, ...]

TRUSTED: dict[str, str] = {
    "plan.options$": "that no other choice costs less",
    "plan.built.harness.wires.*.detours$": "shortest ways of wires",
    "plan.built.harness.wires.*.detours.*.why": "reasons of longer ways",
    "plan.built.harness.wires.*.detours.*.shortest": "reasons of longer ways",
    "plan.built.harness.stretches": "which wires share a stretch",
    "plan.built.harness.facts.bends": "room for bends",
    "plan.built.rebuilds.*.least": "bounds of rebuilds",
    "plan.built.rebuilds.*.carried": "bounds of rebuilds",
    "plan.fit.*.proof": "words and proofs of what cannot fit",
    "plan.fit.*.reason": "words and proofs of what cannot fit",
    "plan.fit.*.verdict": "that parts cannot fit",
    "plan.unplaced": "reasons for parts left out",
    "plan.built.placements.*.carried_by": "words of what carries parts",
    "plan.built.harness.unreached.*": "reasons of what no wire reaches",
    "plan.proved": "that no other choice costs less",
    "plan.seed": "that no other choice costs less",
    "plan.work.proved": "orders of work with less undone",
}
"""Patterns that begin so (with ``$``: are just that) are taken on trust, and under which name it is said."""

ALLOWED: dict[str, str] = {
    "plan.built.harness.wires.*.colour": "a wire may have another colour where no other is like it",
    "plan.built.exchanged.*.last.moves.*.*": "a part may go further once it is out",
    "plan.assembly.*.number": "numbers of steps need only grow",
    "plan.assembly.*.moves": "a part may come from further off, or by fewer moves",
    "plan.built.placements.*.shelf.pieces.*.box": "a pad may be smaller",
    "plan.built.train.source": "a name to show",
    "plan.fit.*.places.*.place": "a part may lie elsewhere as well",
    "plan.fit.*.places.*.shelf": "a pad may be smaller, and stand on fewer studs",
    "plan.fit.*.places.*.steady": "who says that a part would tip claims less",
    "plan.built.train.files": "a file that changed since is a note, and its train is taken on trust",
}
"""Patterns of which some changes leave the plan as true as it was, and why."""


@dataclass(frozen=True)
class Change:
    """One change of one value: where, its pattern, what is done, and what then stands there."""

    path: Way
    pattern: str
    what: str
    value: Json

    @property
    def where(self) -> str:
        """The path as text."""
        return ".".join(map(str, self.path))


def pattern_of(path: Way) -> str:
    """Return a path with ``*`` for the items of lists and for the names of parts."""
    words = ["*" if isinstance(step, int) else step for step in path]
    if len(words) > 1 and words[0] == "parts":
        words[1] = "*"
    return ".".join(words)


def leaves(document: Json) -> Iterator[tuple[Way, Json]]:
    """Yield path and value of all texts, numbers and flags of a document, and of all its lists."""
    waiting: list[tuple[Way, Json]] = [((), document)]
    while waiting:
        path, value = waiting.pop()
        if isinstance(value, dict):
            waiting += [((*path, key), item) for key, item in reversed(list(value.items()))]
            continue
        yield path, value
        if isinstance(value, list):
            waiting += [((*path, place), item) for place, item in reversed(list(enumerate(value)))]


def changes(document: Json, each: int = 0, seed: int = 0) -> Iterator[Change]:
    """Yield changes to a document: of every pattern so many, drawn by the seed (0: all)."""
    found: dict[str, list[tuple[Way, Json]]] = defaultdict(list)
    for path, value in leaves(document):
        found[pattern_of(path)].append((path, value))
    dice = random.Random(seed)
    for pattern, rows in found.items():
        texts = sorted({value for _, value in rows if isinstance(value, str)})
        picked = rows if not each or len(rows) <= each else sorted(dice.sample(rows, each), key=str)
        for path, value in picked:
            for what, other in _others(value, texts):
                yield Change(path, pattern, what, other)


def _others(value: Json, texts: list[str]) -> Iterator[tuple[str, Json]]:
    if isinstance(value, bool):
        yield "turned round", not value
    elif isinstance(value, int):
        yield "one more", value + 1
        yield "one less", value - 1
    elif isinstance(value, float):
        by = max(1.0, abs(value) / 4)
        yield "more", value + by
        yield "less", value - by
    elif isinstance(value, str):
        other = next((text for text in texts if text > value), texts[0])
        if other != value:
            yield "another's", other
        else:
            yield "none's", value + " or else" if value else "something"
        if value and texts != [value]:
            yield "empty", ""
    elif isinstance(value, list) and value:
        yield "first dropped", value[1:]
        if len(value) > 1:
            yield "last dropped", value[:-1]
            yield "first doubled", [value[0], *value]  # that an order is another is no lie by itself


def excused(pattern: str) -> str:
    """Return why a change of a pattern need not be noticed; empty: it must be."""
    for begins, what in TRUSTED.items():
        if pattern == begins[:-1] if begins.endswith("$") else pattern.startswith(begins):
            return f"taken on trust: {what}"
    return next((f"true as well: {why}" for begins, why in ALLOWED.items() if pattern.startswith(begins)), "")


def changed(document: Json, change: Change) -> Json:
    """Return a copy of a document with one change done to it; only what lies on the way is copied."""
    root = copy.copy(document)
    here = root
    for step in change.path[:-1]:
        here[step] = copy.copy(here[step])
        here = here[step]
    here[change.path[-1]] = change.value
    return root


class _Noticed(BaseException):
    """What ends a check at its first problem."""


class _Impatient(Tally):
    """A sheet that ends everything with the first problem: what else is wrong is of no interest here."""

    def problem(self, subject: str, where: str, message: str, figure: float = 0.0, unit: str = "") -> None:
        raise _Noticed(subject)


def noticed_by(document: Json, train: Train | None, untouched: Plan | None = None) -> str:
    """Return what notices that a document is wrong: its format, the plan itself, or its checks run again.

    A change that leaves the same plan as the untouched one (a colour named twice in a set) is *the same*.
    """
    try:
        plan = plan_from_json(json.dumps(document))
    except PlanFormatError:
        return "format"
    if plan == untouched:
        return "the same"
    with patch("fitplan.verify.Tally", _Impatient):
        try:
            recheck(plan, train)
        except _Noticed as noticed:
            return "checks" if noticed.args[0] == "findings" else "plan"
    return ""


def plan_of(name: str, train: Train) -> bytes:
    """Return a plan as written; a file that `FITPLAN_PLANS` holds saves the planning."""
    kept = Path(os.environ.get("FITPLAN_PLANS", "nowhere")) / f"{name}.json"
    return kept.read_bytes() if kept.is_file() else plan_to_json(plan_train(train))


def main(names: list[str], each: int, seed: int, only: list[str], every: int) -> int:
    """Print how many changes are noticed, and the patterns of those that are not."""
    total = 0
    for name in names or example_names():
        train = read_train(find_train(name))
        written = plan_of(name, train)
        document, untouched = json.loads(written), plan_from_json(written)
        problems = recheck(untouched, train).problems
        if problems:  # then every change would count as noticed
            print(f"{name}: does not hold as it is: {problems[0].message}")
            total += 1
            continue
        by: Counter[str] = Counter()
        missed: dict[str, list[Change]] = defaultdict(list)
        trusted = 0
        drawn = [one for one in changes(document, each, seed) if any(map(one.pattern.startswith, only))]
        for change in drawn[::every]:
            how = noticed_by(changed(document, change), train, untouched)
            by[how or "unnoticed"] += 1
            if not how and excused(change.pattern):
                trusted += 1
            elif not how:
                missed[change.pattern].append(change)
                print(f"unnoticed in {name}: {change.where} {change.what}", flush=True)
        print(f"\n{name}: {by.total()} changes, " + ", ".join(f"{n} {how}" for how, n in sorted(by.items())))
        print(f"  of those unnoticed, {trusted} are taken on trust or as true as before")
        for pattern, rows in missed.items():
            kinds = ", ".join(f"{n} {what}" for what, n in Counter(row.what for row in rows).items())
            print(f"  {pattern}: {kinds}; for example {rows[0].where}")
        sys.stdout.flush()
        total += sum(map(len, missed.values()))
    return min(total, 1)


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("names", nargs="*")
    asked.add_argument("--each", type=int, default=3)
    asked.add_argument("--seed", type=int, default=0, help="which leaves are drawn")
    asked.add_argument("--only", nargs="+", default=[""], help="patterns that begin with this")
    asked.add_argument("--every", type=int, default=1, help="take every Nth of the changes drawn")
    options = asked.parse_args()
    sys.exit(main(options.names, options.each, options.seed, options.only, options.every))
