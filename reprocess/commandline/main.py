"""`reprocess`: finds the command, and turns errors into one sentence and an exit code."""

from __future__ import annotations

import sys
from importlib import import_module
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
    "solution",
    "assemble",
    "wear",
    "person",
    "instrument",
    "verify",
    "rebuild",
    "backup",
    "restore",
)
"""The commands in the order of the help; each is a module of this package with a function of the same name."""

app = typer.Typer(
    name="reprocess",
    help="Takes reusable parts from used to ready by evidence, and refuses every shortcut.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


def run() -> int:
    """Runs the command that was typed and returns its exit code; never lets a traceback out."""
    _add_commands()
    try:
        app(prog_name="reprocess")
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


def _add_commands() -> None:
    for name in COMMANDS:
        module = import_module(f"reprocess.commandline.{name}")
        app.command(name)(getattr(module, name))
