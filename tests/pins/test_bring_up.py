"""The test program compiles without a warning and calls nothing but what its stub gives."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from fitplan.model.bring_up import bring_up_tests
from fitplan.model.plan import Plan
from fitplan.pins.bring_up import bring_up_program
from fitplan.pins.header import pin_header
from fitplan.report.lists.bring_up_list import bring_up_list
from tests.conftest import Planned
from tests.report.sample import sample_plan

STUB = """
#define HIGH 1
#define LOW 0
#define INPUT 0
#define OUTPUT 1
#define INPUT_PULLUP 2
void pinMode(int, int); void digitalWrite(int, int); int digitalRead(int); int analogRead(int);
void delay(unsigned long); void delayMicroseconds(unsigned int);
unsigned long pulseIn(int, int, unsigned long); void tone(int, unsigned int); void noTone(int);
struct Line { void begin(long); void println(const char *); void println(int); void println(long); };
extern Line Serial;
#include "program.cpp"
"""
"""What the usual toolchains give every program (common practice, no source)."""
LABELS = "".join(f"extern const int {kind}{number};\n" for kind in "AD" for number in range(32))
"""Labels that a board's own headers define."""


def _compiled(plan: Plan, folder: Path) -> None:
    tests = bring_up_tests(plan.built)
    assert tests
    (folder / "train_pins.h").write_text(pin_header(plan.built.pin_map, plan.built.train.name))
    for controller in {test.controller for test in tests}:
        own = [test for test in tests if test.controller == controller]
        text = bring_up_program(plan.built.pin_map, own, controller, "train_pins.h", plan.built.train.name)
        assert text.count("#include") == 1
        (folder / "program.cpp").write_text(text)
        (folder / "stub.cpp").write_text(LABELS + STUB)
        command = ["g++", "-std=c++11", "-Wall", "-Wextra", "-Werror", "-fsyntax-only", "stub.cpp"]
        done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr


@pytest.mark.skipif(shutil.which("g++") is None, reason="no g++ here to compile the test program with")
@pytest.mark.parametrize("tag", ["", '*/ " \\ ??/ %d', "\u6c34"])
def test_the_program_compiles_whatever_names_hold(tag: str, tmp_path: Path) -> None:
    """All warnings are errors; names with comment ends, quotation marks and other scripts do no harm."""
    _compiled(sample_plan(tag), tmp_path)


@pytest.mark.skipif(shutil.which("g++") is None, reason="no g++ here to compile the test program with")
@pytest.mark.parametrize("name", ["harbour-line", "market-tram"])
def test_the_program_of_an_example_compiles(planned: Planned, name: str, tmp_path: Path) -> None:
    """Lamps, rangers, an emitter, a horn; motors through a driver."""
    _compiled(planned(name), tmp_path)


def test_every_wired_pin_is_tried_once(harbour_plan: Plan) -> None:
    """Each pin with a net is in one test, and each test is a line of the checklist."""
    tests = bring_up_tests(harbour_plan.built)
    tried = [use.pin for test in tests for use in (*test.uses, *test.held)]
    assert sorted(tried) == sorted(use.pin for use in harbour_plan.built.pin_map if use.net)
    assert len(bring_up_list(harbour_plan).rows) == len(tests)
