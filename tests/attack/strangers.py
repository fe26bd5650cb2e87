"""Files of strangers: valid ones with a few things changed, as a careless or a malicious hand would.

Each maker takes a seeded random and returns bytes or a JSON value. The same seed gives the same file.
"""

from __future__ import annotations

import copy
import random
from typing import Any

Json = Any

SCALARS = (
    "0", "-1", "1e9", "1e308", "1e-308", "-0", "nan", "inf", ".inf", "-.nan", "no", "~", "null", "true", "''",
    '""', "999999999999999999999", "0,15", "1_000", "0x1F", "012", "3:25", "40 studs", "1e9 studs",
    "-3 plates",
    "5 miles", "../../../etc/passwd", "/dev/zero", "C:\\x", "a/b/c", "*", "brain.*", "'*'", "+x", "-x-y-z",
    "a" * 2000, "\u202eabc", "u\u0308ber", "über", "\U0001f682", "[]", "{}", "[1, 2]", "{a: 1}", "&a", "*a",
    "!!python/none x", "!x y", "|", ">-", "- -", "? ", "%", "@", "`", "'", '"', "#", "[", "]", "{", "}",
    ": :",     "a: b: c", "\t", "---", "...", "<<: *a",
)  # fmt: skip
"""What may stand in the place of any value."""
NUMBERS = (
    0, -1, 1, 0.5, -0.0, 1e-300, 1e300, -1e9, 1e9, 2**63, -(2**70), 19_999.0, "nan", "inf", "-inf", 7, 1e5,
)  # fmt: skip
SIGNS = ",:'\"[]{}#&*!|>%@`\t\u00a0\u202e0-"
WORDS = (b"\xff\xff\xff\x7f", b"\xff\xff\xff\xff", b"\0\0\0\0", b"\0\0\x80\x7f")
"""Largest numbers, and infinity as a float."""
TEXTS = ("", " ", "\x00", "\u202e", "../x", "a" * 5000, "brain", "fits", "stop", "\ud800", "0", "nan", "𝄞")


def changed_lines(text: str, chance: random.Random, most: int = 3) -> str:
    """Return a YAML text with some lines dropped, doubled, swapped, indented, or given another value."""
    lines = text.split("\n")
    for _ in range(chance.randint(1, most)):
        at = chance.randrange(len(lines))
        line = lines[at]
        match chance.randrange(9):
            case 0:
                del lines[at]
                lines = lines or [""]
            case 1:
                lines.insert(at, line)
            case 2:
                other = chance.randrange(len(lines))
                lines[at], lines[other] = lines[other], lines[at]
            case 3:
                lines[at] = " " * chance.randint(0, 6) + line.strip()
            case 4 if ": " in line:
                lines[at] = line.split(": ", 1)[0] + ": " + chance.choice(SCALARS)
            case 5 if "," in line:
                parts = line.split(",")
                parts[chance.randrange(len(parts))] = " " + chance.choice(SCALARS)
                lines[at] = ",".join(parts)
            case 6 if any(c.isdigit() for c in line):
                spot = chance.choice([i for i, c in enumerate(line) if c.isdigit()])
                lines[at] = line[:spot] + chance.choice(SCALARS[:16]) + line[spot + 1 :]
            case 7 if line:
                spot = chance.randrange(len(line))
                lines[at] = line[:spot] + chance.choice(SIGNS) + line[spot + 1 :]
            case _:
                lines[at] = line.replace(":", ": ", 1) if chance.random() < 0.5 else line.replace(" ", "", 1)
    return "\n".join(lines)


def changed_bytes(data: bytes, chance: random.Random, most: int = 6) -> bytes:
    """Return bytes with some flipped, dropped, doubled, or made extreme; sometimes cut short."""
    made = bytearray(data)
    for _ in range(chance.randint(1, most)):
        if not made:
            break
        at = chance.randrange(len(made))
        match chance.randrange(6):
            case 0:
                made[at] ^= 1 << chance.randrange(8)
            case 1:
                made[at : at + 4] = chance.choice(
                    (b"\xff\xff\xff\x7f", b"\xff\xff\xff\xff", b"\0\0\0\0", b"\0\0\x80\x7f")
                )
            case 2:
                del made[at : at + chance.randint(1, 40)]
            case 3:
                made[at:at] = made[at : at + chance.randint(1, 40)]
            case 4:
                made[at] = chance.randrange(256)
            case _ if chance.random() < 0.2:
                del made[at:]
            case _:
                made[at : at + 1] = bytes(chance.randrange(256) for _ in range(3))
    return bytes(made)


def changed_json(document: Json, chance: random.Random, most: int = 3) -> Json:
    """Return a JSON value with some leaves, items or keys changed, to extremes or to another kind."""
    made = copy.deepcopy(document)
    for _ in range(chance.randint(1, most)):
        holder, key = _somewhere(made, chance)
        value = holder[key]
        match chance.randrange(8):
            case 0:
                del holder[key]
            case 1 if isinstance(value, list) and value:
                value.append(copy.deepcopy(chance.choice(value)))
            case 2 if isinstance(value, list) and value:
                value.pop(chance.randrange(len(value)))
            case 3 if isinstance(value, list):
                holder[key] = []
            case 4:
                holder[key] = chance.choice((None, [], {}, "", 0, True, "x", [[]], {"is": "box"}))
            case _:
                holder[key] = _other(value, chance)
    return made


def _somewhere(value: Json, chance: random.Random) -> tuple[Json, Any]:
    holder, key = value, "plan" if isinstance(value, dict) and "plan" in value else None
    while True:
        items = holder if key is None else holder[key]
        if not isinstance(items, dict | list) or not items or (key is not None and chance.random() < 0.12):
            return holder, key
        holder, key = items, chance.choice(list(items) if isinstance(items, dict) else range(len(items)))


def _other(value: Json, chance: random.Random) -> Json:
    if isinstance(value, bool):
        return not value
    if isinstance(value, int):
        return chance.choice([number for number in NUMBERS if isinstance(number, int)])
    if isinstance(value, float):
        return chance.choice([*(n for n in NUMBERS if not isinstance(n, int)), value * 1.1, -value])
    if isinstance(value, str):
        return chance.choice((*TEXTS, value + "x", value[:-1], value.upper()))
    if isinstance(value, list):
        return value[::-1]
    return {}
