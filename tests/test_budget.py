"""The budget of the searches: its shares, its clock, and its way to another process."""

from __future__ import annotations

import pickle
from time import monotonic

import pytest

from fitplan.budget import ENDS, SHARES, Budget
from fitplan.packing.engine.problem import Space, blocks
from fitplan.packing.engine.solve import solve


def test_without_a_deadline_there_is_no_clock() -> None:
    """The usual budget is never late; its shares are parts of its steps."""
    whole = Budget.usual()
    assert whole.until is None
    assert not whole.late
    for name, share in SHARES.items():
        part = whole.share(name)
        assert part.until is None
        assert part.steps == round(whole.steps * share)
    assert all(whole.ending(stage) == whole for stage in ENDS)
    assert Budget.usual(effort=3).steps == 3 * whole.steps


def test_a_share_never_outlasts_the_whole() -> None:
    """A share's clock starts when it is given out, and ends with the whole's at the latest."""
    whole = Budget(100, 10.0, monotonic() + 10.0)
    assert whole.until is not None
    for name, share in SHARES.items():
        part = whole.share(name)
        assert part.until is not None
        assert part.until <= whole.until
        assert part.until - monotonic() <= 10.0 * share
    for stage, share in ENDS.items():
        until = whole.ending(stage).until
        assert until == pytest.approx(whole.until - 10.0 * (1 - share))
    nearly_over = Budget(100, 10.0, monotonic() + 0.5)
    assert nearly_over.part(0.5).until == nearly_over.until


def test_spending() -> None:
    """What is spent is counted, and a reached deadline ends everything."""
    budget = Budget(10)
    assert not budget.used_up(9)
    assert budget.used_up(10)
    assert budget.less(4) == Budget(6)
    assert budget.less(40) == Budget(0)
    late = Budget(10, 1.0, monotonic() - 0.1)
    assert late.late
    assert late.used_up(0)


def test_a_budget_goes_to_another_process() -> None:
    """Pickled and read again, it has the same steps and ends at the same time, to a few milliseconds."""
    assert pickle.loads(pickle.dumps(Budget(7))) == Budget(7)
    timed = Budget(7, 5.0, monotonic() + 5.0)
    again = pickle.loads(pickle.dumps(timed))
    assert (again.steps, again.deadline_s) == (7, 5.0)
    assert again.until == pytest.approx(timed.until, abs=0.05)


def test_a_reached_deadline_is_told() -> None:
    """A search that a deadline cut short says so; one that did its work says what is left."""
    problem = blocks([(1, 2, 4)] * 42, Space((0, 0, 0, 7, 7, 7)))
    cut = solve(problem, Budget(10**6, 1.0, monotonic() - 1.0))
    assert cut.status == "not_decided"
    assert cut.late
    assert cut.gap.startswith("the deadline was reached")
    little = solve(problem, Budget(1))
    assert little.status == "not_decided"
    assert not little.late
    assert "deadline" not in little.gap
