"""Everything the package raises, as one tree: each error has a stable code and carries its facts as fields.

A refusal is not an error: it is a value (`reprocess.rules.answer`). An error means that somebody else must act:
the person who typed the command, the person who keeps the machine, or the person who wrote the file.
"""

from __future__ import annotations


class ReprocessError(Exception):
    """Is the parent of all errors of this package; `code` is stable, `exit_code` is the command line's."""

    code = "error"
    exit_code = 3

    def __init__(self, sentence: str, **fields: object) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.fields = fields


class WrongUseError(ReprocessError):
    """Says that the request itself cannot be read: a word, a number or a name that does not exist."""

    code = "wrong-use"
    exit_code = 2


class UnknownSubjectError(WrongUseError):
    """Says that no item, person, station, solution or file of that name is on record."""

    code = "unknown-subject"


class KeyReusedError(WrongUseError):
    """Says that a request key was used before with another request (I9)."""

    code = "key-reused"


class DefinitionError(ReprocessError):
    """Says that a workflow, agent or configuration file cannot be used, with every fault and its line."""

    code = "definition"
    exit_code = 1


class LedgerError(ReprocessError):
    """Says that the record could not be read or written; nothing was recorded."""

    code = "ledger"


class LedgerVersionError(LedgerError):
    """Says that the database was written by another version of the program."""

    code = "ledger-version"


class LedgerUnsafeError(LedgerError):
    """Says that the database does not keep the settings that make a step durable (I11)."""

    code = "ledger-unsafe"


class LedgerBusyError(LedgerError):
    """Says that another process kept the database locked for too long; the same request may be sent again."""

    code = "ledger-busy"


class LedgerFullError(LedgerError):
    """Says that the disk is full or read-only; nothing was recorded."""

    code = "ledger-full"


class LedgerMovedError(LedgerError):
    """Says that the department was moved to another database, or is still on its way into this one."""

    code = "ledger-moved"


class TamperedError(LedgerError):
    """Says that the record fails verification, and where."""

    code = "tampered"
    exit_code = 1


class DamagedEntryError(LedgerError):
    """Says that a stored entry cannot be read: an unknown kind or version, or a damaged body."""

    code = "damaged-entry"


class InvariantError(ReprocessError):
    """Says that the engine was about to write something that must never happen; nothing was recorded."""

    code = "invariant"


class NotSignedInError(ReprocessError):
    """Says that nobody is known to ask: no session, no token, or one that counts no more."""

    code = "not-signed-in"


class NotAllowedError(ReprocessError):
    """Says that whoever asks is known and may not do this."""

    code = "not-allowed"


class TooManyTriesError(ReprocessError):
    """Says that one asks too often; `wait_s` among its fields says when the next try is answered."""

    code = "too-many-tries"


class PreconditionError(WrongUseError):
    """Says that what is to be changed has changed since the caller read it; nothing was recorded."""

    code = "precondition"


class PreconditionMissingError(WrongUseError):
    """Says that a change must name the version that the caller read; nothing was recorded."""

    code = "precondition-missing"
