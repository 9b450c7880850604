"""`python3 -m reprocess`: the command line and, in a bare clone, the set-up before it.

Until the packages are known to be there, nothing but the standard library may be imported here.
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

#: One module of each package that pyproject.toml asks for (a house test compares them).
REQUIRED = (
    "apscheduler",
    "argon2",
    "authlib",
    "babel",
    "biip",
    "cryptography",
    "fastapi",
    "fastapi_swagger",
    "httpx2",
    "jinja2",
    "orjson",
    "prometheus_client",
    "psycopg",
    "pydantic",
    "pydantic_settings",
    "ruamel",
    "sqlalchemy",
    "structlog",
    "transitions",
    "typer",
    "typst",
    "tzdata",
    "uvicorn",
    "zxingcpp",
)
CLONE = Path(__file__).resolve().parent.parent
EXIT_SET_UP_FAILED = 3


def main() -> None:
    """Run the command line, in the clone's own environment if this one lacks the packages."""
    missing = [name for name in REQUIRED if importlib.util.find_spec(name) is None]
    if missing:
        set_up_and_go_on(missing)
    from reprocess.commandline.main import run  # noqa: PLC0415 - it imports what may be missing

    sys.exit(run())


def set_up_and_go_on(missing: list[str]) -> None:
    """Start this command again in the clone's environment; end with code 3 if there is none."""
    bootstrap_file = CLONE / ".ci" / "bootstrap.py"
    spec = importlib.util.spec_from_file_location("bootstrap", bootstrap_file)
    in_own_environment = Path(sys.prefix).resolve().parent == CLONE
    if spec is None or spec.loader is None or in_own_environment or not bootstrap_file.is_file():
        remedy = f"remove {sys.prefix} and try again" if in_own_environment else "install it again"
        print(f"reprocess lacks {', '.join(missing)}: {remedy}.", file=sys.stderr)
        sys.exit(EXIT_SET_UP_FAILED)
    bootstrap = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(bootstrap)
    bootstrap.continue_in("run", "reprocess")


if __name__ == "__main__":
    main()
