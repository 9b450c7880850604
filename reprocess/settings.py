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


class SubscriptionSettings(BaseModel):
    """Is where subscriptions may lead at all; whoever makes one cannot go beyond it.

    Attributes:
        hosts: the hosts that may be reached.
        private: those of them whose address may be a private one; only they may be reached without TLS.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    hosts: Annotated[tuple[Text, ...], Field(max_length=50)] = ()
    private: Annotated[tuple[Text, ...], Field(max_length=50)] = ()


class SourceSettings(BaseModel):
    """Is a machine outside that reports results by itself.

    Attributes:
        sort: what it reports: the end of loads, charging, or readings of places.
        instrument: the instrument on record that it speaks for.
        station: where its entries are made.
        secret_files: files that hold one `whsec_` secret each, the one in use first.
        checks: the checks of a load that the machine itself answers; none where left out.
        logger: the instrument that records its loads, where that is another one.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    sort: Literal["washer", "charger", "sensor"]
    instrument: Text
    station: Text
    secret_files: Annotated[tuple[Path, ...], Field(min_length=1, max_length=2)]
    checks: Annotated[tuple[Text, ...], Field(max_length=50)] = ()
    logger: Text | None = None


class ServiceSettings(BaseModel):
    """Is how `reprocess serve` answers over HTTP; the command's options come before it.

    Attributes:
        host: the address to listen at.
        port: the port to listen at; 0 takes a free one.
        names: further names under which this server is asked; loopback and its own address always are.
        trusted_proxies: addresses or networks of proxies whose `X-Forwarded-...` headers are believed.
        connections_most: connections that may be open at once.
        stop_s: seconds that requests in work get when the node stops.
        rate_per_s: requests a second of one session or token, over a longer time.
        burst: requests of one session or token at once.
        unknown_per_s: requests a second of one address without a session or token.
        unknown_burst: requests of one address without a session or token at once.
        metrics_on_loopback: whether this computer itself may read the metrics without a token.
        disk_free_mib: with less free space than this the node says that it is not ready.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    host: Text = "127.0.0.1"
    port: Annotated[int, Field(ge=0, lt=65_536)] = 8470
    names: Annotated[tuple[Text, ...], Field(max_length=50)] = ()
    trusted_proxies: Annotated[tuple[Text, ...], Field(max_length=50)] = ()
    connections_most: Annotated[int, Field(ge=10, le=20_000)] = 1000
    stop_s: Annotated[int, Field(ge=0, le=300)] = 10
    rate_per_s: Annotated[int, Field(ge=1, le=100_000)] = 100
    burst: Annotated[int, Field(ge=1, le=100_000)] = 500
    unknown_per_s: Annotated[int, Field(ge=1, le=100_000)] = 20
    unknown_burst: Annotated[int, Field(ge=1, le=100_000)] = 100
    metrics_on_loopback: bool = False
    disk_free_mib: Annotated[int, Field(ge=1, le=1_000_000)] = 200


class SignOnSettings(BaseModel):
    """Is the organisation's own sign-on (OpenID Connect) for supervisors' desks.

    Attributes:
        issuer: its address; without TLS only on this computer.
        client_id: what this department is called there.
        secret_file: a file that holds the client's secret alone and that only its owner may read.
        back: the address to which it sends the browser back; it ends in `/v1/single-sign-on/back`.
        claim: the member of its ID token that says who somebody is.
        people: persons on record by that member's value; where it is left out, the value is the person's id.
        stations: the desks at which it may be used.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    issuer: Text
    client_id: Text
    secret_file: Path
    back: Text
    claim: Text = "sub"
    people: dict[str, Text] = {}
    stations: Annotated[tuple[Text, ...], Field(min_length=1, max_length=200)]


class Settings(BaseSettings):
    """Is what a command takes from its surroundings where no option says it.

    Order: options over `REPROCESS_*` variables over `reprocess.toml` in the working folder over these defaults.

    Attributes:
        department: the department's database file, or its address: `postgresql://role@host/database`.
        owner: on a server, the address with the role that owns the tables; only for founding and for newer schemas.
        key_file: on a server, the file of the key, on every computer that works there; `<database>.key` where absent.
        password_file: on a server, a file with the role's password, where the driver does not find it by itself.
        station: the station at which commands are given.
        badge: the badge with which they are given.
        color: whether answers may be coloured; `NO_COLOR` switches it off too.
        email: the mail server that reminders are handed to; none where left out.
        webhook: the web address that they are posted to; none where left out.
        subscriptions: the hosts to which subscriptions may lead; none where left out.
        sources: the machines that report results by themselves, by the name in their address.
        service: how `reprocess serve` answers over HTTP.
        sign_on: the organisation's own sign-on for supervisors' desks; none where left out.
    """

    model_config = SettingsConfigDict(env_prefix="REPROCESS_", extra="ignore", toml_file=SETTINGS_FILE)

    department: Annotated[str, StringConstraints(min_length=1, max_length=1000)] = "department.db"
    owner: Annotated[str, StringConstraints(max_length=1000)] | None = None
    key_file: Path | None = None
    password_file: Path | None = None
    station: Annotated[str, StringConstraints(max_length=64)] | None = None
    badge: Annotated[str, StringConstraints(max_length=64)] | None = None
    color: bool = True
    email: EmailSettings | None = None
    webhook: WebhookSettings | None = None
    subscriptions: SubscriptionSettings = SubscriptionSettings()
    sources: Annotated[dict[str, SourceSettings], Field(max_length=500)] = {}
    service: ServiceSettings = ServiceSettings()
    sign_on: SignOnSettings | None = None

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
