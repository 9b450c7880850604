"""The only place that reads the environment: where the department's file lies and how a station is called."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated

from pydantic import StringConstraints
from pydantic_settings import BaseSettings, PydanticBaseSettingsSource, SettingsConfigDict, TomlConfigSettingsSource

SETTINGS_FILE = "reprocess.toml"


class Settings(BaseSettings):
    """Is what a command takes from its surroundings where no option says it.

    Order: options over `REPROCESS_*` variables over `reprocess.toml` in the working folder over these defaults.

    Attributes:
        department: the department's database file.
        station: the station at which commands are given.
        badge: the badge with which they are given.
        color: whether answers may be coloured; `NO_COLOR` switches it off too.
    """

    model_config = SettingsConfigDict(env_prefix="REPROCESS_", extra="ignore", toml_file=SETTINGS_FILE)

    department: Path = Path("department.db")
    station: Annotated[str, StringConstraints(max_length=64)] | None = None
    badge: Annotated[str, StringConstraints(max_length=64)] | None = None
    color: bool = True

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
