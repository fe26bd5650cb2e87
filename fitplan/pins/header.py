"""The pin map as a C header of constants, ready to include in a sketch.

Names come from the user's files, so nothing in them is trusted: identifiers hold A–Z, 0–9 and the underscore
only, and comments can neither end early nor continue on the next line.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from anyascii import anyascii

from fitplan.model.pins_used import PinUse
from fitplan.model.reserved_words import RESERVED_WORDS

PREFIX = "TRAIN_PIN"
_LONGEST = 48
"""Longest identifier: C11 5.2.4.1 asks a compiler to tell apart 63 characters of a name."""


def pin_header(
    uses: Sequence[PinUse], title: str = "", figures: Iterable[tuple[str, float, str]] = ()
) -> str:
    """Return a C header with one constant for each net on a controller's pin.

    A pin is written as programs call it: as its part says, else the number of a label such as ``D7`` or
    ``7``, else the label, such as ``A0``, as an identifier that the board's own headers define.

    Parameters
    ----------
    title
        The train's name, for the comment at the top.
    figures
        Further constants as (name, value, comment), for example the trip distance in mm.
    """
    controllers = sorted({use.controller for use in uses})
    named = named_uses(uses)
    taken = {name for _, name in named}
    lines = [
        f"/* Pin map: {comment_text(title)} */",
        "/* Made by fitplan from the train file; changes here are lost. */",
        "#ifndef TRAIN_PINS_H",
        "#define TRAIN_PINS_H",
        "",
    ]
    for controller in controllers:
        lines.append(f"/* {comment_text(controller)} */")
        for use, name in named:
            if use.controller != controller:
                continue
            comment = comment_text(f"{use.pin}: {use.does} for {use.serves}")
            lines.append(f"#define {name} {_pin_value(use.program or use.pin)} /* {comment} */")
        lines.append("")
    for label, value, comment in figures:
        name = _unique(identifier("TRAIN", label), taken)
        lines.append(f"#define {name} {value:.6g} /* {comment_text(comment)} */")
    lines += ["", "#endif /* TRAIN_PINS_H */", ""]
    return re.sub(r"\n{3,}", "\n\n", "\n".join(lines))


def named_uses(uses: Sequence[PinUse]) -> list[tuple[PinUse, str]]:
    """Return the constant of each pin that a net is on, in the order of the header."""
    controllers = sorted({use.controller for use in uses})
    taken: set[str] = set()
    found: list[tuple[PinUse, str]] = []
    for controller in controllers:
        for use in uses:
            if use.controller == controller and use.net:
                words = (controller, use.net) if len(controllers) > 1 else (use.net,)
                found.append((use, _unique(identifier(PREFIX, *words), taken)))
    return found


def identifier(prefix: str, *words: str) -> str:
    """Return a C identifier in capitals made of a prefix and words in any script."""
    parts = [re.sub(r"[^A-Z0-9]+", "_", _ascii(word).upper()).strip("_") for word in words]
    name = "_".join([prefix, *(part for part in parts if part)])
    return name[:_LONGEST].rstrip("_") if any(parts) else f"{prefix}_UNNAMED"


def _pin_value(program: str) -> str:
    """Return a number or an identifier that is none of the language's words."""
    if re.fullmatch(r"\d{1,3}", program, flags=re.ASCII):
        return str(int(program))
    cleaned = re.sub(r"[^A-Za-z0-9_]+", "_", _ascii(program))[:_LONGEST].strip("_") or "UNNAMED"
    return cleaned if cleaned[0].isalpha() and cleaned not in RESERVED_WORDS else f"PIN_{cleaned}"


def _unique(name: str, taken: set[str]) -> str:
    found, number = name, 2
    while found in taken:
        found = f"{name}_{number}"
        number += 1
    taken.add(found)
    return found


def _ascii(text: str) -> str:
    """Return text in plain ASCII: other scripts in Latin letters, what is not printable left out."""
    seen = "".join(c for c in text if c.isprintable())
    return "".join(c for c in anyascii(seen) if " " <= c <= "~")


def comment_text(text: str) -> str:
    """Return text that is safe inside one ``/* */`` comment on one line."""
    cleaned = re.sub(r"\?(?=\?)", "? ", _ascii(text))  # no trigraphs
    cleaned = cleaned.replace("\\", "/")
    cleaned = re.sub(r"\*(?=/)", "* ", cleaned)
    cleaned = re.sub(r"/(?=\*)", "/ ", cleaned)
    cleaned = cleaned.rstrip("*/ ")
    return cleaned[:200].rstrip("*/ ") or "-"
