"""One used blower on the demo's bench: what is refused, and the way to disinfected.

Run `reprocess demo` first, then `python3 examples/one_blower.py larkmoor-demo.db`. Everything here is invented.
"""

from __future__ import annotations

import sys

from reprocess import open_department


def main(path: str) -> None:
    """Tries to disinfect a blower that was not cleaned, then does it in order."""
    with open_department(path) as department:
        bench = department.station("LMG-D1", badge="B-MT")
        early = bench.start("BLW-045", "disinfect", solution="LMG-W1")
        print(early.verdict, early.rules(), "- next:", ", ".join(early.next_steps))

        apart = dict.fromkeys(("filters-off", "battery-off", "tube-off", "outlet-capped"), True)
        print(bench.log("BLW-045", "take-apart", checks=apart, counts={"plugs": 3}).verdict)
        hurried = bench.log("BLW-045", "clean")
        print(hurried.verdict, hurried.rules())
        print(bench.log("BLW-045", "clean", reason="only dusted, one wipe was enough").verdict)
        print(bench.log("BLW-045", "clean-check", checks={"no-soil": True}).verdict)

        started = bench.start("BLW-045", "disinfect", solution="LMG-W1")
        print(started.verdict, "- seconds left:", started.clock.left_s if started.clock else None)
        ended = bench.end("BLW-045", "disinfect")
        print(ended.verdict, ended.rules(), "- seconds left:", ended.reasons[0].wait_s)
        print("stage now:", department.item("BLW-045").stage, "- record sound:", department.verify().sound)


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "larkmoor-demo.db")
