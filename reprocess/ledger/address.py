"""Where a department is on a PostgreSQL server: its address, and what lies on this computer beside it."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Final
from urllib.parse import parse_qsl, urlsplit

from reprocess.errors import WrongUseError

SCHEMES: Final = ("postgresql", "postgres")
SECRET_WORDS: Final = frozenset({"password", "sslpassword", "passwd"})


@dataclass(frozen=True, slots=True)
class Server:
    """Is a department's place on a PostgreSQL server.

    Attributes:
        address: `postgresql://role@host/database`, never with a password; the role is the service's own.
        key_file: the MAC key, outside the database, on every computer that works with the record.
        owner: the address with the role that owns the tables, for founding and for newer schemas alone.
        password: the service role's password where the driver does not find it by itself (PGPASSFILE, a service file).
    """

    address: str
    key_file: Path
    owner: str | None = None
    password: str | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        for address in (self.address, self.owner):
            if address is not None:
                _must_be_readable(address)

    @property
    def beside(self) -> Path:
        """Returns the name beside which this computer keeps what does not lie in the database."""
        return self.key_file.with_suffix("") if self.key_file.suffix == ".key" else self.key_file

    @property
    def database(self) -> str:
        """Returns the name of the database."""
        return database_of(self.address)

    @property
    def role(self) -> str:
        """Returns the role with which the service works."""
        return urlsplit(self.address).username or ""


def is_address(text: str) -> bool:
    """Tells whether a department is named by an address, not by a file."""
    return text.partition("://")[0] in SCHEMES and "://" in text


def database_of(address: str) -> str:
    """Returns the name of the database in an address."""
    return urlsplit(address).path.lstrip("/")


def _must_be_readable(address: str) -> None:
    """Raises without repeating the address, which may hold a secret.

    Raises:
        WrongUseError: it holds a password, or names no role or no database.
    """
    try:
        parts = urlsplit(address)
        secret = parts.password is not None or bool(SECRET_WORDS & {name for name, _ in parse_qsl(parts.query)})
        user, database = parts.username, parts.path.lstrip("/")
    except ValueError as fault:
        message = "The department's address cannot be read: postgresql://role@host/database."
        raise WrongUseError(message) from fault
    if secret:
        message = "The address holds a password. Put it into a file: setting `password_file`, or PGPASSFILE."
        raise WrongUseError(message)
    if parts.scheme not in SCHEMES or not user or not database:
        message = "The department's address names a role and a database: postgresql://role@host/database."
        raise WrongUseError(message)
