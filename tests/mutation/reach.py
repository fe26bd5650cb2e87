"""Which tests reach which line of a room, and what each costs; kept in one file between runs."""

from __future__ import annotations

import hashlib
import json
import time
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence, Set
from dataclasses import dataclass, field
from difflib import SequenceMatcher
from pathlib import Path
from typing import Any

import coverage
import pytest

KEPT_S = 60
"""So often what was noted is written, so that a run that is ended loses no more."""
MOST = 160
"""So many tests are kept for a line, in turn of functions and files."""
_DEAR_S = (0.05, 0.3, 1.0, 3.0)
"""Tests that take longer come after all that do not: a plan is made once the small ones have passed."""


@dataclass
class Reach:
    """What was noted.

    Attributes
    ----------
    cost_s
        Processor time of each test that passed, alone: with all that it lets be set up.
    lines
        For each (file, line) the tests that reach it.
    """

    cost_s: dict[str, float] = field(default_factory=dict)
    lines: dict[tuple[str, int], set[str]] = field(default_factory=lambda: defaultdict(set))

    def tests_of(self, places: Sequence[tuple[str, int]]) -> list[str]:
        """Return the tests that reach one of these lines, cheap ones first, in turn of their files."""
        return self._in_turn({test for place in places for test in self.lines.get(place, ())})

    def _in_turn(self, tests: Set[str]) -> list[str]:
        """Order tests: the cheapest case of each function, in turn of their files; dear ones come last.

        What one case of a function passes by, its next one often does, too, and so do tests of one file.
        """
        known = sorted((test for test in tests if test in self.cost_s), key=lambda t: (self.cost_s[t], t))
        cases: Counter[str] = Counter()
        place: Counter[tuple[str, int]] = Counter()
        turns = []
        for test in known:
            dear = sum(self.cost_s[test] > least for least in _DEAR_S)
            function = test.split("[")[0]
            case = cases[function]
            turns.append((dear, case, place[_file_of(test), case], self.cost_s[test], test))
            place[_file_of(test), case] += 1
            cases[function] += 1
        return [test for *_, test in sorted(turns)]

    def write(self, path: Path, root: Path) -> None:
        """Write it all to a file, with the sources as they stand and a mark of each file of tests."""
        names = sorted(self.cost_s)
        number = {name: n for n, name in enumerate(names)}
        rows = [
            [file, line, [number[test] for test in self._in_turn(tests)[:MOST]]]
            for (file, line), tests in sorted(self.lines.items())
        ]
        sources = {file: (root / file).read_text() for file, _ in self.lines if (root / file).exists()}
        marks = {file: _mark(root / file) for file in {_file_of(name) for name in names}}
        kept = {"tests": [[n, self.cost_s[n]] for n in names], "lines": rows}
        path.write_text(json.dumps({**kept, "sources": sources, "marks": marks}))

    @classmethod
    def read(cls, path: Path, root: Path) -> Reach:
        """Read what was written, but for tests in files that have changed; lines that moved are followed."""
        found = cls()
        if path.exists():
            data = json.loads(path.read_text())
            same = {file for file, mark in data["marks"].items() if _mark(root / file) == mark}
            found.cost_s = {test: cost for test, cost in data["tests"] if _file_of(test) in same}
            names = [name for name, _ in data["tests"]]
            moved = {
                file: moved_lines(text, (root / file).read_text())
                for file, text in data["sources"].items()
                if (root / file).exists()
            }
            for file, line, tests in data["lines"]:
                for now in moved.get(file, {}).get(line, ()):
                    found.lines[file, now] |= {names[n] for n in tests}
        return found


def moved_lines(before: str, after: str) -> dict[int, list[int]]:
    """Return for each line of a text, from 1, those of another that take its place.

    A line that is new stands in for all those that it replaced, or for the one above it.
    """
    old, new = before.splitlines(), after.splitlines()
    found: dict[int, list[int]] = defaultdict(list)
    for kind, a0, a1, b0, b1 in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if kind == "equal":
            for step in range(a1 - a0):
                found[a0 + step + 1].append(b0 + step + 1)
        for a in range(a0, a1) if kind == "replace" else [a0 - 1] if kind == "insert" else []:
            found[a + 1] += range(b0 + 1, b1 + 1)
    return found


def _file_of(test: str) -> str:
    return test.split("::")[0]


def _mark(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest() if path.exists() else ""


class Note:
    """A plugin that notes reach and cost of each test while the tests run.

    What is set up once for many tests is noted by itself, and added to each test that asks for it.
    """

    def __init__(self, root: Path, package: str, reach: Reach, path: Path, until: float) -> None:
        self.root, self.reach, self.path, self.until = root, reach, path, until
        self.kept = time.monotonic()
        self.coverage = coverage.Coverage(data_file=None, source=[str(root / package)], branch=False)
        self.failed: set[str] = set()
        self.asked: dict[str, set[str]] = {}
        self.spent: Counter[str] = Counter()
        self.times: Counter[str] = Counter()
        self.now, self.since = "", time.process_time()

    def pytest_collection_modifyitems(self, items: list[Any]) -> None:
        """Leave out what is known already."""
        items[:] = [item for item in items if item.nodeid not in self.reach.cost_s]

    @pytest.hookimpl(wrapper=True)
    def pytest_runtestloop(self) -> Iterator[None]:
        self.coverage.start()
        try:
            return (yield)
        finally:
            self.coverage.stop()
            self._told()

    def _told(self) -> None:
        if not self.asked:
            return  # all was known
        users: dict[str, set[str]] = defaultdict(set)
        for test, asked in self.asked.items():
            if test in self.failed:
                continue
            users[test].add(test)
            cost = self.spent[test] + sum(self.spent[one] / max(self.times[one], 1) for one in asked)
            self.reach.cost_s[test] = round(cost, 3)
            for one in asked:
                users[one].add(test)
        data = self.coverage.get_data()
        for file in data.measured_files():
            short = str(Path(file).relative_to(self.root))
            for line, contexts in data.contexts_by_lineno(file).items():
                for context in contexts:
                    self.reach.lines[short, line] |= users[context]

    def _switch(self, context: str) -> str:
        """Count time and lines to this from here on; return what they were counted to."""
        before, now = self.now, time.process_time()
        self.spent[before] += now - self.since  # type: ignore[assignment]
        self.now, self.since = context, now
        self.coverage.switch_context(context)
        return before

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: Any) -> Iterator[None]:
        if fixturedef.scope == "function":
            return (yield)
        self.times[_named(fixturedef)] += 1
        before = self._switch(_named(fixturedef))
        try:
            return (yield)
        finally:
            self._switch(before)

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: Any) -> Iterator[None]:
        if self.asked and time.monotonic() > self.kept + KEPT_S:
            self.coverage.stop()
            self._told()
            self.reach.write(self.path, self.root)
            self.kept = time.monotonic()
            self.coverage.start()
        if time.monotonic() > self.until:
            item.session.shouldstop = "the time for this is spent"
        before = self._switch(item.nodeid)
        try:
            return (yield)
        finally:
            self._switch(before)
            known = item._fixtureinfo.name2fixturedefs.values()
            self.asked[item.nodeid] = {_named(one[-1]) for one in known if one[-1].scope != "function"}

    def pytest_runtest_logreport(self, report: Any) -> None:
        if report.failed or report.skipped:
            self.failed.add(report.nodeid)


def _named(fixturedef: Any) -> str:
    return f"{fixturedef.baseid}::{fixturedef.argname}"
