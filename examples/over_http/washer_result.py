"""A washer reports the end of its load by itself, with the record of its logger; the result is signed.

The department knows the washer as a source, in its `reprocess.toml`:

    [sources.washer-1]
    sort = "washer"
    instrument = "WD-1"
    logger = "LG-1"
    station = "LMG-D1"
    checks = ["cycle-whole"]
    secret_files = ["washer-1.secret"]

and the file holds a secret: `whsec_` and 32 random bytes in Base64. Run `reprocess serve --demo` beside it; it prints
its address and a token. Then `python3 examples/over_http/washer_result.py ADDRESS TOKEN whsec_...`. All is invented.
"""

from __future__ import annotations

import sys

from reprocess.client import Client

DIRTY = {"station": "LMG-D1", "badge": "B-MT"}
OFFICE = {"station": "LMG-C2", "badge": "B-HQ"}


def main(address: str, token: str, secret: str) -> None:
    """Sets a washer up, loads it, and lets it report."""
    with Client(address, token=token) as client:
        set_up(client)
        client.commission("BWL-1", "washer-load", "LB-1", **OFFICE)
        client.log_step("BWL-1", "pre-rinse", checks={"nothing-left": True}, reason="a small bowl", **DIRTY)
        seen = dict.fromkeys(("daily-test", "all-bear-heat", "well-placed", "counted-in"), True)
        client.log_step("BWL-1", "load", checks=seen, **DIRTY)
        for path, body in (
            ("/loads", {"load": "LD-101", "machine": "WD-1", "programme": "P90"}),
            ("/loads/LD-101/items", {"items": ["BWL-1"]}),
            ("/loads/LD-101/start", {}),
        ):
            answer = client.ask(path, body | DIRTY)
            print(path, answer.verdict, *(reason.sentence for reason in answer.reasons))

        # What the machine knows, it reports; what a person must see, a person says afterwards. Nothing ran here, so the
        # department will not believe a record of 60 s: it says so, and the load has ended without having passed.
        result = {
            "sort": "washer",
            "load": "LD-101",
            "record": "seconds,degC\n" + "".join(f"{second},90\n" for second in range(0, 70, 10)),
            "readings": {"wash_min": "5", "detergent_ml": "100"},
            "checks": {"cycle-whole": True},
        }
        ended = client.post_result("washer-1", secret, result, key="washer-1-cycle-4711")
        print("result:", ended.verdict, *(f"{one.rule}: {one.sentence}" for one in ended.reasons))
        print("sent again:", client.post_result("washer-1", secret, result, key="washer-1-cycle-4711").repeated)
        print("the load:", client.read("/loads/LD-101")["state"])


def set_up(client: Client) -> None:
    """Registers the washer and its logger, both tested today, and one programme."""
    for instrument, sort in (("WD-1", "washer"), ("LG-1", "temperature-logger")):
        client.ask("/instruments", {"instrument": instrument, "sort": sort, "site": "LMG"} | OFFICE)
        passed = {"until": "2027-02-28T00:00:00Z", "reference": "test of the day"}
        version = client.version(f"/instruments/{instrument}")
        client.ask(f"/instruments/{instrument}/verified", passed | OFFICE, version=version)
    programme = {"programme": "P90", "hottest_c": "93", "lasts_s": 60, "second_badge": "B-BO"}
    client.ask("/machines/WD-1/programmes", programme | OFFICE, version=client.version("/instruments/WD-1"))


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], sys.argv[3])
