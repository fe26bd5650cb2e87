"""A second process that works beside the first: searches in pure Python share one processor otherwise."""

from __future__ import annotations

import gc
import os
import signal
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing import get_context
from typing import ParamSpec, TypeVar

P = ParamSpec("P")
R = TypeVar("R")


@contextmanager
def second_process() -> Iterator[Executor | None]:
    """Give an executor with one process of its own; None where there is only one processor.

    It starts at once and loads what planning and drawing need while the first process reads the files.
    """
    if (os.cpu_count() or 1) < 2:
        yield None
        return
    # Spawned, not forked: the same on every system, and no thread is caught half-way.
    pool = ProcessPoolExecutor(1, mp_context=get_context("spawn"), initializer=_get_ready)
    try:
        pool.submit(int)
        yield pool
    finally:
        pool.shutdown(cancel_futures=True)


def spare_the_collector() -> None:
    """Look for rings among objects less often.

    A plan makes millions of small values that refer to no ring; looking among them takes a twentieth of its
    time.
    """
    gc.set_threshold(50_000, 20, 50)


def _get_ready() -> None:
    """Load what will be asked for, and die without a word when the user breaks off."""
    spare_the_collector()
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    import fitplan.planning.run
    import fitplan.report.sheets.printed_sheets  # noqa: F401


def begin(
    beside: Executor | None, work: Callable[P, R], *args: P.args, **kwargs: P.kwargs
) -> Callable[[], R]:
    """Have something done beside, where there is a second process; call what is returned for its result.

    Without a second process, or when that has died, the work is done here when its result is asked for.
    """
    future = beside.submit(work, *args, **kwargs) if beside is not None else None

    def result() -> R:
        if future is not None:
            try:
                return future.result()
            except BrokenProcessPool:
                pass  # it was killed, for want of memory say: what it did is done again
        return work(*args, **kwargs)

    return result
