"""The log: one line of JSON for each request and each fault, on standard error; an event's word and known fields.

Fields that are not listed here are dropped, whoever gave them: no values of paths, no bodies, badges, names, tokens,
cookies or PINs can come into the log by mistake.
"""

from __future__ import annotations

import logging
import sys
from collections.abc import MutableMapping
from pathlib import PurePath
from types import TracebackType
from typing import Any, Final, TextIO

import structlog

FIELDS: Final = frozenset(
    {
        "event",
        "level",
        "at",
        "request_id",
        "method",
        "route",
        "status",
        "ms",
        "caller",
        "code",
        "cause",
        "where",
        "rule",
        "said",
        "port",
    }
)
"""Everything that may stand in a line."""
TEXT_MOST: Final = 200
"""Characters of one value (our choice)."""
FRAMES_MOST: Final = 5


def only_listed(logger: object, name: str, told: MutableMapping[str, Any]) -> MutableMapping[str, Any]:
    """Returns a line without what is not listed, and nothing longer than it may be."""
    del logger, name
    return {
        key: value if isinstance(value, int | float) else _short(str(value))
        for key, value in told.items()
        if key in FIELDS
    }


def _short(text: str) -> str:
    line = text.strip().partition("\n")[0]
    return "".join(letter if letter.isprintable() else "?" for letter in line)[:TEXT_MOST]


def begin(stream: TextIO | None = None) -> None:
    """Sends every line of this process to standard error, those of its libraries too."""
    structlog.configure(
        processors=[
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="iso", utc=True, key="at"),
            only_listed,
            structlog.processors.JSONRenderer(),
        ],
        logger_factory=structlog.WriteLoggerFactory(stream or sys.stderr),
        cache_logger_on_first_use=False,
    )
    root = logging.getLogger()
    root.handlers[:] = [_ToLines()]
    root.setLevel(logging.WARNING)


class _ToLines(logging.Handler):
    """Hands the lines of libraries on: their fixed words, never what was put into them."""

    def emit(self, record: logging.LogRecord) -> None:
        """Hands one line on."""
        fault = record.exc_info[1] if record.exc_info else None
        told = {"said": str(record.msg), "code": record.name} | (of_fault(fault) if fault is not None else {})
        log = structlog.get_logger()
        (log.error if record.levelno >= logging.ERROR else log.warning)("server", **told)


def of_fault(fault: BaseException) -> dict[str, str]:
    """Returns what a line says of an exception: its class and where it was raised, never its words."""
    return {"cause": type(fault).__name__, "where": _where(fault.__traceback__)}


def _where(trace: TracebackType | None) -> str:
    """Returns the last places of a trace as `file:line`, the innermost last; files without their folders."""
    places: list[str] = []
    while trace is not None:
        places.append(f"{PurePath(trace.tb_frame.f_code.co_filename).name}:{trace.tb_lineno}")
        trace = trace.tb_next
    return " ".join(places[-FRAMES_MOST:])


def tell(event: str, **fields: Any) -> None:
    """Writes one line."""
    _LOG.info(event, **fields)


def tell_fault(event: str, fault: BaseException, **fields: Any) -> None:
    """Writes one line about an exception."""
    _LOG.error(event, **of_fault(fault), **fields)


_LOG: Final = structlog.get_logger("reprocess.service")
