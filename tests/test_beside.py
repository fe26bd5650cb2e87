"""Work done in a second process, and what happens when that process dies."""

from __future__ import annotations

import os
import signal

import pytest

from fitplan.files.plan_json import plan_to_json
from fitplan.model.plan import Plan
from fitplan.planning.run import plan_train
from fitplan.processes import begin, second_process


def die_elsewhere(home: int) -> int:
    """Return the process's number, but die in any other process than the one named."""
    if os.getpid() != home:
        os.kill(os.getpid(), getattr(signal, "SIGKILL", signal.SIGTERM))
    return os.getpid()


def test_without_a_second_process_the_work_is_done_here() -> None:
    """The result is worked out in this process when it is asked for."""
    assert begin(None, os.getpid)() == os.getpid()


@pytest.mark.skipif((os.cpu_count() or 1) < 2, reason="one processor: there is no second process")
def test_work_is_done_in_the_second_process_and_again_here_when_that_dies() -> None:
    """A result comes from the other process; of a process that was killed the work is done here."""
    with second_process() as beside:
        assert begin(beside, os.getpid)() != os.getpid()
        assert begin(beside, die_elsewhere, os.getpid())() == os.getpid()


def test_the_plan_is_the_same_with_a_second_process(harbour_plan: Plan) -> None:
    """What the other process finds out is what this one would have, to the byte."""
    with second_process() as beside:
        made = plan_train(harbour_plan.built.train, beside=beside)
    assert plan_to_json(made) == plan_to_json(harbour_plan)
