"""Copies the record entry by entry, in its one order, and goes on where it stopped.

Run `reprocess serve --demo` first; it prints its address and a token. Then
`python3 examples/over_http/follow_the_feed.py ADDRESS TOKEN [AFTER]`. Everything here is invented.
"""

from __future__ import annotations

import sys

from reprocess.client import Client


def main(address: str, token: str, after: int) -> None:
    """Reads everything after a number, counts it by type, and says where to go on."""
    with Client(address, token=token) as client:
        counts: dict[str, int] = {}
        last = after
        for entry in client.entries(after):
            # What this token may not see is there as a number only, so that nothing is missed unnoticed.
            name = entry.type or "withheld"
            counts[name] = counts.get(name, 0) + 1
            last = entry.feed
        for name, count in sorted(counts.items()):
            print(f"{count:5} {name}")
        print(f"Go on after {last}.")

        # `client.follow(last)` waits for what comes next, for as long as it is asked.
        client.report_contamination("BLW-047", "dropped", station="LMG-HATCH")
        for entry in client.follow(last):
            print(entry.feed, entry.type, entry.stream)
            if entry.stream == "item:BLW-047":
                break


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], int(sys.argv[3]) if sys.argv[3:] else 0)
