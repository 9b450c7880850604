"""A bath failed its test: what lay in it since its last passed test, what became of it, and who wore it.

Run `reprocess serve --demo` first; it prints its address and a token. Then
`python3 examples/over_http/who_wore_it.py ADDRESS TOKEN`. Everything here is invented.
"""

from __future__ import annotations

import sys

from reprocess.client import Client


def main(address: str, token: str) -> None:
    """Asks from the bath to the items to the wearers, who are pseudonyms."""
    with Client(address, token=token) as client:
        bath = client.read("/solutions/LMG-B2")
        print(f"{bath['solution']} passed {bath['passed']} and failed {bath['failed']}.")

        trace = client.who_wore("solution", "LMG-B2")
        print("Items that it touched:", ", ".join(trace.items))
        print("Wearers:", ", ".join(trace.wearers) or "none on record")
        for use in trace.uses:
            print(f"  {use.wearer} had {use.item} from {use.since} until {use.until or 'now'}")

        for hold in client.read("/holds", sort="solution", limit=50)["holds"]:
            print(f"  {hold['item']}: {hold['cause']}; to lift it: {hold['lift_requires']}")


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
