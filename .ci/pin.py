"""Write the pinned, hashed lists of .ci/requirements anew from pyproject.toml.

    python3 .ci/pin.py [--upgrade]

Without `--upgrade` a version changes only where pyproject.toml asks for it. The lists serve every
operating system and Python from 3.11 on, and name no package index: everyone uses their own.
"""

import os
import sys

import bootstrap

# A list -> what of pyproject.toml it pins.
SOURCES = {
    "run": ["pyproject.toml", "--extra", "desk", "--group", "install"],
    "dev": ["pyproject.toml", "--group", "dev"],
    "uv": ["--group", "pyproject.toml:uv"],
}
FORM = ["--universal", "--generate-hashes", "--no-header", "--no-annotate", "--no-emit-index-url"]


def pin(options: list[str]) -> None:
    """Write every list, with further options for `uv pip compile`."""
    settings, _ = bootstrap.uv_settings(bootstrap.pip_settings(), os.environ)
    for name in ("UV_EXTRA_INDEX_URL", "UV_FIND_LINKS"):
        settings.pop(name, None)  # a list made of what one machine keeps would serve only there
    uv = str(bootstrap.uv_program())
    for name, sources in SOURCES.items():
        output = ["--output-file", str(bootstrap.PINNED / f"{name}.txt")]
        command = [uv, "pip", "compile", "--python-version", "3.11", *FORM, *options, *sources]
        bootstrap.run([*command, *output], settings)


if __name__ == "__main__":
    pin(sys.argv[1:])
