"""Which tests reach which line of a room, and what each costs; kept in one file between runs."""

from __future__ import annotations

import json
import time
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import coverage
import pytest

MOST = 80
"""So many tests are kept for a line, the cheapest."""


@dataclass
class Reach:
    """What was noted.

    Attributes
    ----------
    cost_s
        Processor time of each test that passed, with what it was the first to set up.
    lines
        For each (file, line) the tests that reach it.
    """

    cost_s: dict[str, float] = field(default_factory=dict)
    lines: dict[tuple[str, int], set[str]] = field(default_factory=lambda: defaultdict(set))

    def tests_of(self, places: Sequence[tuple[str, int]]) -> list[str]:
        """Return the tests that reach one of these lines, the cheapest first."""
        found = {test for place in places for test in self.lines.get(place, ())}
        return sorted((test for test in found if test in self.cost_s), key=lambda t: (self.cost_s[t], t))

    def write(self, path: Path) -> None:
        """Write it all to a file."""
        names = sorted(self.cost_s)
        number = {name: n for n, name in enumerate(names)}
        rows = [
            [
                file,
                line,
                sorted((number[t] for t in tests if t in number), key=lambda n: self.cost_s[names[n]])[:MOST],
            ]
            for (file, line), tests in sorted(self.lines.items())
        ]
        path.write_text(json.dumps({"tests": [[n, self.cost_s[n]] for n in names], "lines": rows}))

    @classmethod
    def read(cls, path: Path) -> Reach:
        """Read what was written."""
        found = cls()
        if path.exists():
            data = json.loads(path.read_text())
            found.cost_s = dict(data["tests"])
            names = [name for name, _ in data["tests"]]
            for file, line, tests in data["lines"]:
                found.lines[file, line] = {names[n] for n in tests}
        return found


class Note:
    """A plugin that notes reach and cost of each test while the tests run."""

    def __init__(self, root: Path, packages: Sequence[str], reach: Reach, most_s: float) -> None:
        self.root, self.reach, self.most_s = root, reach, most_s
        self.coverage = coverage.Coverage(
            data_file=None, source=[str(root / one) for one in packages], branch=False
        )
        self.failed: set[str] = set()
        self.begun = time.process_time()

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
            data = self.coverage.get_data()
            for file in data.measured_files():
                short = str(Path(file).relative_to(self.root))
                for line, tests in data.contexts_by_lineno(file).items():
                    self.reach.lines[short, line] |= {test for test in tests if test}

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: Any) -> Iterator[None]:
        if time.process_time() - self.begun > self.most_s:
            item.session.shouldstop = "the processor time for this is spent"
        self.coverage.switch_context(item.nodeid)
        begun = time.process_time()
        try:
            return (yield)
        finally:
            if item.nodeid not in self.failed:
                self.reach.cost_s[item.nodeid] = round(time.process_time() - begun, 3)

    def pytest_runtest_logreport(self, report: Any) -> None:
        if report.failed or report.skipped:
            self.failed.add(report.nodeid)
