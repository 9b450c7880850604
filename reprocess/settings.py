"""The only place that reads the environment: where the department's file lies and how a station is called."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints
from pydantic_settings import BaseSettings, PydanticBaseSettingsSource, SettingsConfigDict, TomlConfigSettingsSource

from reprocess.errors import WrongUseError

SETTINGS_FILE = "reprocess.toml"


Text = Annotated[str, StringConstraints(min_length=1, max_length=255)]
Address = Annotated[str, StringConstraints(pattern=r"^[^@\s,<>]+@[^@\s,<>]+$", max_length=254)]


class EmailSettings(BaseModel):
    """Is the mail server that reminders are handed to, and who gets what.

    Attributes:
        host: the mail server.
        security: `tls` from the first byte, `starttls`, or `none`; without TLS nobody logs in.
        sender: the address that letters come from.
        to: the addresses of each role.
        user: the name to log in with, where the server asks for one.
        password_file: a file that holds the password alone and that only its owner may read.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    host: Text
    port: Annotated[int, Field(gt=0, lt=65_536)] = 465
    security: Literal["tls", "starttls", "none"] = "tls"
    sender: Address
    to: dict[str, tuple[Address, ...]]
    user: Text | None = None
    password_file: Path | None = None


class WebhookSettings(BaseModel):
    """Is the web address that reminders are posted to.

    Attributes:
        url: the address; its host must stand in `hosts`.
        secret_files: files that hold one `whsec_` secret each, the one in use first.
        hosts: the hosts that may be reached at all.
        private: those of them whose address may be a private one.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    url: Text
    secret_files: Annotated[tuple[Path, ...], Field(min_length=1, max_length=2)]
    hosts: Annotated[tuple[Text, ...], Field(min_length=1, max_length=20)]
    private: tuple[Text, ...] = ()


class Settings(BaseSettings):
    """Is what a command takes from its surroundings where no option says it.

    Order: options over `REPROCESS_*` variables over `reprocess.toml` in the working folder over these defaults.

    Attributes:
        department: the department's database file.
        station: the station at which commands are given.
        badge: the badge with which they are given.
        color: whether answers may be coloured; `NO_COLOR` switches it off too.
        email: the mail server that reminders are handed to; none where left out.
        webhook: the web address that they are posted to; none where left out.
    """

    model_config = SettingsConfigDict(env_prefix="REPROCESS_", extra="ignore", toml_file=SETTINGS_FILE)

    department: Path = Path("department.db")
    station: Annotated[str, StringConstraints(max_length=64)] | None = None
    badge: Annotated[str, StringConstraints(max_length=64)] | None = None
    color: bool = True
    email: EmailSettings | None = None
    webhook: WebhookSettings | None = None

    @property
    def colours(self) -> bool:
        """Tells whether answers may be coloured here; `NO_COLOR`, set to anything, forbids it (an open convention)."""
        return self.color and not os.environ.get("NO_COLOR")

    @classmethod
    def settings_customise_sources(
        cls,
        settings_cls: type[BaseSettings],
        init_settings: PydanticBaseSettingsSource,
        env_settings: PydanticBaseSettingsSource,
        dotenv_settings: PydanticBaseSettingsSource,
        file_secret_settings: PydanticBaseSettingsSource,
    ) -> tuple[PydanticBaseSettingsSource, ...]:
        """Returns the sources in their order, strongest first."""
        del dotenv_settings
        return init_settings, env_settings, file_secret_settings, TomlConfigSettingsSource(settings_cls)


SECRET_BYTES_MAX = 1_000


def secret_in(path: Path) -> str:
    """Returns the secret that a file holds.

    Raises:
        WrongUseError: it cannot be read, others may read it too, or it holds more than a secret.
    """
    try:
        if os.name == "posix" and path.stat().st_mode & 0o077:
            message = f"{path} can be read by others: take their rights away (chmod 600)."
            raise WrongUseError(message)
        with path.open("rb") as file:
            text = file.read(SECRET_BYTES_MAX + 1).decode().strip()
    except (OSError, UnicodeDecodeError) as fault:
        message = f"{path} cannot be read as a secret."
        raise WrongUseError(message) from fault
    if not text or len(text) > SECRET_BYTES_MAX or "\n" in text:
        message = f"{path} must hold one secret and nothing else."
        raise WrongUseError(message)
    return text
