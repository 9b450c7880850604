"""Makes a new blower known, asks what may come next, and reports that it was dropped.

Run `reprocess serve --demo` first; it prints its address and a token. Then
`python3 examples/over_http/register_a_part.py ADDRESS TOKEN`. Everything here is invented.
"""

from __future__ import annotations

import sys

from reprocess.client import Client


def main(address: str, token: str) -> None:
    """Registers one part twice under one key, and reads it."""
    with Client(address, token=token) as client:
        # A token that may claim badges says who stands behind the request: here the supervisor, at her bench.
        by_hedda = {"station": "LMG-C2", "badge": "B-HQ"}
        made = client.commission(
            "BLW-0501", "blower", "LB-3", serial="L3-0501", key="import-2026-03-05-0501", **by_hedda
        )
        print("first:", made.verdict, "- repeated:", made.repeated)
        # A lost answer is no trouble: the same key gives the same answer, and one entry.
        again = client.commission(
            "BLW-0501", "blower", "LB-3", serial="L3-0501", key="import-2026-03-05-0501", **by_hedda
        )
        print("again:", again.verdict, "- repeated:", again.repeated)

        print("stage:", client.item("BLW-0501")["stage"])
        for action in client.next_steps("BLW-0501", station="LMG-D1", badge="B-MT")["actions"]:
            why = "; ".join(reason["sentence"] for reason in action["reasons"])
            print(f"  {action['step']}: {action['state']} {why}".rstrip())

        # A fact is never refused, and needs nobody's badge.
        dropped = client.report_contamination("BLW-0501", "dropped", station="LMG-HATCH")
        print("dropped:", dropped.verdict, "- on record:", dropped.on_record)
        # An advance may be refused: the answer says why and what to do.
        hasty = client.log_step("BLW-0501", "inspect", station="LMG-C1", badge="B-PV")
        for reason in hasty.reasons:
            print(f"  {reason.rule}: {reason.sentence} {reason.next_action}")


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
