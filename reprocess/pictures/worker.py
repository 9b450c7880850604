"""Draws one description and ends: reads Vega-Lite's JSON, writes SVG.

It is started as a script of its own and imports nothing of ours, so that what draws (a whole JavaScript engine) lives
in a process of its own and is gone with it.
"""

import sys


def main() -> int:  # pragma: no cover - it runs in a process of its own
    """Draw what stands on the standard input; 0 where it could be drawn."""
    import vl_convert  # noqa: PLC0415 - a process that only asks for `main` does not start the engine

    sys.stdin.reconfigure(encoding="utf-8")  # type: ignore[union-attr]
    sys.stdout.reconfigure(encoding="utf-8")  # type: ignore[union-attr]
    sys.stdout.write(vl_convert.vegalite_to_svg(sys.stdin.read(), vl_version="6.4", allowed_base_urls=[]))
    return 0


if __name__ == "__main__":  # pragma: no cover - as above
    sys.exit(main())
