"""A small program that tries what is on a controller's pins, in plain C++ with the pin header alone.

It calls what the usual hobby toolchains give every program (`pinMode`, `digitalWrite`, `delay`, `Serial` …,
common practice, no source) and no library. It is a test and no control program: a motor moves for a third of
a second.
"""

from __future__ import annotations

from collections.abc import Sequence

from fitplan.model.bring_up import BringUpTest
from fitplan.model.pins_used import PinUse
from fitplan.pins.header import comment_text, named_uses

_HELPERS = """\
static void say(const char *text) {
  Serial.println(text);
}
"""
_RANGER = """
/* Distance in mm by the time of an echo at 343 m/s (20 degrees); -1 when none comes within 30 ms. */
static long echo_mm(int trigger, int echo) {
  digitalWrite(trigger, LOW);
  delayMicroseconds(4);
  digitalWrite(trigger, HIGH);
  delayMicroseconds(12);
  digitalWrite(trigger, LOW);
  const unsigned long time_us = pulseIn(echo, HIGH, 30000UL);
  return time_us == 0 ? -1L : static_cast<long>(time_us * 343UL / 2000UL);
}
"""
_CARRIER = """
/* A carrier of about 38 kHz for a second, made by hand: good enough for a camera to see. What sends
   commands is a code library for the receiver's own signals: it goes here. */
static void carrier(int pin) {
  for (unsigned long count = 0; count < 38000UL; ++count) {
    digitalWrite(pin, HIGH);
    delayMicroseconds(9);
    digitalWrite(pin, LOW);
    delayMicroseconds(13);
  }
}
"""
_BUS = """
/* The shared bus by hand: a line is let go, or pulled to ground, never driven high. */
static void line(int pin, bool high) {
  if (high) {
    pinMode(pin, INPUT_PULLUP);
  } else {
    digitalWrite(pin, LOW);
    pinMode(pin, OUTPUT);
  }
  delayMicroseconds(8);
}

/* Whether something answers at an address of seven bits. */
static bool answers(int clock, int data, int address) {
  line(data, true);
  line(clock, true);
  line(data, false);
  line(clock, false);
  for (int bit = 7; bit >= 0; --bit) {
    line(data, (((address << 1) >> bit) & 1) != 0);
    line(clock, true);
    line(clock, false);
  }
  line(data, true);
  line(clock, true);
  const bool there = digitalRead(data) == LOW;
  line(clock, false);
  line(data, false);
  line(clock, true);
  line(data, true);
  return there;
}
"""


def bring_up_program(
    uses: Sequence[PinUse], tests: Sequence[BringUpTest], controller: str, header: str, title: str = ""
) -> str:
    """Return the test program of one controller.

    Parameters
    ----------
    uses
        All pins of the plan, as the header names them.
    tests
        Those of this controller, in order.
    header
        Name of the header's file.
    """
    names = dict(named_uses(uses))
    kinds = {test.kind for test in tests}
    lines = [
        f"/* First run of {comment_text(controller)} in {comment_text(title)}: each thing once,",
        "   the result on the serial line at 9600 baud. Wheels off the table, a hand on the switch;",
        "   smoke, smell or warmth: switch off.",
        "   Made by fitplan from the train file; it drives no train. */",
        f'#include "{header}"',
        "",
        _HELPERS.rstrip("\n"),
    ]
    for kind, helper in (("ranger", _RANGER), ("carrier", _CARRIER), ("bus", _BUS)):
        if kind in kinds:
            lines.append(helper.rstrip("\n"))
    lines += ["", "void setup() {", "  Serial.begin(9600);"]
    for test in tests:
        lines += [f"  {one}" for one in _setup(test, names)]
    lines += ["}", "", "void loop() {"]
    for number, test in enumerate(tests, 1):
        lines.append(f"  /* {number}. {comment_text(test.serves)}: {comment_text(test.see)} */")
        lines.append(f'  say("{number}. {test.kind}: {_plain(test.serves)}");')
        lines += [f"  {one}" for one in _try(test, names)]
        lines += ["  delay(1000);", ""]
    lines += ['  say("All tried. It begins again in ten seconds.");', "  delay(10000);", "}", ""]
    return "\n".join(lines)


def _setup(test: BringUpTest, names: dict[PinUse, str]) -> list[str]:
    pins = [names[use] for use in test.uses]
    match test.kind:
        case "contact":
            return [f"pinMode({pins[0]}, INPUT_PULLUP);"]
        case "volts":
            return []
        case "ranger":
            return [f"pinMode({pins[0]}, OUTPUT);", f"pinMode({pins[1]}, INPUT);"]
        case "bus":
            return [f"pinMode({names[use]}, OUTPUT);" for use in test.held]
        case _:
            return [f"digitalWrite({pins[0]}, LOW);", f"pinMode({pins[0]}, OUTPUT);"]


def _try(test: BringUpTest, names: dict[PinUse, str]) -> list[str]:
    pins = [names[use] for use in test.uses]
    match test.kind:
        case "contact":
            return [
                "for (int count = 0; count < 20; ++count) {",
                f"  Serial.println(digitalRead({pins[0]}));",
                "  delay(250);",
                "}",
            ]
        case "volts":
            return [f"Serial.println(analogRead({pins[0]}));"]
        case "ranger":
            return [
                "for (int count = 0; count < 10; ++count) {",
                f"  Serial.println(echo_mm({pins[0]}, {pins[1]}));",
                "  delay(250);",
                "}",
            ]
        case "tone":
            return [f"tone({pins[0]}, 880);", "delay(300);", f"noTone({pins[0]});"]
        case "carrier":
            return [f"carrier({pins[0]});"]
        case "motor":
            return [f"digitalWrite({pins[0]}, HIGH);", "delay(300);", f"digitalWrite({pins[0]}, LOW);"]
        case "bus":
            found: list[str] = []
            for use in test.held:
                found += [f"digitalWrite({names[use]}, HIGH); /* lets {comment_text(use.serves)} work */"]
            return [
                *found,
                "for (int address = 8; address < 120; ++address) {",
                f"  if (answers({pins[0]}, {pins[1]}, address)) {{",
                "    Serial.println(address);",
                "  }",
                "}",
            ]
        case _:
            return [f"digitalWrite({pins[0]}, HIGH);", "delay(1000);", f"digitalWrite({pins[0]}, LOW);"]


def _plain(text: str) -> str:
    """Return text that is safe between quotation marks: no mark, no backslash, no trigraph."""
    return comment_text(text).replace('"', "'").replace("\\", "/").replace("?", ".").replace("%", " per cent")
