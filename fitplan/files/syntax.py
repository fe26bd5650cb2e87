"""What a parser stumbles over, in words for somebody who does not know YAML."""

from __future__ import annotations

import re
from pathlib import Path

import yaml

from fitplan.errors import Mistake

EXPECTED = "lines of `key: value` as in the examples"
_NO_SPACE = re.compile(r"(?:^|[\s{,-])([A-Za-z][\w -]*):(?=[^\s:/\\\\])")
_SIGN_OF_COMMENT = "what follows a `#` is a comment: a text that begins with `#` stands in quotes"
_COMMENT_WITHIN = re.compile(r"[{\[][^}\]]*[:,{\[]\s+(#)")
_TABS = "indent with spaces, not with tabs"
_PLAIN = {
    "mapping values are not allowed": "a second `key:` where a value should end",
    "expected the node content": "a sign where a value should begin",
    "expected <block end>": "a line that is indented unlike the lines above it",
    "cannot start any token": "a sign that no value begins with",
    "unexpected end of stream": "the end of the file within a value",
    "found unexpected ':'": "a colon where a value should go on",
    "undefined alias": "a reference to nothing: `*` means something to YAML",
    "unknown escape character": "a backslash in double quotes that means nothing",
    "unknown directive": "a line that begins with `%`",
}
"""What a parser says, and what that means."""


def syntax_mistake(text: str, path: Path, error: yaml.MarkedYAMLError) -> Mistake:
    """Return the mistake that a parser stumbled over, where it begins, with what most likely helps."""
    mark = error.problem_mark or error.context_mark
    if mark is None:
        return Mistake(path, 0, 0, "a file that cannot be read", EXPECTED)
    problem = error.problem or error.context or ""
    if "quoted scalar" in (error.context or "") and error.context_mark is not None and "end of" in problem:
        begun = error.context_mark
        found = "a quote that is opened here and never closed"
        return Mistake(path, begun.line + 1, begun.column + 1, found, "a second quote at the end of the text")
    lines = text.split("\n")
    line = lines[mark.line] if mark.line < len(lines) else ""
    if (told := _unclosed(lines, path, error, mark)) is not None:
        return told
    if "could not find expected ':'" in problem:
        return _without_colon(lines, path, error.context_mark or mark)
    meant = next((words for said, words in _PLAIN.items() if said in problem), "")
    found = meant or "a place that cannot be read"
    above = lines[mark.line - 1] if 0 < mark.line <= len(lines) else ""
    if "node content" in problem and (sign := _COMMENT_WITHIN.search(above)):
        found = "a `#` where a value should begin"
        return Mistake(path, mark.line, sign.start(1) + 1, found, "a value", _SIGN_OF_COMMENT)
    hint = _hint(line, above, mark.column, problem)
    if hint == _TABS:
        found = "a tab"
    return Mistake(path, mark.line + 1, mark.column + 1, found, EXPECTED, hint)


def _unclosed(lines: list[str], path: Path, error: yaml.MarkedYAMLError, mark: yaml.Mark) -> Mistake | None:
    """Return the mistake of a `{` or `[` that does not end: told where it opens, if that is another line."""
    signs = next((signs for signs in ("{}", "[]") if f"',' or '{signs[1]}'" in (error.problem or "")), "")
    if not signs:
        return None
    begun = error.context_mark
    expected = f"a comma before what comes next, or `{signs[1]}` at the end"
    if begun is None or begun.line == mark.line:
        found = f"no comma and no `{signs[1]}` where one is due"
        return Mistake(path, mark.line + 1, mark.column + 1, found, expected)
    found = f"a `{signs[0]}` that is opened here and not closed before line {mark.line + 1}"
    line = lines[begun.line] if begun.line < len(lines) else ""
    hint = _SIGN_OF_COMMENT if re.search(r"[:,{\[]\s+#", line[begun.column :]) else ""
    return Mistake(path, begun.line + 1, begun.column + 1, found, expected, hint)


def _without_colon(lines: list[str], path: Path, mark: yaml.Mark) -> Mistake:
    """Return the mistake of a line that has no colon, told where that line is."""
    line = lines[mark.line].strip() if mark.line < len(lines) else ""
    hint = f"put a colon after it: `{line}:`" if re.fullmatch(r"[A-Za-z][\w -]*", line) else (
        "a line of a list begins with `- `" if line.startswith("{") else ""
    )  # fmt: skip
    found = "a line without a colon" if ": " not in line else "a line that is no `key: value`"
    return Mistake(path, mark.line + 1, mark.column + 1, found, EXPECTED, hint)


def _hint(line: str, above: str, column: int, problem: str) -> str:
    if "\t" in line[: len(line) - len(line.lstrip())] or "'\\t'" in problem:
        return _TABS
    glued = _NO_SPACE.search(line)
    if glued and glued.start() <= column + 1:
        return f"put a space after the colon of `{glued[1]}:`"
    if "mapping values are not allowed" in problem and (glued := _NO_SPACE.search(above)):
        return f"put a space after the colon of `{glued[1]}:`, in the line above"
    opened = re.match(r"\s*(?:- )?([A-Za-z][\w -]*) [{\[]", line)
    if "mapping values are not allowed" in problem and opened:
        return f"put a colon after the key: `{opened[1]}:`"
    if "mapping values are not allowed" in problem:
        return "put a text that holds `: ` in quotes, and every key on a line of its own"
    if "cannot start any token" in problem or "node content" in problem or "undefined alias" in problem:
        return "put a text that starts with a sign in quotes"
    if "expected <block end>" in problem and (glued := _NO_SPACE.search(above.split(" #")[0])):
        return f"put a space after the colon of `{glued[1]}:`, in the line above"
    if "expected <block end>" in problem:
        if line.lstrip().startswith("- ") and not above.lstrip().startswith("- "):
            return "lines of a list begin with `- `, other keys do not"
        return "put as many spaces before it as before the line that it goes on from"
    if "unknown escape" in problem:
        return "put the text in single quotes"
    return ""
