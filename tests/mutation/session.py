"""Plant a sample of faults, each in a process split off from one that has collected the tests."""

from __future__ import annotations

import contextlib
import math
import os
import resource
import shutil
import signal
import tempfile
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from importlib import resources
from pathlib import Path
from typing import Any

from fitplan.kernels.load import _module
from tests.mutation.operators import Mutant
from tests.mutation.planting import plant

NOTICED, SURVIVED, UNREACHED, NOWHERE = "noticed", "survived", "unreached", "nowhere"
ENDLESS, STUCK, UNSOUND = "endless", "stuck", "unsound"
_STATUS = {0: SURVIVED, 1: NOTICED, 4: NOWHERE}
TIMES, LEAST_S = 5, 10
"""A test that runs longer than so many times what it costs alone, and than so many seconds, does not end."""
_STUCK_S = 100


@dataclass(frozen=True)
class Outcome:
    """What came of one fault.

    Attributes
    ----------
    answer
        *Noticed* (a test failed), *endless* (a test ran several times as long as it does), *survived*,
        *unreached* (by any test), *stuck* (waits without working), *nowhere* (nothing loaded holds
        the place), *unsound* (the test fails without the fault, too).
    by
        The last test that was begun.
    cost_s
        Processor time.
    """

    mutant: Mutant
    answer: str
    by: str = ""
    cost_s: float = 0.0

    @property
    def noticed(self) -> bool:
        """Whether a test tells this fault."""
        return self.answer in (NOTICED, ENDLESS)


def _compile_kernels() -> None:
    """Compile every kernel here: the threads that do it are not there in a process that is split off."""
    for file in sorted(resources.files("fitplan.kernels").iterdir(), key=lambda file: file.name):
        if file.name.endswith(".wasm"):
            for small in (False, True):
                _module(file.name.removesuffix(".wasm"), small)


class Planter:
    """A plugin that takes the place of the run: for each fault it splits off a process that runs its tests.

    Parameters
    ----------
    chosen
        Faults with their tests, in the order of running.
    cost_s
        Processor time of each test alone.
    until
        No fault is begun after this, of `time.monotonic`.
    """

    def __init__(
        self,
        root: Path,
        chosen: Sequence[tuple[Mutant, list[str]]],
        cost_s: Mapping[str, float],
        until: float,
    ) -> None:
        self.root, self.chosen, self.cost_s, self.until = root, chosen, cost_s, until
        self.outcomes: list[Outcome] = []

    def pytest_runtestloop(self, session: Any) -> bool:
        """Run the tests of each fault."""
        from hypothesis import Phase, settings  # loaded by pytest first, which looks into it

        settings.register_profile(
            "planted", settings.default, database=None, phases=[Phase.explicit, Phase.generate]
        )
        settings.load_profile("planted")
        _compile_kernels()
        items = {item.nodeid: item for item in session.items}
        for mutant, tests in self.chosen:
            if time.monotonic() > self.until:
                break
            own = [items[test] for test in tests if test in items]
            outcome = self._one(session, mutant, own) if own else Outcome(mutant, UNREACHED)
            self.outcomes.append(outcome)
            print(f"{outcome.answer:9} {outcome.cost_s:6.1f} s  {mutant}  {outcome.by}", flush=True)
        self._doubt(session, items)
        return True

    def _doubt(self, session: Any, items: Mapping[str, Any]) -> None:
        """Run what noticed something without a fault: all at once, and each alone where not all pass."""
        noticing = [items[test] for test in sorted({one.by for one in self.outcomes if one.noticed})]

        def passes(tests: list[Any]) -> bool:
            return self._one(session, self.outcomes[0].mutant, tests, sound=True).answer == SURVIVED

        if not noticing or passes(noticing):
            return
        unsound = {item.nodeid for item in noticing if not passes([item])}
        self.outcomes = [
            replace(one, answer=UNSOUND) if one.noticed and one.by in unsound else one
            for one in self.outcomes
        ]

    def _one(self, session: Any, mutant: Mutant, own: list[Any], *, sound: bool = False) -> Outcome:
        read, write = os.pipe()
        folder = tempfile.mkdtemp(prefix="mutation-")
        pid = os.fork()
        if pid == 0:
            # Plans that tests share are made anew: those of a program with a fault in it are nobody else's.
            session.config._tmp_path_factory._basetemp = Path(folder).resolve()
            self._child(session, None if sound else mutant, own, write)
        os.close(write)
        begun, stuck = time.monotonic(), False
        while True:
            done, status, used = os.wait4(pid, os.WNOHANG)
            if done:
                break
            if time.monotonic() - begun > _STUCK_S and not stuck:
                stuck = True
                os.kill(pid, signal.SIGKILL)
            time.sleep(0.01)
        with os.fdopen(read) as file:
            tests = file.read().split("\n")
        shutil.rmtree(folder, ignore_errors=True)
        if stuck or not os.WIFSIGNALED(status):
            answer = STUCK if stuck else _STATUS.get(os.WEXITSTATUS(status), NOTICED)
        else:
            ended: dict[int, str] = {signal.SIGXCPU: ENDLESS, signal.SIGKILL: STUCK}
            answer = ended.get(os.WTERMSIG(status), NOTICED)
        return Outcome(
            mutant, answer, tests[-2] if len(tests) > 1 else "", round(used.ru_utime + used.ru_stime, 2)
        )

    def _child(self, session: Any, mutant: Mutant | None, own: list[Any], write: int) -> None:
        """Plant the fault, run the tests until one fails, and end the process."""
        status = 4
        with contextlib.suppress(BaseException):
            nothing = os.open(os.devnull, os.O_RDWR)
            for stream in (0, 1, 2):
                os.dup2(nothing, stream)
            if mutant is not None and not plant(self.root, mutant):
                os._exit(4)
            status = 0
            for item, after in zip(own, [*own[1:], None], strict=True):
                os.write(write, f"{item.nodeid}\n".encode())
                most = time.process_time() + max(TIMES * self.cost_s.get(item.nodeid, 0.0), LEAST_S)
                resource.setrlimit(resource.RLIMIT_CPU, (math.ceil(most), resource.RLIM_INFINITY))
                before = session.testsfailed
                item.config.hook.pytest_runtest_protocol(item=item, nextitem=after)
                if session.testsfailed > before:
                    status = 1
                    break
        os._exit(status)
