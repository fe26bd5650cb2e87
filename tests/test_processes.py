"""Work done in other processes, and what happens when one of them, or the first, is killed or stopped."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import pytest

from fitplan.files.plan_json import plan_to_json
from fitplan.planning.run import plan_train
from fitplan.planning.sweep import sweep
from fitplan.processes import Question, SecondProcess, begin, put, second_process, shared_out
from tests.conftest import Planned
from tests.packing.small_trains import block, hollow, train_of

KILL = getattr(signal, "SIGKILL", signal.SIGTERM)
GONE_S = 120.0
"""So long a process may take to end on a busy machine."""

needs_signals = pytest.mark.skipif(not hasattr(signal, "SIGSTOP"), reason="processes cannot be stopped here")


def die_elsewhere(home: int) -> int:
    """Return the process's number, but die in any other process than the one named."""
    if os.getpid() != home:
        os.kill(os.getpid(), KILL)
    return os.getpid()


def where(told: bytes) -> tuple[int, int]:
    """Return the process's number, and how much it was told."""
    return os.getpid(), len(told)


def fail() -> None:
    """Raise what a caller must see."""
    raise LookupError("seen")


def sleep_and_tell(number: str) -> None:
    """Write the process's number into a file and be busy for long."""
    Path(number).write_text(str(os.getpid()), encoding="ascii")
    until = time.monotonic() + 600
    while time.monotonic() < until:
        sum(range(1000))


def waited_for(what: Callable[[], bool]) -> bool:
    """Return whether something comes true in time."""
    until = time.monotonic() + GONE_S
    while time.monotonic() < until:
        if what():
            return True
        time.sleep(0.05)
    return False


def runs(pid: int) -> bool:
    """Return whether a process is there and no mere entry of one that has ended."""
    try:
        os.kill(pid, 0)
    except OSError:
        return False
    with suppress(OSError):
        return Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()[0] != "Z"
    return True


def test_without_a_second_process_the_work_is_done_here() -> None:
    """The result is worked out in this process when it is asked for."""
    assert begin(None, os.getpid)() == os.getpid()


def test_work_is_done_in_the_second_process_and_again_here_when_that_dies() -> None:
    """A result comes from the other process; of a process that was killed the work is done here."""
    second = SecondProcess()
    try:
        assert second.begin(os.getpid)() == second.pid
        assert second.begin(die_elsewhere, os.getpid())() == os.getpid()
        # What is asked of a process that is gone is done here as well.
        assert second.begin(os.getpid)() == os.getpid()
    finally:
        second.end()


FIRST = """
import sys
import threading
from fitplan import processes
from tests.test_processes import loaded, waited_for
if __name__ == "__main__":
    if sys.argv[1] == "two threads":
        threading.Thread(target=threading.Event().wait, daemon=True).start()
    processes.processors = lambda: 2
    with processes.second_process(("colorsys",), ("sched",)) as beside:
        assert waited_for(lambda: beside.begin(loaded, "colorsys", "sched")())
        print(beside.forked, loaded("colorsys"), loaded("sched"))
"""


def loaded(*names: str) -> bool:
    """Return whether this process has loaded some modules."""
    return all(name in sys.modules for name in names)


@pytest.mark.skipif(sys.platform != "linux", reason="nothing is forked here")
@pytest.mark.parametrize("threads", ["one thread", "two threads"])
def test_a_process_is_forked_with_all_that_is_loaded_while_there_is_one_thread(threads: str) -> None:
    """What both want is loaded here then; amid threads the second is spawned and loads it by itself."""
    # As the command line begins: left to itself numpy's matrix library starts a thread for each processor.
    environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}
    ran = subprocess.run(
        [sys.executable, "-c", FIRST, threads],
        capture_output=True,
        text=True,
        check=True,
        timeout=GONE_S,
        env=environment,
    )
    forked = str(threads == "one thread")
    assert ran.stdout.split() == [forked, forked, "False"]


def test_long_questions_do_not_run_into_each_other() -> None:
    """Eight of some megabytes, begun at once, are all answered over there; ending amid them is quiet."""
    sizes = [4_000_000 + number for number in range(8)]
    beside = SecondProcess()
    results = [beside.begin(where, bytes(size)) for size in sizes]
    assert [result() for result in results] == [(beside.pid, size) for size in sizes]
    for size in sizes:
        beside.begin(where, bytes(size))
    beside.end()


def test_what_work_raises_is_raised_here() -> None:
    """A mistake is not lost in the other process."""
    second = SecondProcess()
    try:
        with pytest.raises(LookupError, match="seen"):
            second.begin(fail)()
    finally:
        second.end()


@needs_signals
def pids(numbers: tuple[int, ...]) -> list[tuple[int, int]]:
    """Return each number with that of the process."""
    return [(number, os.getpid()) for number in numbers]


def test_what_is_shared_out_is_done_once_each_from_both_ends() -> None:
    """The first things here, the last beside, results in order; it is told once that no more is given out."""
    beside, told = SecondProcess(), list[int]()
    try:

        def here(number: int) -> tuple[int, int]:
            time.sleep(0.2)
            return number, os.getpid()

        found = shared_out(
            beside, range(20), here, lambda some: put(beside, pids, some), lambda: told.append(1)
        )
        where_each = [pid for _, pid in found]
        assert [number for number, _ in found] == list(range(20))
        assert set(where_each) == {os.getpid(), beside.pid}
        assert where_each == sorted(where_each, key=lambda pid: pid != os.getpid())
        assert told == [1]
    finally:
        beside.end()


def test_what_is_shared_out_is_done_here_without_a_second_process_and_when_it_dies() -> None:
    """Nothing is lost with a process, one thing alone is not sent, and what fails here is seen."""
    told: list[int] = []

    def here(number: int) -> tuple[int, int]:
        return number, os.getpid()

    def there(some: tuple[int, ...]) -> Question[list[tuple[int, int]]]:
        return put(beside, pids, some)

    beside = SecondProcess()
    try:
        assert shared_out(None, range(3), here, there, lambda: told.append(0)) == pids((0, 1, 2))
        assert shared_out(beside, [7], here, there, lambda: told.append(1)) == pids((7,))
        assert shared_out(beside, [], here, there, lambda: told.append(2)) == []
        os.kill(beside.pid, KILL)
        assert shared_out(beside, range(9), here, there, lambda: told.append(3)) == pids(tuple(range(9)))
        with pytest.raises(LookupError):
            shared_out(None, [1], lambda number: fail(), there, lambda: None)
    finally:
        beside.end()
    assert told == [0, 1, 2, 3]


def marked(file: str) -> bytes:
    """Leave a mark that this was begun, and return much."""
    Path(file).touch()
    return bytes(20_000_000)


def test_a_long_answer_that_nobody_takes_yet_keeps_nothing_waiting(tmp_path: Path) -> None:
    """What is asked next is done while the first answer, longer than a line holds, is still to be taken."""
    marks = [tmp_path / "first", tmp_path / "second"]
    beside = SecondProcess()
    try:
        first, second = (beside.begin(marked, str(mark)) for mark in marks)
        assert waited_for(marks[1].exists)
        assert [len(first()), len(second())] == [20_000_000] * 2
    finally:
        beside.end()


def test_a_question_is_sent_once_and_when_it_is_to_be() -> None:
    """What is put is done when it is sent, or when its result is asked for, and as things stood when put."""
    beside = SecondProcess()
    try:
        things = [1]
        late, soon = beside.put(sum, things), beside.put(sum, things)
        things.append(5)
        soon.send()
        soon.send()
        assert (soon.result(), late.result()) == (1, 1)
        assert put(None, sum, things).answer() is None
        assert put(None, sum, things).result() == 6
    finally:
        beside.end()


def test_a_second_process_that_is_stopped_is_not_waited_for() -> None:
    """Without a sign of life its work is done here, and it is ended."""
    second = SecondProcess(patience_s=2.0)
    try:
        assert second.begin(os.getpid)() == second.pid
        os.kill(second.pid, signal.SIGSTOP)
        assert second.begin(os.getpid)() == os.getpid()
        assert waited_for(lambda: not runs(second.pid))
    finally:
        second.end()


def test_work_that_takes_longer_than_the_patience_is_waited_for() -> None:
    """A busy process gives signs of life: slow is not stopped."""
    second = SecondProcess(patience_s=3.0)
    try:
        second.begin(time.sleep, 5.0)()
        assert second.begin(os.getpid)() == second.pid
    finally:
        second.end()


@pytest.mark.parametrize("how", ["killed", "ended"])
def test_the_second_process_dies_with_the_first(how: str, tmp_path: Path) -> None:
    """Killed without a chance to say so, or at its end, the first process leaves nobody behind."""
    number = tmp_path / "pid"
    script = (
        "import sys, time\n"
        "from fitplan.processes import SecondProcess\n"
        "from tests.test_processes import sleep_and_tell\n"
        "if __name__ == '__main__':\n"
        "    second = SecondProcess()\n"
        "    second.begin(sleep_and_tell, sys.argv[1])\n"
        "    sys.stdin.readline()\n"
    )
    first = subprocess.Popen([sys.executable, "-c", script, str(number)], stdin=subprocess.PIPE)
    try:
        assert waited_for(lambda: number.exists() and number.read_text(encoding="ascii") != "")
        second = int(number.read_text(encoding="ascii"))
        assert runs(second)
        if how == "killed":
            first.kill()
        else:
            assert first.stdin is not None
            first.stdin.close()
        assert waited_for(lambda: not runs(second))
    finally:
        first.kill()
        first.communicate()


@pytest.mark.skipif(not Path("/proc").is_dir(), reason="children are found in /proc")
def test_workers_of_a_sweep_die_with_the_first(tmp_path: Path) -> None:
    """Killed in the middle of a sweep, the first process leaves no worker behind."""
    journal = tmp_path / "answers.jsonl"
    command = [sys.executable, "-m", "fitplan", "sweep", "harbour-line", "--parts", "-", "-o", str(journal)]
    first = subprocess.Popen([*command, "--processes", "2"], stdout=subprocess.DEVNULL)
    try:
        assert waited_for(journal.exists)
        children = [pid for pid in children_of(first.pid) if runs(pid)]
        assert len(children) >= 2
        first.kill()
        first.wait()
        assert waited_for(lambda: not any(runs(pid) for pid in children))
    finally:
        first.kill()
        first.wait()


def children_of(pid: int) -> list[int]:
    """Return the processes that a process has started."""
    found = []
    for entry in Path("/proc").iterdir():
        with suppress(OSError, ValueError, IndexError):
            if int((entry / "stat").read_text().rpartition(")")[2].split()[1]) == pid:
                found.append(int(entry.name))
    return found


def test_a_sweep_whose_workers_are_killed_has_all_its_rows() -> None:
    """What a worker took with it is asked again here."""
    train = train_of((hollow("short", 8, 6, 9), hollow("long", 12, 6, 9)), ())
    parts = [block(f"b{size}", (float(size), 20.0, 10.0)) for size in (20, 60, 70)]
    told: list[float] = []

    def progress(stage: str, share: float) -> None:
        told.append(share)
        if len(told) == 2 and Path("/proc").is_dir():
            for pid in children_of(os.getpid()):
                command = Path(f"/proc/{pid}/cmdline").read_bytes()
                if b"spawn_main" in command:
                    os.kill(pid, KILL)

    rows = sweep(train, parts, processes=2, progress=progress)
    assert rows == sweep(train, parts, processes=1)


def test_the_plan_is_the_same_again_with_a_second_process_and_with_one_that_is_killed(
    planned: Planned,
) -> None:
    """Planned before in another process alone, to the byte; with one processor, again in one process."""
    alone = planned("clay-run")
    with second_process() as beside:
        made = plan_train(alone.built.train, beside=beside)
    assert plan_to_json(made) == plan_to_json(alone)
    with second_process() as beside:
        if beside is None:
            return
        os.kill(beside.pid, KILL)
        made = plan_train(alone.built.train, beside=beside)
    assert plan_to_json(made) == plan_to_json(alone)


CHILD = """
import signal
import sys
from fitplan.processes import second_process
if __name__ == "__main__":
    # A shell that starts tests in the background lets them ignore interrupts.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    with second_process():
        try:
            print("begun", flush=True)
            sys.stdin.readline()
        except KeyboardInterrupt:
            print("stopped", flush=True)
"""


@pytest.mark.skipif(not hasattr(signal, "pthread_sigmask"), reason="no masks for signals on this system")
def test_an_interrupt_of_all_processes_is_told_by_the_first_alone(tmp_path: Path) -> None:
    """A second process that is interrupted before it has begun says nothing of its own."""
    program = tmp_path / "first.py"
    program.write_text(CHILD, "utf-8")
    process = subprocess.Popen(
        [sys.executable, str(program)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        text=True, start_new_session=True,
    )  # fmt: skip
    assert process.stdout is not None
    assert process.stdout.readline() == "begun\n"
    os.killpg(process.pid, signal.SIGINT)
    said, complained = process.communicate(timeout=60)
    assert (said, complained) == ("stopped\n", "")
