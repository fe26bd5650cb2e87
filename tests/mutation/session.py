"""Plant a sample of faults, each in a process split off from one that has collected the tests."""

from __future__ import annotations

import contextlib
import os
import resource
import signal
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.mutation.operators import Mutant
from tests.mutation.planting import plant

NOTICED, SURVIVED, UNREACHED, ENDLESS, NOWHERE = "noticed", "survived", "unreached", "endless", "nowhere"
_STATUS = {0: SURVIVED, 1: NOTICED, 4: NOWHERE}
_LONGEST_S = 300


@dataclass(frozen=True)
class Outcome:
    """What came of one fault: by which test it was noticed, and after how much processor time."""

    mutant: Mutant
    answer: str
    by: str = ""
    cost_s: float = 0.0


class Planter:
    """A plugin that takes the place of the run: for each fault it splits off a process that runs its tests.

    Parameters
    ----------
    chosen
        Faults with their tests, in the order of running.
    """

    def __init__(self, root: Path, chosen: Sequence[tuple[Mutant, list[str]]]) -> None:
        self.root, self.chosen = root, chosen
        self.outcomes: list[Outcome] = []
        self.unsound: list[str] = []

    def pytest_runtestloop(self, session: Any) -> bool:
        """Run the tests of each fault."""
        from hypothesis import Phase, settings  # loaded by pytest first, which looks into it

        settings.register_profile(
            "planted", settings.default, database=None, phases=[Phase.explicit, Phase.generate]
        )
        settings.load_profile("planted")
        items = {item.nodeid: item for item in session.items}
        for mutant, tests in self.chosen:
            own = [items[test] for test in tests if test in items]
            outcome = self._one(session, mutant, own) if own else Outcome(mutant, UNREACHED)
            self.outcomes.append(outcome)
            print(f"{outcome.answer:9} {outcome.cost_s:6.1f} s  {mutant}  {outcome.by}", flush=True)
        noticing = sorted({outcome.by for outcome in self.outcomes if outcome.by})
        for test in noticing:  # without a fault each of them passes, in a process of its own as well
            if self._one(session, None, [items[test]]).answer != SURVIVED:
                self.unsound.append(test)
        return True

    def _one(self, session: Any, mutant: Mutant | None, own: list[Any]) -> Outcome:
        read, write = os.pipe()
        pid = os.fork()
        if pid == 0:
            self._child(session, mutant, own, write)
        os.close(write)
        begun = time.monotonic()
        while True:
            done, status, used = os.wait4(pid, os.WNOHANG)
            if done:
                break
            if time.monotonic() - begun > _LONGEST_S:  # a process that waits for ever uses no processor
                os.kill(pid, signal.SIGKILL)
            time.sleep(0.02)
        with os.fdopen(read) as file:
            by = file.read()
        answer = ENDLESS if os.WIFSIGNALED(status) else _STATUS.get(os.WEXITSTATUS(status), NOTICED)
        cost = used.ru_utime + used.ru_stime
        return Outcome(mutant, answer, by if answer == NOTICED else "", cost)  # type: ignore[arg-type]

    def _child(self, session: Any, mutant: Mutant | None, own: list[Any], write: int) -> None:
        """Plant the fault, run the tests until one fails, and end the process."""
        status = 5
        with contextlib.suppress(BaseException):
            nothing = os.open(os.devnull, os.O_RDWR)
            for stream in (0, 1, 2):
                os.dup2(nothing, stream)
            resource.setrlimit(resource.RLIMIT_CPU, (60, 70))
            if mutant is not None and not plant(self.root, mutant):
                os._exit(4)
            status = 0
            for item, after in zip(own, [*own[1:], None], strict=True):
                before = session.testsfailed
                item.config.hook.pytest_runtest_protocol(item=item, nextitem=after)
                if session.testsfailed > before:
                    os.write(write, item.nodeid.encode())
                    status = 1
                    break
        os._exit(status)
