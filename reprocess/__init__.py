"""A decontamination and reprocessing workflow engine, told from top to bottom.

errors        everything we raise, one tree
terms         the words of the department as types
definitions   WHAT MUST HAPPEN: workflows, agents, configurations and profiles as data, read, proved and drawn
quantities    what the numbers mean: lethality, dilution, airflow, batteries, decay, calendar, readings
scan          what a scanned string is
statistics    what many cycles say: percentiles, charts, survival, queues
record        WHAT HAS HAPPENED: entries, their stored form, the chain, the standings folded from them
rules         WHAT MAY HAPPEN, AND IF NOT, WHY NOT
engine        decide one request
timetable     what is due when
lookback      from a thing in doubt to items, uses and wearers
clock         the only place that reads the time
ledger        KEEP: append-only, chained; the only package that knows SQLAlchemy
shipped       the files that come with the program
founding      a department's own file
languages     the texts that people read, by key, in every language
shared_clock  one time for several computers on one server, in doubt where nobody can vouch for it
gathering     what one request must be judged on
scheduling    keeps what is due in step with what is written
reminders     rings what is due, once
exchange      CSV in, every bad line told, and out again; events, FHIR, EPCIS, Parquet for others
papers        sheets, forms, tags and labels of released items as PDF
pictures      one item's life, solutions, look-back, competencies, holds as SVG, each with its table
station       one scan: load, decide, append, in one transaction
enrolment     founding a department and enrolling afterwards
batching      calls that arrive together share one transaction
signing_in    badge and PIN, sessions, tokens, the organisation's own sign-on
receiving     results of washers, chargers and sensors, signed
settings      the only place that reads the environment
department    puts the parts together
service       the department over HTTP: the interface in `api`, the pages in `pages`
client        a small typed client for integrators
demo          the fictional network and its story
commandline   the command line, one file a command
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from reprocess.department import Department, found_department, open_department

__all__ = ["Department", "found_department", "open_department"]


def __getattr__(name: str) -> Any:
    """Returns a public name, importing the department only when it is asked for."""
    if name in __all__:
        from reprocess import department  # noqa: PLC0415 - `--help` must not pay for it

        return getattr(department, name)
    message = f"reprocess has no {name}"
    raise AttributeError(message)
