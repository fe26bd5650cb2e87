"""What reaches a screen: texts of strangers without control or invisible characters, colours where wanted.

Everything that is printed goes through `console` or `print_json`, so no name in a file can move the cursor,
change colours, hide behind no width or turn round the rest of a row.
"""

from __future__ import annotations

import json
import os
import sys
import unicodedata
from collections.abc import Iterable
from typing import Any

from rich.console import Console, ConsoleOptions, ConsoleRenderable, RenderHook, RenderResult
from rich.segment import Segment

_HIDDEN = frozenset(("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"))
_BLANK = frozenset("\u115f\u1160\u3164\uffa0\u2800\u034f\u17b4\u17b5")
"""Letters and marks that are drawn as nothing."""
_WIDTHS = range(20, 1001)
_USUAL_WIDTH = 100


def hidden(character: str) -> bool:
    """Return whether a character is a control, has no shape, turns the direction, or is half a pair."""
    return (
        unicodedata.category(character) in _HIDDEN
        or character in _BLANK
        or "\ufe00" <= character <= "\ufe0f"
        or "\U000e0100" <= character <= "\U000e01ef"
    )


def visible(text: str) -> str:
    """Return a text with what cannot be seen as ``\ufffd``; line breaks stay."""
    if text.isascii() and text.isprintable():
        return text
    return "".join("\ufffd" if hidden(c) and c != "\n" else c for c in text)


def escaped(text: str) -> str:
    """Return JSON text with what cannot be seen in its strings as escapes; it says the same."""
    if text.isascii():
        return text.replace("\x7f", "\\u007f")
    return "".join(_escape(c) if hidden(c) and c not in "\n\t\r" else c for c in text)


def _escape(character: str) -> str:
    code = ord(character)
    if code > 0xFFFF:
        code -= 0x10000
        return f"\\u{0xD800 + (code >> 10):04x}\\u{0xDC00 + (code & 0x3FF):04x}"
    return f"\\u{code:04x}"


def print_json(value: Any) -> None:
    """Print a value as JSON."""
    sys.stdout.write(escaped(json.dumps(value, indent=2, ensure_ascii=False)) + "\n")


def console(error: bool = False) -> Console:
    """Return a console on standard output or standard error.

    ``NO_COLOR`` takes all colours and weights away, not colours alone. Where the output is no terminal,
    ``COLUMNS`` tells the width when it is a width.
    """
    stream = sys.stderr if error else sys.stdout
    plain = bool(os.environ.get("NO_COLOR"))
    made = Console(
        file=stream,
        width=None if stream.isatty() else width(os.environ.get("COLUMNS", "")),
        highlight=False,
        soft_wrap=False,
        color_system=None if plain else "auto",
        no_color=plain or None,
        emoji=False,
    )
    made.push_render_hook(_Visible())
    return made


def width(text: str) -> int:
    """Return the width that a text names, or the usual one."""
    try:
        found = int(text)
    except ValueError:
        return _USUAL_WIDTH
    return found if found in _WIDTHS else _USUAL_WIDTH


class _Visible(RenderHook):
    """Lets through what can be seen."""

    def process_renderables(self, renderables: list[ConsoleRenderable]) -> list[ConsoleRenderable]:
        return [_Seen(renderable) for renderable in renderables]


class _Seen:
    """Something to print, with what cannot be seen marked."""

    def __init__(self, inner: ConsoleRenderable) -> None:
        self._inner = inner

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        yield from _seen(console.render(self._inner, options))


def _seen(segments: Iterable[Segment]) -> Iterable[Segment]:
    for segment in segments:
        if segment.control:
            yield segment
        else:
            yield Segment(visible(segment.text), segment.style)
