"""The pin map as a C header of constants, ready to include in a sketch.

Names come from the user's files, so nothing in them is trusted: identifiers hold A–Z, 0–9 and the underscore
only, and comments can neither end early nor continue on the next line.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence

from fitplan.model.plan import PinUse

PREFIX = "TRAIN_PIN"
_LONGEST = 48
"""Longest identifier: C11 5.2.4.1 asks a compiler to tell apart 63 characters of a name."""
_DIGITAL = re.compile(r"[Dd](\d{1,3})")
_NUMBER = re.compile(r"\d{1,3}")


def pin_header(
    uses: Sequence[PinUse], title: str = "", figures: Iterable[tuple[str, float, str]] = ()
) -> str:
    """Return a C header with one constant for each net on a controller's pin.

    A pin called ``D7`` or ``7`` becomes the number 7; any other name, such as ``A0``, stands as it is (as an
    identifier), as the board's own headers define it.

    Parameters
    ----------
    title
        The train's name, for the comment at the top.
    figures
        Further constants as (name, value, comment), for example the trip distance in mm.
    """
    controllers = sorted({use.controller for use in uses})
    taken: set[str] = set()
    lines = [
        f"/* Pin map: {_comment(title)} */",
        "/* Made by fitplan from the train file; changes here are lost. */",
        "#ifndef TRAIN_PINS_H",
        "#define TRAIN_PINS_H",
        "",
    ]
    for controller in controllers:
        lines.append(f"/* {_comment(controller)} */")
        for use in uses:
            if use.controller != controller or not use.net:
                continue
            words = (controller, use.net) if len(controllers) > 1 else (use.net,)
            name = _unique(identifier(PREFIX, *words), taken)
            comment = _comment(f"{use.pin}: {use.does} for {use.serves}")
            lines.append(f"#define {name} {_pin_value(use.pin)} /* {comment} */")
        lines.append("")
    for label, value, comment in figures:
        name = _unique(identifier("TRAIN", label), taken)
        lines.append(f"#define {name} {value:.6g} /* {_comment(comment)} */")
    lines += ["", "#endif /* TRAIN_PINS_H */", ""]
    return re.sub(r"\n{3,}", "\n\n", "\n".join(lines))


def identifier(prefix: str, *words: str) -> str:
    """Return a C identifier in capitals made of a prefix and words of any kind."""
    parts = [re.sub(r"[^A-Z0-9]+", "_", _ascii(word).upper()).strip("_") for word in words]
    name = "_".join([prefix, *(part for part in parts if part)])
    return name[:_LONGEST].rstrip("_") if any(parts) else f"{prefix}_UNNAMED"


def _pin_value(pin: str) -> str:
    digital = _DIGITAL.fullmatch(pin) or _NUMBER.fullmatch(pin)
    if digital:
        return str(int(digital[digital.lastindex or 0]))
    cleaned = re.sub(r"\W+", "_", _ascii(pin)).strip("_") or "PIN"
    return cleaned if not cleaned[0].isdigit() else f"PIN_{cleaned}"


def _unique(name: str, taken: set[str]) -> str:
    found, number = name, 2
    while found in taken:
        found = f"{name}_{number}"
        number += 1
    taken.add(found)
    return found


def _ascii(text: str) -> str:
    """Return text in plain ASCII: accents dropped, everything else that is not printable as ``?``."""
    plain = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return "".join(c if " " <= c <= "~" else "?" for c in plain)


def _comment(text: str) -> str:
    """Return text that is safe inside one ``/* */`` comment on one line."""
    cleaned = re.sub(r"\?(?=\?)", "? ", _ascii(text))  # no trigraphs
    cleaned = cleaned.replace("\\", "/")
    cleaned = re.sub(r"\*(?=/)", "* ", cleaned)
    cleaned = re.sub(r"/(?=\*)", "/ ", cleaned)
    cleaned = cleaned.rstrip("*/ ")
    return cleaned[:200].rstrip("*/ ") or "-"
