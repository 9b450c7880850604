"""Dwells and the solutions they rest on: least times, films, temperatures, tests, by a second reading of the rules."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from tests.oracle import clocks, files
from tests.oracle.fold import Item, World
from tests.oracle.rows import Row

CHEMICAL = {"wet-contact", "immersion"}
ENDS = {"dwell-ended", "dwell-broken", "step-failed", "item-contaminated", "item-condemned", "item-lost"}
"""Entries after which an item is no longer in its bath."""


def of_start(world: World, item: Item, row: Row, step: files.File) -> Iterator[str]:
    """Yields what is wrong with the start of a dwell."""
    body, dwell = row["body"], step["dwell"]
    least = least_s(world, row, step, body.get("temp_c"))
    if least is None:
        yield f"the label allows nothing at {body.get('temp_c')} degC"
    elif body["least_s"] < least:
        yield f"{body['least_s']} s asked, {least} s needed"
    if dwell["kind"] in CHEMICAL:
        yield from why_not(world, row["station"], body["solution"], row["moment"][0], row["key"])
        if dwell["kind"] == "wet-contact" and body.get("film_s") != film_s(world, row, step):
            yield f"a film of {body.get('film_s')} s"
        yield from mixing(world, item, row["stream"].partition(":")[2], body["solution"])


def least_s(world: World, row: Row, step: files.File, temp_c: str | None) -> int | None:
    """Returns the least time of a dwell in seconds; None where the label does not allow it."""
    dwell, site = step["dwell"], world["sites"][world["stations"][row["station"]]["site"]]
    own = int(dwell.get("least_s", 0))
    if dwell["kind"] not in CHEMICAL:
        return own
    agent = agent_of(world, row["body"]["solution"])
    substitute = any(one["key"] == row["key"] and one["body"]["rule"] == "P14" for one in world.get("overrides", ()))
    if agent["agent"] not in dwell["agents"] and not substitute:
        return None
    if "temp_most_c" in dwell and not files.within(temp_c, None, dwell["temp_most_c"]):
        return None
    rows = [one for one in agent["claims"] if (one["claim"], one["method"]) == (dwell["claim"], dwell["method"])]
    fit = [one for one in rows if _governs(one, temp_c)]
    if not fit:
        return None
    # Nothing is interpolated: of the rows that fit, the one for the warmest bath governs.
    warmest = max(Decimal(one.get("temp_least_c", "-999")) for one in fit)
    label = max(int(one["contact_s"]) for one in fit if Decimal(one.get("temp_least_c", "-999")) == warmest)
    return max(label, own, site.get("contact_floor_s") or 0)


def _governs(row: files.File, temp_c: str | None) -> bool:
    free = "temp_least_c" not in row and "temp_most_c" not in row
    return free or files.within(temp_c, row.get("temp_least_c"), row.get("temp_most_c"))


def film_s(world: World, row: Row, step: files.File) -> int | None:
    """Returns how long a film stays wet: what the step says, else the label."""
    told = step["dwell"].get("film_life_s") or agent_of(world, row["body"]["solution"]).get("film", {}).get("life_s")
    return None if told is None else int(told)


def agent_of(world: World, solution: str) -> files.File:
    """Returns the agent of a bath or container, as it was made."""
    agent: files.File = world["files"][made(world, solution)["body"]["digest"]]
    return agent


def made(world: World, solution: str) -> Row:
    """Returns the entry by which a bath was last made up."""
    row: Row = [one for one in world["solutions"][solution] if one["kind"] == "solution-made"][-1]
    return row


def why_not(world: World, station: str, solution: str, now: int, key: str = "") -> Iterator[str]:
    """Yields why a solution must not be used for a contact that begins now (L01-L03)."""
    begun = made(world, solution)
    since = [one for one in world["solutions"][solution] if one["feed"] > begun["feed"]]
    agent = agent_of(world, solution)
    if begun["body"]["expires_us"] <= now:
        yield "the solution had expired"
    if any(one["kind"] == "solution-ended" for one in since):
        yield "the solution had ended"
    touched = [one for one in since if one["kind"] == "solution-touched" and one["key"] != key]
    if agent.get("keeping", {}).get("single_use") == "true" and touched:
        yield "the solution was used before"
    every = agent.get("strength", {}).get("test_every", "none")
    valid = [one for one in since if one["kind"] == "solution-tested" and one["body"]["valid"]]
    if valid and not valid[-1]["body"]["passed"]:
        yield "the solution had failed its test"
    if every == "none":
        return
    passes = [one for one in valid if one["body"]["passed"]]
    zone = world["sites"][world["stations"][station]["site"]]["zone"]
    if not passes:
        yield "the solution was never tested"
    elif clocks.local_date(zone, passes[-1]["moment"][0]) != clocks.local_date(zone, now):
        yield "the solution was not tested today"
    elif every == "use" and any(one["feed"] > passes[-1]["feed"] for one in touched):
        yield "the solution was not tested before this use"


def mixing(world: World, item: Item, name: str, solution: str) -> Iterator[str]:
    """Yields which chemical of this cycle must not meet the one that begins now (P15)."""
    agent = agent_of(world, solution)
    rinsed = max((held["number"] for step, held in item["satisfied"].items() if step.startswith("rinse")), default=0)
    for one in world["rows"][name]:
        still_on_it = one["kind"] == "dwell-started" and one["number"] > max(rinsed, item["contaminated"]["number"])
        if still_on_it and one["body"].get("agent") in agent.get("never_after", []):
            yield f"{agent['agent']} on {one['body']['agent']}"


def of_end(world: World, item: Item, row: Row, step: files.File) -> Iterator[str]:
    """Yields what is wrong with the end of a dwell (I3): time, film, temperature, bath."""
    if not item["dwell"]:
        return
    start, wet = item["dwell"]["start"], item["dwell"]["wet"]
    least = least_s(world, start, step, start["body"].get("temp_c"))
    if step["dwell"]["kind"] == "immersion":
        ending = least_s(world, start, step, row["body"].get("temp_c"))
        least = None if least is None or ending is None else max(least, ending)
    if least is None:
        yield f"the label allows nothing at {start['body'].get('temp_c')} or {row['body'].get('temp_c')} degC"
        return
    least_us = least * clocks.SECOND_US
    two = row["second"] is not None and row["second"] != row["actor"]
    film = film_s(world, start, step) if step["dwell"]["kind"] == "wet-contact" else None
    if row["body"].get("paper"):
        # Two times on a form are a pair of their own: countersigned, of this cycle, with no film between them (D05).
        if not two or row["occurred_us"] - start["occurred_us"] < least_us or (film or least) < least:
            yield f"a form tells of {row['occurred_us'] - start['occurred_us']} us, film {film}, two: {two}"
        if start["occurred_us"] < item["contaminated"]["moment"][0]:
            yield "a form tells of an earlier cycle"
        return
    if row["body"]["proven_s"] * clocks.SECOND_US > clocks.passed_us(start, row):
        yield f"{row['body']['proven_s']} s are said to be proven"
    confirmed = step["dwell"].get("unobserved") == "two-people" and two and clocks.wall_us(start, row) >= least_us
    if clocks.passed_us(start, row) < least_us and not confirmed:
        yield f"{clocks.passed_us(start, row)} us of {least} s"
    yield from _of_film(wet, row, least_us, film)
    yield from _of_bath_since(world, start, row)


def _of_film(wet: list[Row], end: Row, least_us: int, life_s: int | None) -> Iterator[str]:
    if life_s is None:
        return
    life_us = life_s * clocks.SECOND_US
    for mark, following in zip(wet, [*wet[1:], end], strict=True):
        gap = clocks.at_most_us(mark, following)
        enough = clocks.passed_us(wet[0], mark) + life_us >= least_us
        if (gap is None or gap > life_us) and not enough:
            yield f"the film was dry after {life_s} s, the next scan came after {gap} us"


def _of_bath_since(world: World, start: Row, end: Row) -> Iterator[str]:
    """Yields what happened to the bath while the item was in it (L05, L06)."""
    solution = start["body"].get("solution")
    since = [one for one in world["solutions"].get(solution, []) if one["feed"] > start["feed"]]
    if any(one["kind"] in {"solution-made", "solution-ended"} for one in since):
        yield "the solution ended meanwhile"
    if any(one["kind"] == "solution-tested" and failed(one) for one in since):
        yield "the solution failed its test meanwhile"
    void = solution and agent_of(world, solution).get("expiry_mid_soak", "void") == "void"
    if void and made(world, solution)["body"]["expires_us"] <= end["moment"][0]:
        yield "the solution expired meanwhile"


def failed(test: Row) -> bool:
    """Tells whether a test says that the solution is too weak."""
    return bool(test["body"]["valid"] and not test["body"]["passed"])


def passed(test: Row) -> bool:
    """Tells whether a test says that the solution is strong enough, and counts."""
    return bool(test["body"]["valid"] and test["body"]["passed"])


def start_of(world: World, held: Row) -> Row | None:
    """Returns the entry with which the dwell began that this one ended."""
    if held["kind"] != "dwell-ended":
        return None
    rows = world["rows"][held["stream"].partition(":")[2]][: held["number"] - 1]
    step = held["body"]["step"]
    return next((one for one in reversed(rows) if one["kind"] == "dwell-started" and one["body"]["step"] == step), None)


def failed_since(world: World, held: Row) -> Iterator[str]:
    """Yields the failed test that reaches back to a contact: no valid pass lies between the two (L07)."""
    start = start_of(world, held)
    solution = start["body"].get("solution") if start else None
    tests = [one for one in world["solutions"].get(solution, []) if one["kind"] == "solution-tested"]
    for test in tests:
        between = [one for one in tests if held["feed"] < one["feed"] < test["feed"] and passed(one)]
        if start and test["feed"] > start["feed"] and failed(test) and not between:
            yield f"the solution failed its test, entry {test['feed']}"


def not_broken(world: World, end: Row) -> Iterator[str]:
    """Yields the items that are still said to be in contact in a solution that ended (L06)."""
    solution = end["stream"].partition(":")[2]
    for name, item in world["items"].items():
        if item["dwell"] and item["dwell"]["start"]["body"].get("solution") == solution:
            yield f"{name} goes on in {solution}, which ended"


def not_held_long(world: World, end: Row) -> Iterator[str]:
    """Yields that a contact ran past its greatest time and the item was not held for it (T06, E02)."""
    start = start_of(world, end)
    most_s = start["body"].get("greatest_s") if start else None
    lasted = clocks.at_most_us(start, end) if start else None
    if most_s is None or lasted is None or lasted <= most_s * clocks.SECOND_US or end["body"].get("paper"):
        return
    item = world["items"][end["stream"].partition(":")[2]]
    if not any(hold["key"] == end["key"] and hold["body"]["rule"] == "T06" for hold in item["holds"].values()):
        yield f"{end['stream']} was {lasted} us in contact and is not held"


def not_held(world: World, test: Row) -> Iterator[str]:
    """Yields the items that were in a solution since its last valid pass and are not held, stage or not (L07).

    What an earlier failure of the same solution reached was held then, and is not held again (E25).
    """
    solution = test["stream"].partition(":")[2]
    settled = [
        one["feed"]
        for one in world["solutions"][solution]
        if one["kind"] == "solution-tested" and one["body"]["valid"] and one["feed"] < test["feed"]
    ]
    since = max([made(world, solution)["feed"], *settled])
    for name, rows in world["rows"].items():
        undone = {number for one in rows if one["kind"] == "entry-undone" for number in one["body"]["numbers"]}
        left = [one for one in rows if one["number"] not in undone and one["feed"] < test["feed"]]
        for number, start in enumerate(left):
            if start["kind"] == "dwell-started" and start["body"].get("solution") == solution:
                ends = (one["feed"] for one in left[number + 1 :] if one["kind"] in ENDS)
                end = next(ends, test["feed"])
                item = world["items"][name]
                held = [one for one in item["holds"].values() if one["body"]["sort"] == "solution"]
                if end > since and not held and item["aside"] != "condemned":
                    yield f"{name} was in {solution} and is not held"


def of_test(world: World, solution: str, row: Row) -> Iterator[str]:
    """Yields what is wrong with how a strip test was judged (M05, L08)."""
    body, now = row["body"], row["moment"][0]
    strength: dict[str, Any] = agent_of(world, solution).get("strength", {})
    valid = body["strip_expiry_us"] > now
    if "read_after_least_s" in strength or "read_after_most_s" in strength:
        read = body.get("read_after_s")
        limits = strength.get("read_after_least_s"), strength.get("read_after_most_s")
        valid = valid and read is not None and files.within(str(read), *limits)
    if body["valid"] and not valid:
        yield "an invalid test counts"
    if (
        body["passed"]
        and body.get("reading") is not None
        and not files.within(body["reading"], strength.get("least"), None)
    ):
        yield f"{body['reading']} passes"


def of_making(world: World, solution: str, row: Row) -> Iterator[str]:
    """Yields what is wrong with how long a solution may be used (L01, L02)."""
    body, keeping = row["body"], world["files"][row["body"]["digest"]].get("keeping", {})
    days = keeping.get("reuse_days") or keeping.get("opened_days")
    most = [body["lot_expiry_us"]] + ([row["moment"][0] + int(days) * 86_400 * clocks.SECOND_US] if days else [])
    if body["expires_us"] > min(most):
        yield "it expires too late"
