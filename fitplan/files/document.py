"""From a file's bytes to plain values that know where they stand.

Scalars stay texts: what a plain `no`, `012`, `3:25` or `1e3` means is decided by the key that it belongs to
(`fitplan.files.fields`) and not by YAML's own guesses, so that none of them turns into something unexpected.
The tree is built from the parser's events with a stack, so that a deeply nested file cannot exhaust Python's.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple, TypeAlias

import yaml

from fitplan.errors import InputError, Mistake, nearest_name
from fitplan.files.sources import as_stored, heard
from fitplan.files.syntax import EXPECTED, syntax_mistake

MAX_BYTES = 1_000_000
"""Largest file that is read; files that people write stay far below."""
MAX_DEPTH = 40
"""Deepest nesting that is read; the formats need less than ten levels."""
MAX_VALUES = 200_000
"""Most values in a file, references to anchors counted each time."""

_MAX_REWORDED = 200_000
_QUOTED = ("'", '"', "|", ">")
_FAST = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


class Spot(NamedTuple):
    """Where a value stands; line and column count from 1."""

    line: int
    column: int


NOWHERE = Spot(0, 0)


class Text(str):
    """A scalar as it is written, with its spot.

    ``quoted`` when it stood in quotes or in a text block; ``inner`` is where the first line of a text block
    (``|``) begins, None for any other text. ``commented`` when nothing stands there but a comment.
    """

    __slots__ = ("commented", "inner", "quoted", "spot")
    commented: bool
    spot: Spot
    quoted: bool
    inner: Spot | None

    def __new__(
        cls, text: str, spot: Spot = NOWHERE, quoted: bool = False, inner: Spot | None = None
    ) -> Text:
        """Make a text that stands at ``spot``."""
        made = super().__new__(cls, text)
        made.spot = spot
        made.quoted = quoted
        made.inner = inner
        made.commented = False
        return made


class Block(dict[str, "Value"]):
    """Keys and values with the spot of the block and of each key."""

    def __init__(self, spot: Spot = NOWHERE) -> None:
        super().__init__()
        self.spot = spot
        self.key_spots: dict[str, Spot] = {}
        self.meant: dict[str, str] = {}
        """Known keys that are read from a misspelt key, which is reported once."""

    def put(self, key: str, value: Value, spot: Spot) -> None:
        """Set a key that stands at ``spot``."""
        self[key] = value
        self.key_spots[key] = spot


class Row(list["Value"]):
    """A list with its spot."""

    def __init__(self, spot: Spot = NOWHERE) -> None:
        super().__init__()
        self.spot = spot


Value: TypeAlias = Text | Block | Row


def shown(value: object) -> str:
    """Return a value as a short phrase for an error: ``'12 feet'``, ``a list``, ``nothing``."""
    if isinstance(value, Block):
        return "a block of keys"
    if isinstance(value, Row):
        return "a list" if value else "an empty list"
    text = " ".join(str(value).split())
    if not text:
        if getattr(value, "commented", False):
            return "nothing but a comment: a text that begins with `#` stands in quotes"
        return "an empty text" if getattr(value, "quoted", False) else "nothing"
    return repr(text if len(text) <= 40 else text[:38] + "…")


def locate(value: Value, way: tuple[int | str, ...]) -> Spot:
    """Return the spot of the value that lies ``way`` (keys and list positions) below another.

    Steps that do not exist are left out, so that a missing key leads to the block that it is missing from.
    """
    spot = value.spot
    for step in way:
        if isinstance(value, Block) and isinstance(step, str) and value.meant.get(step, step) in value:
            value = value[value.meant.get(step, step)]
        elif isinstance(value, Row) and isinstance(step, int) and step < len(value):
            value = value[step]
        else:
            continue
        spot = value.spot
    return spot


def read_text(path: Path) -> str:
    """Return a file's text without byte order mark and with plain line ends.

    Raises
    ------
    InputError
        When the file is missing, a folder, not readable, too big, or not UTF-8 text.
    """

    def wrong(found: str, expected: str, hint: str = "", line: int = 0) -> InputError:
        return InputError([Mistake(path, line, 1 if line else 0, found, expected, hint)])

    try:
        path = as_stored(path)
        if path.is_dir():
            raise wrong("a folder", "a file")
        if not path.is_file():
            near = _nearest_file(path)
            raise wrong("no such file", "a file that can be read", near)
        size = path.stat().st_size
        if size > MAX_BYTES:
            raise wrong(f"a file of {size} bytes", f"one of at most {MAX_BYTES} bytes")
        data = path.read_bytes()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise wrong(f"a file that cannot be read ({reason})", "a file that can be read") from None
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise wrong("a file in UTF-16", "a text file in UTF-8", "save it as UTF-8")
    if b"\0" in data:
        raise wrong("a file that is not text", "a text file in UTF-8")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise wrong("a byte that is not UTF-8", "a text file in UTF-8", "save it as UTF-8", line) from None
    plain = text.replace("\r\n", "\n").replace("\r", "\n")
    heard(path, plain.encode())
    return plain


def _nearest_file(path: Path) -> str:
    try:
        return nearest_name(path.name, [entry.name for entry in path.parent.iterdir()])
    except (OSError, ValueError):
        return ""


def read_document(path: Path, mistakes: list[Mistake]) -> Block | None:
    """Return the keys and values of a YAML file, or None when it cannot be read or parsed.

    Mistakes go to the list. A repeated key or a tag is a mistake, but the rest of the file is still returned,
    so that all its mistakes can be told at once.
    """
    try:
        return parse_document(read_text(path), path, mistakes)
    except InputError as error:
        mistakes.extend(error.mistakes)
        return None


def parse_document(text: str, path: Path, mistakes: list[Mistake]) -> Block:
    """Return the keys and values of a YAML text; ``path`` is named in mistakes.

    Raises
    ------
    InputError
        When the text is no YAML, or does not hold one block of keys.
    """
    builder = _TreeBuilder(text, path, mistakes)
    try:
        for event in _events(text, _FAST):
            builder.take(event)
    except yaml.YAMLError as error:
        raise InputError([_syntax_mistake(text, path, error)]) from None
    top = builder.top
    if not isinstance(top, Block):
        found = "an empty file" if top is None or (isinstance(top, Text) and not top) else shown(top)
        spot = top.spot if top is not None else Spot(1, 1)
        raise InputError([Mistake(path, spot.line, spot.column, found, "keys and values: `key: value`")])
    return top


def _events(text: str, loader: Any) -> Iterator[Any]:
    yield from yaml.parse(text, Loader=loader)


def _syntax_mistake(text: str, path: Path, error: yaml.YAMLError) -> Mistake:
    # The compiled and the plain parser word errors differently: the plain one words them all.
    builder = _TreeBuilder(text, path, [])
    try:
        # It is slow, too: a file that no person has written keeps the other's words.
        for event in _events(text, yaml.SafeLoader) if len(text) < _MAX_REWORDED else ():
            builder.take(event)
    except InputError as stopped:
        return stopped.mistakes[0]
    except yaml.YAMLError as same:
        error = same
    if isinstance(error, yaml.MarkedYAMLError):
        return syntax_mistake(text, path, error)
    if isinstance(error, yaml.reader.ReaderError):
        before = text[: error.position]
        line_number = before.count("\n") + 1
        column = len(before) - before.rfind("\n")
        character = error.character if isinstance(error.character, int) else ord(error.character[:1] or "\0")
        found = f"the unprintable character U+{character:04X}"
        return Mistake(path, line_number, column, found, "printable text")
    return Mistake(path, 0, 0, "a file that cannot be read", EXPECTED)


class _TreeBuilder:
    """Builds the tree of values from parser events."""

    def __init__(self, text: str, path: Path, mistakes: list[Mistake]) -> None:
        self.path = path
        self._lines = text.split("\n")
        self.top: Value | None = None
        self.mistakes = mistakes
        self._documents = 0
        self._stack: list[tuple[Block | Row, str | None]] = []
        self._keys: list[Text | None] = []
        self._anchors: dict[str, Value] = {}
        self._sizes: dict[int, int] = {}
        self._size = [0]

    def _wrong(self, spot: Spot, found: str, expected: str, hint: str = "") -> Mistake:
        return Mistake(self.path, spot.line, spot.column, found, expected, hint)

    def _stop(self, spot: Spot, found: str, expected: str, hint: str = "") -> InputError:
        return InputError([self._wrong(spot, found, expected, hint)])

    def take(self, event: Any) -> None:
        """Take the next event."""
        spot = Spot(event.start_mark.line + 1, event.start_mark.column + 1)
        if isinstance(event, yaml.ScalarEvent):
            self._check_tag(event, spot)
            text = Text(event.value, spot, event.style in _QUOTED, self._inner(event, spot))
            if not event.value and not text.quoted and spot.line <= len(self._lines):
                text.commented = self._lines[spot.line - 1][spot.column - 1 :].lstrip(" :").startswith("#")
            if event.anchor:
                self._anchors[event.anchor] = text
            self._add(text, 1, spot)
        elif isinstance(event, yaml.CollectionStartEvent):
            self._check_tag(event, spot)
            if len(self._stack) >= MAX_DEPTH:
                raise self._stop(spot, f"more than {MAX_DEPTH} levels of nesting", "a flatter file")
            value: Block | Row = Block(spot) if isinstance(event, yaml.MappingStartEvent) else Row(spot)
            if self._stack and isinstance(self._stack[-1][0], Block) and self._keys[-1] is None:
                raise self._stop(
                    spot, "a list or block as a key", "a text as a key",
                    "put a text that starts with [ or { in quotes",
                )  # fmt: skip
            self._stack.append((value, event.anchor))
            self._keys.append(None)
            self._size.append(1)
        elif isinstance(event, yaml.CollectionEndEvent):
            value, anchor = self._stack.pop()
            self._keys.pop()
            size = self._size.pop()
            if anchor:
                self._anchors[anchor] = value
                self._sizes[id(value)] = size
            self._add(value, size, value.spot)
        elif isinstance(event, yaml.AliasEvent):
            self._take_alias(event.anchor, spot)
        elif isinstance(event, yaml.DocumentStartEvent):
            self._documents += 1
            if self._documents > 1:
                raise self._stop(spot, "a second document", "one document a file", "remove the line `---`")

    def _inner(self, event: Any, spot: Spot) -> Spot | None:
        """Return where the first line of a text block begins."""
        if event.style != "|":
            return None
        for line in self._lines[spot.line :]:
            if line.strip():
                return Spot(spot.line + 1, len(line) - len(line.lstrip(" ")) + 1)
        return None

    def _take_alias(self, anchor: Any, spot: Spot) -> None:
        if any(name == anchor for _, name in self._stack):
            raise self._stop(spot, f"the reference *{anchor} inside its own block", "a value of its own")
        if anchor not in self._anchors:
            raise self._stop(
                spot, f"the reference *{anchor} to nothing", f"an anchor &{anchor} before it",
                "put a text that starts with * in quotes",
            )  # fmt: skip
        value = self._anchors[anchor]
        self._add(value, self._sizes.get(id(value), 1), spot)

    def _check_tag(self, event: Any, spot: Spot) -> None:
        if event.tag is not None and event.tag != "!":
            tag = event.tag.replace("tag:yaml.org,2002:", "!!")
            self.mistakes.append(self._wrong(spot, f"the tag {tag}", "a value without a tag"))

    def _add(self, value: Value, size: int, spot: Spot) -> None:
        self._size[-1] += size
        if self._size[-1] > MAX_VALUES:
            raise self._stop(spot, f"more than {MAX_VALUES} values", "a smaller file")
        if not self._stack:
            self.top = value
            return
        parent, _ = self._stack[-1]
        if isinstance(parent, Row):
            parent.append(value)
            return
        key = self._keys[-1]
        if key is None:
            if not isinstance(value, Text):
                raise self._stop(spot, f"{shown(value)} as a key", "a text as a key")
            self._keys[-1] = Text(value, spot, value.quoted)
            return
        self._keys[-1] = None
        if key == "<<" and not key.quoted:
            self._merge(parent, value, key.spot)
        elif key in parent and str(key) in parent.key_spots:
            first = parent.key_spots[str(key)].line
            self.mistakes.append(
                self._wrong(
                    key.spot, f"the key {str(key)!r} again", f"each key once; it stands in line {first} too"
                )
            )
        else:
            parent.put(str(key), value, key.spot)

    def _merge(self, parent: Block, value: Value, spot: Spot) -> None:
        sources = list(value) if isinstance(value, Row) else [value]
        for source in sources:
            if not isinstance(source, Block):
                self.mistakes.append(
                    self._wrong(spot, f"{shown(source)} behind <<", "a reference to a block of keys")
                )
                continue
            for key, item in source.items():
                # A key that is merged in stays open to be set by the block itself: it has no key spot yet.
                if key not in parent:
                    parent[key] = item
