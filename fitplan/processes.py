"""Other processes that work beside the first: searches in pure Python share one processor otherwise.

A second process is forked where that is safe, so that it has at once what the first has loaded: on Linux,
and only while there is one thread, so that none is caught half-way. Anywhere else processes are spawned. A
process never outlives the one that started it, however that ends; and whatever becomes of a process, its work
is done: what it did not hand back is done again by who asked, with the same result.
"""

from __future__ import annotations

import gc
import os
import pickle
import signal
import sys
import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from importlib import import_module
from multiprocessing import get_context, parent_process
from multiprocessing.connection import Connection, wait
from pathlib import Path
from typing import Any, Generic, ParamSpec, TypeVar

P = ParamSpec("P")
R = TypeVar("R")
T = TypeVar("T")

BEAT_S = 1.0
"""So often a second process tells that it is alive."""
_PARTS = 4
"""Of what is left to do a fourth is handed to a second process at a time, one thing at least."""
PATIENCE_S = 15.0
"""After so long without a sign of life a process counts as stopped. What comes out does not hang on it."""


def processors() -> int:
    """Return how many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def may_fork() -> bool:
    """Whether a process may be forked from this one as it stands: it has no other thread, says the system."""
    if sys.platform != "linux":
        return False
    try:
        return len(list(Path("/proc/self/task").iterdir())) == 1
    except OSError:
        return False


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

    A plan makes millions of small values that refer to no ring, and holds some hundred thousand at a time.
    Looking among them takes a twentieth of its time as it is usually done, and a fiftieth every 50,000.
    """
    gc.set_threshold(1_000_000, 20, 50)


@contextmanager
def interrupts_held_back(forked: bool = False) -> Iterator[None]:
    """Hold interrupts back while a process is started: it begins deaf to them, until `die_with_parent`.

    An interrupt from the terminal reaches all processes at once; one that has not begun yet would tell of
    it in its own way.
    """
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    if not forked:
        from multiprocessing import resource_tracker

        # Started beforehand: it lets interrupts through again when it has been.
        resource_tracker.ensure_running()
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


class Question(Generic[R]):
    """Something to be done beside, as things stood when it was put; it is sent once, now or later.

    Without a second process the work is done here when its result is asked for.
    """

    def __init__(
        self, again: Callable[[], R], beside: SecondProcess | None = None, number: int = 0, said: bytes = b""
    ) -> None:
        self._again, self._beside = again, beside
        self._number, self._said = number, said
        self._gate = threading.Lock()

    def send(self) -> None:
        """Have it done from now on; what was sent already is not sent again."""
        with self._gate:
            said, self._said = self._said, b""
        if said and self._beside is not None:
            self._beside.send(said)

    def result(self) -> R:
        """Return what has come of it; work that was lost with the process is done here.

        Raises what the work raises.
        """
        answer = self.answer()
        return self._again() if answer is None else answer[0]

    def answer(self) -> tuple[R] | None:
        """Return what has come back, as the only entry; None where nothing will."""
        if self._beside is None:
            return None
        self.send()
        answer = self._beside.answer(self._number)
        return None if answer is None else (pickle.loads(answer),)


class SecondProcess:
    """One process that does what it is asked, one thing after the other.

    Parameters
    ----------
    preload
        Modules that it loads while nothing is asked.
    patience_s
        After so long without a sign of life it counts as stopped.
    """

    def __init__(self, preload: Sequence[str] = (), patience_s: float = PATIENCE_S) -> None:
        self.forked = may_fork()
        """Whether it began with all that was loaded here."""
        context: Any = get_context("fork" if self.forked else "spawn")
        self._line, there = context.Pipe()
        self._process = context.Process(target=_serve, args=(there, tuple(preload)), daemon=True)
        with interrupts_held_back(self.forked):
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
        question = self.put(work, *args, **kwargs)
        question.send()
        return question.result

    def put(self, work: Callable[..., R], *args: object, **kwargs: object) -> Question[R]:
        """Word a question as things stand now; nothing is done before it is sent."""
        number = self._asked
        self._asked += 1
        said = pickle.dumps((number, work, args, kwargs), pickle.HIGHEST_PROTOCOL)
        return Question(lambda: work(*args, **kwargs), self, number, said)

    def end(self) -> None:
        """End the process, whatever it does; what is still being sent to it breaks off first."""
        self._process.kill()
        self._process.join()
        with self._sending:
            self._line.close()

    def send(self, question: bytes) -> None:
        """Send what `put` has worded."""
        # From a thread: the other end may not listen yet, and what is sent may be long.
        threading.Thread(target=self._send, args=(question,), daemon=True).start()

    def _send(self, question: bytes) -> None:
        # One at a time: long ones go over in pieces.
        with self._sending, suppress(OSError, ValueError):
            self._line.send_bytes(question)

    def answer(self, number: int) -> bytes | None:
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
def second_process(wanted: Sequence[str] = (), preload: Sequence[str] = ()) -> Iterator[SecondProcess | None]:
    """Give a second process; None where there is only one processor.

    Parameters
    ----------
    wanted
        Modules that both want: loaded here before it is forked, or there when it is spawned.
    preload
        Modules that it alone loads while nothing is asked.
    """
    if processors() < 2:
        yield None
        return
    if may_fork():
        for name in wanted:
            import_module(name)
    process = SecondProcess((*wanted, *preload))
    try:
        yield process
    finally:
        process.end()


def put(beside: SecondProcess | None, work: Callable[P, R], *args: P.args, **kwargs: P.kwargs) -> Question[R]:
    """Word a question for a second process, where there is one, as things stand now."""
    if beside is None:
        return Question(lambda: work(*args, **kwargs))
    return beside.put(work, *args, **kwargs)


def begin(
    beside: SecondProcess | None, work: Callable[P, R], *args: P.args, **kwargs: P.kwargs
) -> Callable[[], R]:
    """Have something done beside, where there is a second process; call what is returned for its result.

    Without a second process the work is done here when its result is asked for.
    """
    if beside is None:
        return lambda: work(*args, **kwargs)
    return beside.begin(work, *args, **kwargs)


def shared_out(
    beside: SecondProcess | None,
    things: Sequence[T],
    here: Callable[[T], R],
    there: Callable[[tuple[T, ...]], Question[list[R]]],
    given_out: Callable[[], None],
) -> list[R]:
    """Return what comes of each thing: the first are done here, the last beside, until they meet.

    Parameters
    ----------
    here
        Does one thing.
    there
        Words the question about some; called in a thread of its own.
    given_out
        Called once, maybe in that thread, when no more will be asked: the second process is free for other
        things.
    """
    left = deque(enumerate(things))
    done: dict[int, R] = {}
    gate = threading.Lock()
    failed: list[Exception] = []

    def next_few() -> list[tuple[int, T]]:
        with gate:
            return [left.pop() for _ in range(-(-len(left) // _PARTS))]

    def ask() -> None:
        try:
            while some := next_few():
                answer = there(tuple(thing for _, thing in some)).answer()
                with gate:
                    if answer is None:  # it was lost with the process, and no other is to be had
                        left.extend(reversed(some))
                        break
                    done.update(zip((number for number, _ in some), answer[0], strict=True))
        except Exception as error:  # told where the results are asked for
            failed.append(error)
        given_out()

    asking = threading.Thread(target=ask, daemon=True)
    shared = beside is not None and len(things) > 1

    def work_off() -> None:
        while left:
            with gate:
                if not left:
                    return
                number, thing = left.popleft()
            if shared and asking.ident is None:
                asking.start()
            done[number] = here(thing)

    work_off()
    if shared:
        asking.join()
        work_off()
    else:
        given_out()
    if failed:
        raise failed[0]
    return [done[number] for number in range(len(things))]


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
    to_load = deque(preload)
    while True:
        try:
            while to_load and not line.poll():
                import_module(to_load.popleft())
            number, work, args, kwargs = pickle.loads(line.recv_bytes())
        except (EOFError, OSError):
            return
        try:
            answer = pickle.dumps(work(*args, **kwargs), pickle.HIGHEST_PROTOCOL)
        except Exception:
            answer = None  # done again by who asked, so that it fails there
        message = pickle.dumps((number, answer), pickle.HIGHEST_PROTOCOL)
        # From a thread: a long answer lies in the line until it is asked for, and the next thing can be done.
        threading.Thread(target=send, args=(message,), daemon=True).start()
