"""How the program ends: whatever goes wrong is one clear text, and an exit status of the table.

Under ``--json`` the same stands as a document on standard output, so that a program that reads it always
finds one.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any, NoReturn

import typer

from fitplan.cli.frame import app
from fitplan.errors import ContradictionError, FitplanError, InputError

NOT_ALL_WELL, WRONG_INPUT, FAULT, BROKEN_OFF = 1, 2, 3, 130

EXIT_STATUS = {
    0: "all is well: it fits (after a rebuild, if need be), every net is reached, it can be assembled, no"
    " stop stands",
    NOT_ALL_WELL: "the work was done, but something does not fit or is not decided, a net is not reached, it"
    " cannot be assembled, or a stop stands; of `fit` and `sweep`: something fits no vehicle; of `check` and"
    " `fit`: a stop stands before anything has a place; of `verify`:"
    " the plan does not hold; of `test`: a reading is wrong or missing",
    WRONG_INPUT: "the input is wrong, or a file cannot be read or written; nothing was written",
    FAULT: "a fault of the program: a plan did not stand up to being checked again; nothing was written, and"
    " the text says what to send",
    BROKEN_OFF: "broken off; nothing is half-written",
}
"""What every command ends with: one table for the manual page and the README."""

_WRONG_USE = typer.BadParameter.__mro__[2]
"""Base of what is wrong with the words of a command; its own library keeps it under changing names."""


def main() -> None:
    """Run the command line; whatever goes wrong ends in one clear text and an exit status of the table."""
    _open_streams()
    try:
        ended = app(prog_name="fitplan", standalone_mode=False)
        if ended == BROKEN_OFF:  # some versions of the library hand an interrupt back as a status
            raise KeyboardInterrupt
        sys.exit(_flushed(ended if isinstance(ended, int) else 0))
    except SystemExit as ending:
        sys.exit(_flushed(ending.code))
    except InputError as error:
        count = len(error.mistakes)
        many = f"{count} mistake{'s' if count != 1 else ''} found; nothing was written."
        _end(error, WRONG_INPUT, f"{error}\n{many}")
    except FitplanError as error:
        _end(error, WRONG_INPUT, f"fitplan: {error}")
    except ContradictionError as error:
        _end(error, FAULT, f"fitplan: {error}")
    except BrokenPipeError:
        _let_go(sys.stdout)
        sys.exit(0)
    except (KeyboardInterrupt, typer.Abort):
        _complain("Stopped; nothing was half-written.")
        sys.exit(BROKEN_OFF)
    except OSError as error:
        _let_go(sys.stdout)
        _complain(f"fitplan: cannot read or write: {error.strerror or error}")
        sys.exit(WRONG_INPUT)
    except Exception as error:
        if isinstance(error, _WRONG_USE):
            _end_of_wrong_use(error)
        if os.environ.get("FITPLAN_TRACEBACK"):
            raise
        reason = " ".join(f"{type(error).__name__}: {error}".split())[:200]
        text = (
            f"fitplan: a fault of the program, not of your files ({reason}). Nothing was half-written.\n"
            "Please report it with the command and the files; FITPLAN_TRACEBACK=1 shows where it happened."
        )
        _end(error, FAULT, text, (text,))


def _end(error: Exception, status: int, text: str, texts: Sequence[str] = ()) -> NoReturn:
    """Tell what is wrong, under ``--json`` as a document, too, and end."""
    if "--json" in sys.argv[1:]:
        from fitplan.report.documents import document, errors_document
        from fitplan.report.terminal.screen import print_json

        with suppress(OSError, ValueError):
            print_json(document(errors_document(error, status, texts)))
            sys.stdout.flush()
    _complain(text)
    sys.exit(status)


def _end_of_wrong_use(error: Any) -> NoReturn:
    """Tell what is wrong with the words of a command, and how it is used."""
    words = error.format_message()
    context = getattr(error, "ctx", None)
    if type(error).__name__ == "NoArgsIsHelpError":  # nothing was asked for: all that may be
        sys.stdout.write(words + "\n")
        sys.exit(_flushed(WRONG_INPUT))
    usage = ""
    if context is not None:
        usage = f"{context.get_usage()}\n{context.command_path} --help tells more.\n"
    _end(error, WRONG_INPUT, f"{usage}fitplan: {words}", (words,))


def _open_streams() -> None:
    """Give the program streams to write to, also where the caller has closed them."""
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, Path(os.devnull).open("w", encoding="utf-8"))  # noqa: SIM115 - for good
        elif hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")


def _flushed(code: Any) -> Any:
    """Write what is still held back; return the exit status, another one when that fails."""
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        _let_go(sys.stdout)
    except (OSError, ValueError) as error:
        _let_go(sys.stdout)
        _complain(f"fitplan: cannot write the output: {getattr(error, 'strerror', None) or error}")
        return WRONG_INPUT
    return code


def _let_go(stream: Any) -> None:
    """Let a stream that cannot be written lead nowhere, so that the end of the program is quiet."""
    with suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def _complain(text: str) -> None:
    from fitplan.report.terminal.screen import visible

    try:
        sys.stderr.write(visible(text) + "\n")
        sys.stderr.flush()
    except (OSError, ValueError):
        _let_go(sys.stderr)
