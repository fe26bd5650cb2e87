"""The C header: right constants, and safe whatever names the user gives."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.model.plan import PinUse
from fitplan.pins.header import identifier, pin_header
from fitplan.pins.matching import match_pins
from tests.circuit.sample_parts import board, shuttle

HOSTILE = [
    "*/ int main(void){return 1;} /*", "a\\", "??/", "line\nbreak", "\u202ereversed", "😀", "", "1st lamp",
    "int", "x" * 10_000, '"quote"', "#include <stdio.h>", "=1+1", "<script>", "//", "/", "*", "??!??", "\x00",
]  # fmt: skip


def compiled(header: str, folder: Path) -> subprocess.CompletedProcess[str]:
    (folder / "pins.h").write_text(header, encoding="utf-8")
    names = re.findall(r"^#define (\w+) ", header, flags=re.MULTILINE)
    uses = "\n".join(f"int use_{i}(void) {{ return (int)({name}); }}" for i, name in enumerate(names))
    (folder / "sketch.c").write_text(
        f'enum {{ A4 = 18, A5 = 19 }};\n#include "pins.h"\n#include "pins.h"\n{uses}\n', encoding="utf-8"
    )
    command = ["gcc", "-std=c11", "-Wall", "-Wextra", "-Werror", "-trigraphs", "-c", "sketch.c"]
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


@pytest.mark.skipif(shutil.which("gcc") is None, reason="no gcc to compile the header with")
def test_hostile_names_compile(tmp_path: Path) -> None:
    """A header full of hostile names compiles without a warning and defines one constant for each use."""
    uses = [PinUse(name or "c", "D5", name or "n", name, name) for name in HOSTILE]
    uses += [PinUse("c", name or "A4", f"net {i}", "x", "y") for i, name in enumerate(("A4", "A5", "7"))]
    header = pin_header(uses, HOSTILE[0])
    result = compiled(header, tmp_path)
    assert result.returncode == 0, result.stderr
    assert len(re.findall(r"^#define \w+ ", header, flags=re.MULTILINE)) == len(uses)


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
    """Accents are dropped, everything else that C does not know becomes one underscore."""
    assert identifier("TRAIN_PIN", "Laternen-Köpfe 2") == "TRAIN_PIN_LATERNEN_KOPFE_2"
    assert identifier("TRAIN_PIN", "😀") == "TRAIN_PIN_UNNAMED"
