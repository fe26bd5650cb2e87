"""The manual page, made out of the commands' own definitions: ``python -m fitplan.cli.manual`` writes it.

It is installed as ``share/man/man1/fitplan.1``, where ``man fitplan`` finds it beside the program.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import typer.main

from fitplan import __version__
from fitplan.cli.endings import EXIT_STATUS

PAGE = Path(__file__).resolve().parent / "fitplan.1"


def manual_page() -> str:
    """Return the manual page in the macros of man (groff_man(7))."""
    from fitplan.cli import app

    program: Any = typer.main.get_command(app)
    lines = [
        f'.TH FITPLAN 1 "" "fitplan {__version__}" "User commands"',
        ".SH NAME",
        "fitplan \\- plan where controllers, sensors, cells and wires go inside brick-built trains",
        ".SH SYNOPSIS",
        ".B fitplan",
        ".I COMMAND",
        "[\\fIOPTIONS\\fR]",
        ".SH DESCRIPTION",
        _text(
            "Reads a train, its vehicles and parts from YAML files; tells whether everything fits, and proves"
            " it when it does not; places parts, runs wires, checks that it will work, and writes lists, a"
            " page, sheets at 1:1 and meshes. Commands stand in the order in which an evening needs them."
        ),
        ".SH COMMANDS",
    ]
    for words, command in _commands(program, "fitplan"):
        lines += _about(words, command)
    lines += [".SH EXIT STATUS"]
    for status, meaning in EXIT_STATUS.items():
        lines += [".TP", f".B {status}", _text(f"{meaning[0].upper()}{meaning[1:]}.")]
    lines += [".SH ENVIRONMENT"]
    for name, meaning in (
        ("NO_COLOR", "When it is set and not empty, neither colours nor weights are sent."),
        ("COLUMNS", "Width of tables where the output is no terminal, 20 to 1000; else 100."),
        ("FITPLAN_TRACEBACK", "When it is set, a fault of the program shows where it happened."),
    ):
        lines += [".TP", f".B {_escaped(name)}", _text(meaning)]
    lines += [
        ".SH FILES",
        _text(
            "A folder that a plan was written into holds a hidden folder .fitplan: the list of what fitplan"
            " wrote there. Planned into again, the folder loses what no longer belongs to it; a file that"
            " fitplan did not write stays."
        ),
    ]
    return "\n".join(lines) + "\n"


def _commands(command: Any, words: str) -> Iterator[tuple[str, Any]]:
    """Give each command that does something, with the words that call it."""
    inner = getattr(command, "commands", None)
    if inner is None:
        yield words, command
    else:
        for name, one in inner.items():
            yield from _commands(one, f"{words} {name}")


def _about(words: str, command: Any) -> list[str]:
    arguments = [one for one in command.params if one.param_type_name == "argument"]
    options = [one for one in command.params if one.param_type_name == "option" and one.name != "help"]
    called = " ".join([words, *(_name_of(one) for one in arguments)])
    lines = [f".SS {_escaped(called)}", _text(command.help or "")]
    for one in arguments:
        lines += [".TP", f".I {_escaped(_name_of(one))}", _text(one.help or "")]
    for one in options:
        names = ", ".join(sorted(one.opts, key=len))
        value = "" if one.is_flag else f" \\fI{_escaped(_metavar(one))}\\fR"
        lines += [".TP", f"\\fB{_escaped(names)}\\fR{value}", _text(one.help or "")]
    return lines


def _name_of(argument: Any) -> str:
    return str(argument.metavar or argument.name).upper()


def _metavar(option: Any) -> str:
    return str(option.metavar or option.name.upper())


def _text(text: str) -> str:
    """Return prose as one paragraph of roff, a sentence to each line."""
    whole = " ".join(text.split())
    lines = re.sub(r"(?<=[.;]) (?=[A-Z])", "\n", whole).split("\n")
    return "\n".join(_escaped(line) for line in lines)


def _escaped(text: str) -> str:
    """Return text without anything that roff would take for a request or an escape."""
    safe = text.replace("\\", "\\e").replace("-", "\\-").replace("`", "")
    return f"\\&{safe}" if safe[:1] in (".", "'") else safe


if __name__ == "__main__":
    PAGE.write_text(manual_page(), "utf-8", newline="\n")
