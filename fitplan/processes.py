"""Other processes that work beside the first: searches in pure Python share one processor otherwise.

They are spawned, not forked: the same on every system, and no thread is caught half-way.  A process never
outlives the one that started it, however that ends; and whatever becomes of a process, its work is done: what
it did not hand back is done again by who asked, with the same result.
"""

from __future__ import annotations

import gc
import os
import pickle
import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from importlib import import_module
from multiprocessing import get_context, parent_process
from multiprocessing.connection import Connection, wait
from typing import Any, ParamSpec, TypeVar

P = ParamSpec("P")
R = TypeVar("R")

BEAT_S = 1.0
"""So often a second process tells that it is alive."""
PATIENCE_S = 15.0
"""After so long without a sign of life a process counts as stopped. What comes out does not hang on it."""


def processors() -> int:
    """Return how many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def die_with_parent() -> None:
    """End this process as soon as the one that started it is gone, and without a word on an interrupt.

    To be called once at the start of a process that `multiprocessing` made.
    """
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})
    parent = parent_process()
    if parent is None:
        return

    def watch() -> None:
        wait([parent.sentinel])
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


def spare_the_collector() -> None:
    """Look for rings among objects less often.

    A plan makes millions of small values that refer to no ring; looking among them takes a twentieth of its
    time.
    """
    gc.set_threshold(50_000, 20, 50)


@contextmanager
def interrupts_held_back() -> Iterator[None]:
    """Hold interrupts back while a process is started: it begins deaf to them, until `die_with_parent`.

    An interrupt from the terminal reaches all processes at once; one that has not begun yet would tell of
    it in its own way.
    """
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    from multiprocessing import resource_tracker

    # Started beforehand: it lets interrupts through again when it has been.
    resource_tracker.ensure_running()
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


class SecondProcess:
    """One process that does what it is asked, one thing after the other.

    Parameters
    ----------
    preload
        Modules that it loads while nothing is asked yet.
    patience_s
        After so long without a sign of life it counts as stopped.
    """

    def __init__(self, preload: Sequence[str] = (), patience_s: float = PATIENCE_S) -> None:
        context = get_context("spawn")
        self._line, there = context.Pipe()
        self._process = context.Process(target=_serve, args=(there, tuple(preload)), daemon=True)
        with interrupts_held_back():
            self._process.start()
        there.close()
        self._patience_s = patience_s
        self._sending = threading.Lock()
        self._asked = 0
        self._answers: dict[int, bytes | None] = {}

    @property
    def pid(self) -> int:
        """Number of the process."""
        return self._process.pid or 0

    def begin(self, work: Callable[..., R], *args: object, **kwargs: object) -> Callable[[], R]:
        """Have something done, as things stand now; call what is returned for its result.

        Raises (when called for the result) what the work raises.
        """
        number = self._asked
        self._asked += 1
        question = pickle.dumps((number, work, args, kwargs), pickle.HIGHEST_PROTOCOL)
        # From a thread: the other end may not listen yet, and what is sent may be long.
        threading.Thread(target=self._send, args=(question,), daemon=True).start()

        def result() -> R:
            answer = self._answer(number)
            if answer is None:
                return work(*args, **kwargs)
            found: R = pickle.loads(answer)
            return found

        return result

    def end(self) -> None:
        """End the process, whatever it does; what is still being sent to it breaks off first."""
        self._process.kill()
        self._process.join()
        with self._sending:
            self._line.close()

    def _send(self, question: bytes) -> None:
        # One at a time: long ones go over in pieces.
        with self._sending, suppress(OSError, ValueError):
            self._line.send_bytes(question)

    def _answer(self, number: int) -> bytes | None:
        """Wait for an answer; None when there is none, since the process died, stopped or failed."""
        while number not in self._answers:
            try:
                if not self._line.poll(self._patience_s):
                    self._process.kill()
                    return None
                message = self._line.recv_bytes()
            except (OSError, EOFError, ValueError):
                return None
            if message:
                answered, answer = pickle.loads(message)
                self._answers[answered] = answer
        return self._answers.pop(number)


@contextmanager
def second_process(preload: Sequence[str] = ()) -> Iterator[SecondProcess | None]:
    """Give a second process; None where there is only one processor."""
    if processors() < 2:
        yield None
        return
    process = SecondProcess(preload)
    try:
        yield process
    finally:
        process.end()


def begin(
    beside: SecondProcess | None, work: Callable[P, R], *args: P.args, **kwargs: P.kwargs
) -> Callable[[], R]:
    """Have something done beside, where there is a second process; call what is returned for its result.

    Without a second process the work is done here when its result is asked for.
    """
    if beside is None:
        return lambda: work(*args, **kwargs)
    return beside.begin(work, *args, **kwargs)


def _serve(line: Connection[Any, Any], preload: tuple[str, ...]) -> None:
    """Do what comes in until the line is closed, and tell now and then that all is well."""
    die_with_parent()
    spare_the_collector()
    gate = threading.Lock()

    def send(message: bytes) -> None:
        with gate, suppress(OSError):
            line.send_bytes(message)

    def beat() -> None:
        while True:
            threading.Event().wait(BEAT_S)
            send(b"")

    threading.Thread(target=beat, daemon=True).start()
    for name in preload:
        import_module(name)
    while True:
        try:
            number, work, args, kwargs = pickle.loads(line.recv_bytes())
        except (EOFError, OSError):
            return
        try:
            answer = pickle.dumps(work(*args, **kwargs), pickle.HIGHEST_PROTOCOL)
        except Exception:
            answer = None  # done again by who asked, so that it fails there
        send(pickle.dumps((number, answer), pickle.HIGHEST_PROTOCOL))
