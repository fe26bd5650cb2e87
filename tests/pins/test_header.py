"""The C header: right constants, and safe whatever names the user gives."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.files.catalogue import read_catalogue
from fitplan.model.part import Pin
from fitplan.model.pins_used import PinUse
from fitplan.model.reserved_words import RESERVED_WORDS
from fitplan.pins.header import identifier, pin_header
from fitplan.pins.matching import match_pins
from tests.circuit.sample_parts import board, shuttle

HOSTILE = [
    "*/ int main(void){return 1;} /*", "a\\", "??/", "line\nbreak", "\u202ereversed", "😀", "", "1st lamp",
    "int", "x" * 10_000, '"quote"', "#include <stdio.h>", "=1+1", "<script>", "//", "/", "*", "??!??", "\x00",
]  # fmt: skip


COMPILERS = [
    ("gcc", "-std=c99"), ("gcc", "-std=c17"), ("g++", "-std=c++11"), ("g++", "-std=c++20"),
    ("clang-14", "-std=c17"), ("clang++-14", "-std=c++20"), ("clang", "-std=c17"),
    ("avr-g++", "-std=gnu++11"),
]  # fmt: skip


def compiled(header: str, folder: Path, compiler: str, standard: str) -> subprocess.CompletedProcess[str]:
    """Compile every constant of a header, included twice, as a sketch would use it."""
    (folder / "pins.h").write_text(header, encoding="utf-8")
    names = re.findall(r"^#define (\w+) ", header, flags=re.MULTILINE)
    uses = "\n".join(f"int use_{i}(void) {{ return (int)({name}); }}" for i, name in enumerate(names))
    values = set(re.findall(r"^#define \w+ ([A-Za-z_]\w*)", header, flags=re.MULTILINE)) - {"TRAIN_PINS_H"}
    boards = "".join(f"static const int {name} = {i};\n" for i, name in enumerate(sorted(values)))
    declared = "\n".join(f"int use_{i}(void);" for i in range(len(names)))
    source = folder / ("sketch.cpp" if "++" in compiler else "sketch.c")
    source.write_text(f'{boards}#include "pins.h"\n#include "pins.h"\n{declared}\n{uses}\n', encoding="utf-8")
    strict = ["-Wall", "-Wextra", "-Werror", "-pedantic-errors", "-c", source.name]
    command = [compiler, standard, *(["-trigraphs"] if standard != "-std=c++20" else []), *strict]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)


def test_header_of_a_shuttle_is_golden() -> None:
    """The header of a known train is the expected text, to the character."""
    match = match_pins(shuttle(board(plain=5)), {})
    header = pin_header(match.uses, "Harbour line", [("trip distance mm", 182.0, "stop at this reading")])
    assert header == (
        "/* Pin map: Harbour line */\n"
        "/* Made by fitplan from the train file; changes here are lost. */\n"
        "#ifndef TRAIN_PINS_H\n"
        "#define TRAIN_PINS_H\n"
        "\n"
        "/* brain */\n"
        "#define TRAIN_PIN_FRONT_TRIGGER 2 /* D2: output for front eyes.TRIG */\n"
        "#define TRAIN_PIN_FRONT_ECHO 3 /* D3: input for front eyes.ECHO */\n"
        "#define TRAIN_PIN_REAR_TRIGGER 4 /* D4: output for rear eyes.TRIG */\n"
        "#define TRAIN_PIN_REAR_ECHO 5 /* D5: input for rear eyes.ECHO */\n"
        "#define TRAIN_PIN_EMITTER 7 /* D7: pwm for emitter.IN */\n"
        "#define TRAIN_PIN_LAMP 6 /* D6: output for lamp.IN */\n"
        "\n"
        "#define TRAIN_TRIP_DISTANCE_MM 182 /* stop at this reading */\n"
        "\n"
        "#endif /* TRAIN_PINS_H */\n"
    )


@pytest.mark.parametrize(("compiler", "standard"), COMPILERS)
def test_hostile_names_compile(tmp_path: Path, compiler: str, standard: str) -> None:
    """Hostile names, words of the language and other scripts: no warning, one constant for each use."""
    if shutil.which(compiler) is None:
        pytest.skip(f"no {compiler} to compile the header with")
    uses = [PinUse(name or "c", "D5", name or "n", name, name) for name in HOSTILE]
    uses += [PinUse("c", name, f"net {i}", "x", "y") for i, name in enumerate(("A4", "A5", "7", "1A", "_x"))]
    uses += [PinUse("c", word, f"word {word}", "x", "y") for word in sorted(RESERVED_WORDS)]
    uses += [PinUse("c", "Датчик", "Свет", "x", "y", "PIN_LED"), PinUse("c", "前", "前照灯", "x", "y")]
    header = pin_header(uses, HOSTILE[0])
    result = compiled(header, tmp_path, compiler, standard)
    assert result.returncode == 0, result.stderr
    assert len(re.findall(r"^#define \w+ ", header, flags=re.MULTILINE)) == len(uses)


def test_pins_are_written_as_programs_call_them() -> None:
    """The part says so, or the label does; words of the language stand behind PIN_."""
    at = {"at": (0.0, 0.0, 0.0), "exit": "+z", "role": "signal"}
    for label, program, called in (
        ("D7", "", "7"), ("07", "", "7"), ("D", "", "D"), ("A0", "", "A0"),
        ("D4", "2", "2"), ("D4", "D4", "D4"),
    ):  # fmt: skip
        assert Pin(label, program=program, **at).in_program == called  # type: ignore[arg-type]
    lines = pin_header(
        [
            PinUse("c", label, f"n{i}", "x", "y", called)
            for i, (label, called) in enumerate((("D4", "2"), ("X", "switch"), ("GP-4", ""), ("D7", "007")))
        ]
    ).split("\n")
    assert [line.split()[2] for line in lines if line.startswith("#define TRAIN_PIN_")] == [
        "2", "PIN_switch", "GP_4", "7",
    ]  # fmt: skip


def test_a_controller_with_labels_that_are_no_port_numbers() -> None:
    """The catalogue says of it what programs call its pins, and no part has two pins of one name there."""
    small = read_catalogue()["controller-wireless-small"]
    assert {pin.in_program for pin in small.pins if pin.name == "D4"} == {"D4"}
    for part in read_catalogue().values():
        if part.family == "controller":
            called = [pin.in_program for pin in part.pins if pin.role == "signal"]
            assert len(called) == len(set(called)), part.id


@given(st.lists(st.text(max_size=60), min_size=1, max_size=8))
@settings(max_examples=100, deadline=None)
def test_every_line_is_a_known_form(names: list[str]) -> None:
    """Whatever the names, every line is blank, one whole comment, a guard or one define with one comment."""
    header = pin_header([PinUse(n, n, n or "n", n, n) for n in names], names[0])
    form = re.compile(
        r"|/\* [ -~]* \*/|#ifndef TRAIN_PINS_H|#define TRAIN_PINS_H|#endif /\* TRAIN_PINS_H \*/"
        r"|#define [A-Z][A-Z0-9_]* \w+ /\* [ -~]* \*/"
    )
    for line in header.split("\n"):
        assert form.fullmatch(line), line
        inner = line[line.find("/*") + 2 : line.rfind("*/")] if "/*" in line else ""
        assert "*/" not in inner
        assert "/*" not in inner
    defined = re.findall(r"^#define (\w+) ", header, flags=re.MULTILINE)
    assert len(defined) == len(set(defined))


def test_identifiers_are_plain() -> None:
    """Accents are dropped, other scripts written in Latin letters; what is left becomes one underscore."""
    assert identifier("TRAIN_PIN", "Laternen-Köpfe 2") == "TRAIN_PIN_LATERNEN_KOPFE_2"
    assert identifier("TRAIN_PIN", "шасси, свет") == "TRAIN_PIN_SHASSI_SVET"
    assert identifier("TRAIN_PIN", "前照灯") == "TRAIN_PIN_QIANZHAODENG"
    assert identifier("TRAIN_PIN", "ζώνη") == "TRAIN_PIN_ZONI"
    assert identifier("TRAIN_PIN", "\u202e\u200b") == "TRAIN_PIN_UNNAMED"
