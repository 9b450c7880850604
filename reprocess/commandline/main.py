"""`reprocess`: finds the command, and turns errors into one sentence and an exit code."""

from __future__ import annotations

import sys
from importlib import import_module
from keyword import iskeyword
from typing import Final

import typer

from reprocess.errors import ReprocessError

DONE, FOUND, WRONG_USE, FAILED = 0, 1, 2, 3
"""Exit codes: done; refused by a rule, or something was found; wrong use; could not be done and nothing recorded."""

COMMANDS: Final = (
    "demo",
    "init",
    "check",
    "publish",
    "draw",
    "item",
    "log",
    "board",
    "due",
    "serve",
    "history",
    "hold",
    "review",
    "solution",
    "load",
    "lot",
    "place",
    "assemble",
    "issue",
    "return",
    "wear",
    "person",
    "token",
    "keys",
    "instrument",
    "wearer",
    "case",
    "recall",
    "lookback",
    "import",
    "export",
    "form",
    "sheet",
    "verify",
    "rebuild",
    "backup",
    "restore",
    "move",
)
"""The commands in the order of the help; each is a module of this package with a function of the same name.

A function whose word Python keeps for itself ends in an underscore.
"""

HELP: Final = "Takes reusable parts from used to ready by evidence, and refuses every shortcut."


def run() -> int:
    """Runs the command that was typed and returns its exit code; never lets a traceback out."""
    try:
        _app(sys.argv[1:2])(prog_name="reprocess")
    except SystemExit as ended:
        return _code(ended.code)
    except ReprocessError as fault:
        print(fault.sentence, file=sys.stderr)
        return fault.exit_code
    except BrokenPipeError:
        sys.stderr.close()
        return DONE
    except KeyboardInterrupt:
        print("Stopped; what was answered before is on record.", file=sys.stderr)
        return FAILED
    except Exception as fault:
        print(f"The program failed ({type(fault).__name__}: {fault}); nothing was recorded.", file=sys.stderr)
        return FAILED
    return DONE


def _code(code: object) -> int:
    return code if isinstance(code, int) else (DONE if code is None else FAILED)


def _app(typed: list[str]) -> typer.Typer:
    """Returns the command that was typed, ready to run; all of them where none was, for the help."""
    app = typer.Typer(
        name="reprocess",
        help=HELP,
        no_args_is_help=True,
        add_completion=False,
        pretty_exceptions_enable=False,
        rich_markup_mode=None,
    )
    app.callback(help=HELP)(_nothing)  # with one command alone its name would not be asked for
    for name in typed if set(typed) <= set(COMMANDS) and typed else COMMANDS:
        module = import_module(f"reprocess.commandline.{name}")
        app.command(name)(getattr(module, f"{name}_" if iskeyword(name) else name))
    return app


def _nothing() -> None:
    """Does nothing before a command."""
