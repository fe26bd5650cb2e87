"""The tool itself: which faults there are, which are drawn, and what follows a change of the sources."""

import ast
import os
from collections import Counter
from pathlib import Path

import pytest

from fitplan import units
from fitplan.kernels.load import _module
from tests.mutation.operators import Mutant, mutants_of, planted
from tests.mutation.planting import plant
from tests.mutation.reach import Reach, moved_lines
from tests.mutation.sample import Sample, drawn, names_of
from tests.mutation.session import ENDLESS, STUCK, SURVIVED, Outcome, _compile_kernels

ROOT = Path(__file__).parents[2]


def _faults(folder: Path, *lines: str) -> list[str]:
    file = folder / "piece.py"
    file.write_text("\n".join(["def asked(a, b, box):", *(f"    {line}" for line in lines), ""]))
    return [f"{one.before} -> {one.after}" for one in mutants_of(folder, file)]


@pytest.mark.parametrize(
    ("line", "faults"),
    [
        ("return a < b", ["a < b -> a <= b", "a < b -> a > b"]),
        ("return [*zip(a, b, strict=True)]", []),
        ("return sorted(a, reverse=True)", ["True -> False"]),
        ("return box[a + 3]", ["a + 3 -> a", "3 -> 4"]),
        ("return box[:, a + 3]", ["a + 3 -> a", "3 -> 4"]),
        ("return a + 3", ["a + 3 -> a - 3", "3 -> 4"]),
        ("return 1e-09", ["1e-09 -> 0.1"]),
        ("return 0.5", ["0.5 -> 1.0"]),
        ("return 60000", ["60000 -> 1"]),
        ("return f'{a + b}'", []),
        ("raise ValueError(a + b)", ["raise ValueError(a + b) -> pass"]),
        ("assert a < b", []),
        ("raise AssertionError('never')", []),
        ("c: list[int] = a", []),
        ("'''Tell of 3 things.'''", []),
        ("return min(a, b)", ["min(a, b) -> max(a, b)"]),
    ],
)
def test_faults_of_a_line(tmp_path: Path, line: str, faults: list[str]) -> None:
    assert _faults(tmp_path, line) == faults


def test_a_planted_file_differs_in_that_place_alone(tmp_path: Path) -> None:
    _faults(tmp_path, "if a < b:", "    return a + 1", "return b")
    plain = ast.dump(ast.parse((tmp_path / "piece.py").read_text()))
    trees = [ast.dump(planted(tmp_path, one)) for one in mutants_of(tmp_path, tmp_path / "piece.py")]
    assert len({plain, *trees}) == 1 + len(trees) == 6


def test_a_fault_is_planted_for_one_process() -> None:
    """7 studs are 56 mm; with a sign turned round they are not, in the split-off process alone."""
    file = ROOT / "fitplan/units.py"
    (fault,) = (one for one in mutants_of(ROOT, file) if one.after.startswith("total -= "))
    pid = os.fork()
    if pid == 0:
        os._exit(int(plant(ROOT, fault) and units.parse_length("7 studs") != 56))
    assert os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) == 1
    assert units.parse_length("7 studs") == 56


def _alike(file: str, count: int) -> list[Mutant]:
    return [Mutant(file, line, "f", line, 0, f"{line}", f"{line + 1}") for line in range(count)]


def test_a_sample_is_spread_over_the_files_and_every_part_of_it_by_chance() -> None:
    every = [*_alike("a", 600), *_alike("b", 300), *_alike("c", 100)]
    sample = drawn(every, "room-1", 40)
    assert Counter(one.file for one in sample) == {"a": 24, "b": 12, "c": 4}
    assert sample == drawn(every, "room-1", 40) != drawn(every, "room-2", 40)
    firsts = Counter(one.file for seed in range(500) for one in drawn(every, f"{seed}", 40)[:4])
    for file, share in (("a", 0.6), ("b", 0.3), ("c", 0.1)):
        assert firsts[file] / 2000 == pytest.approx(share, abs=4 * (share * (1 - share) / 2000) ** 0.5)
    assert len({id(one) for one in drawn(every, "all", 2000)}) == 1000


def test_a_sample_goes_on_where_it_ended(tmp_path: Path) -> None:
    every = _alike("a", 30)
    sample = Sample.of(tmp_path / "kept", every, "1", 5)
    first, second, *_ = sample.open(every)
    sample.keep([Outcome(first, ENDLESS, "one"), Outcome(second, SURVIVED)])
    shifted = [Mutant("a", one.line + 7, "f", one.node, 0, one.before, one.after) for one in every]
    again = Sample.of(tmp_path / "kept", shifted, "1", 5)
    assert [one.line - 7 for one in again.open(shifted)] == [one.line for one in sample.open(every)]
    assert len(again.open(shifted)) == 3
    assert "2 planted of 5 drawn of 30, 1 noticed (50%)" in again.told("room", 1)
    again.forget(lambda outcome: not outcome.noticed)
    assert len(again.open(shifted)) == 4
    again.keep([Outcome(again.open(shifted)[0], STUCK, "two")])
    assert "2 planted of 5 drawn of 30, 1 noticed (50%)" in again.told("room", 1)


def test_faults_that_look_alike_have_names_of_their_own() -> None:
    every = [Mutant("a", 4, "f", 1, 0, "1", "2"), Mutant("a", 4, "f", 9, 0, "1", "2")]
    assert list(names_of(every).values()) == every


def test_lines_are_followed() -> None:
    assert moved_lines("a\nb\nc", "a\nb\nc") == {1: [1], 2: [2], 3: [3]}
    assert moved_lines("a\nb\nc", "a\nnew\nb\nc") == {1: [1, 2], 2: [3], 3: [4]}
    assert moved_lines("a\nb\nc", "a\nx\ny\nc") == {1: [1], 2: [2, 3], 3: [4]}
    assert moved_lines("a\nb\nc", "a\nc") == {1: [1], 3: [2]}


def test_cheap_tests_come_in_turn_of_their_files_and_dear_ones_last() -> None:
    noted = Reach({"a::1": 0.1, "a::2": 0.2, "a::3": 0.3, "b::1": 5.0, "c::1": 0.15})
    noted.lines["room.py", 2] |= {*noted.cost_s, "c::failed"}
    assert noted.tests_of([("room.py", 2)]) == ["a::1", "c::1", "a::2", "a::3", "b::1"]


def test_the_cheapest_case_of_each_function_comes_before_second_ones() -> None:
    noted = Reach({"a::1[x]": 0.1, "a::1[y]": 0.11, "a::2": 0.2, "b::1[x]": 0.15, "b::1[y]": 0.16})
    noted.lines["room.py", 2] |= {*noted.cost_s}
    assert noted.tests_of([("room.py", 2)]) == ["a::1[x]", "b::1[x]", "a::2", "a::1[y]", "b::1[y]"]


def test_reach_outlasts_a_change_of_the_sources_but_not_of_the_tests(tmp_path: Path) -> None:
    for name in ("room.py", "test_one.py", "test_two.py"):
        (tmp_path / name).write_text("first\nsecond\n")
    noted = Reach({"test_one.py::a": 2.0, "test_two.py::b": 1.0})
    noted.lines["room.py", 2] |= {"test_one.py::a", "test_two.py::b", "test_two.py::failed"}
    noted.write(tmp_path / "kept", tmp_path)
    (tmp_path / "room.py").write_text("zeroth\nfirst\nsecond\n")
    found = Reach.read(tmp_path / "kept", tmp_path)
    assert found.tests_of([("room.py", 3)]) == ["test_two.py::b", "test_one.py::a"]
    assert not found.tests_of([("room.py", 2)])
    (tmp_path / "test_two.py").write_text("changed")
    assert Reach.read(tmp_path / "kept", tmp_path).tests_of([("room.py", 3)]) == ["test_one.py::a"]


def test_kernels_are_compiled_beforehand() -> None:
    """A process that is split off finds all nine of them, for either size of memory."""
    _compile_kernels()
    assert _module.cache_info().currsize >= 18
