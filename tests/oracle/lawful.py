"""Whether an entry was lawful when it was written, by a second reading of the rules; each fault is one sentence."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from tests.oracle import clocks, contact, files
from tests.oracle.fold import Item, World, stage
from tests.oracle.rows import Row

DAY_US = 86_400 * clocks.SECOND_US
UNDO_S = 60
CLEANING = ("long-clean", "clean", "launder")
"""Steps with which cleaning begins (T11)."""
RENEWED = {"defect", "over-exposed", "solution", "load", "missing-part"}
"""Holds that end only after a new inspection (T06, H10)."""
ANYBODY = {"supervisor", "programme-administrator", "infection-prevention", "clinical-engineer"}
"""Who may be the second of two people that pass over a rule."""
RISING = {"dwell-started", "dwell-wetted", "dwell-ended", "step-done", "item-released"}
"""Entries that bring an item nearer to ready."""


@dataclass(frozen=True, slots=True)
class Case:
    """Is one entry before the world that it was written into."""

    world: World
    item: Item
    row: Row
    name: str

    @property
    def body(self) -> dict[str, Any]:
        """Returns what the entry says."""
        body: dict[str, Any] = self.row["body"]
        return body

    @property
    def workflow(self) -> files.File:
        """Returns the workflow of the item's cycle."""
        workflow: files.File = self.world["files"][self.item["digest"]]
        return workflow

    @property
    def step(self) -> files.File:
        """Returns the step that the entry is about."""
        return files.steps_of(self.workflow)[self.body["step"]]

    @property
    def place(self) -> dict[str, Any]:
        """Returns the station at which it was asked."""
        place: dict[str, Any] = self.world["stations"][self.row["station"]]
        return place

    @property
    def two(self) -> bool:
        """Tells whether a second, different person signed."""
        return self.row["second"] is not None and self.row["second"] != self.row["actor"]


def faults(world: World, row: Row) -> Iterator[str]:
    """Yields what is wrong with an entry, given the world before it."""
    kind, _, name = row["stream"].partition(":")
    label = f"{row['stream']}/{row['number']} {row['kind']} {row['body'].get('step', '')}"
    if row["kind"] == "override-used":
        yield from (f"{label}: {told}" for told in _of_override(world, row))
    elif kind == "item" and row["kind"] != "item-commissioned":
        yield from (f"{label}: {told}" for told in _of_item(Case(world, world["items"][name], row, name)))
    elif row["kind"] in {"solution-tested", "solution-made"}:
        if row["actor"] is None and row["body"].get("passed", True) and row["body"].get("valid", True):
            yield f"{label}: by nobody"
        judge = contact.of_test if row["kind"] == "solution-tested" else contact.of_making
        yield from (f"{label}: {told}" for told in judge(world, name, row))


def of_request(world: World, new: list[Row]) -> Iterator[str]:
    """Yields what is wrong after all entries of one request: what they should have reached and did not (I7)."""
    for row in new:
        if row["kind"] == "solution-tested" and contact.failed(row):
            yield from contact.not_held(world, row)
        if row["kind"] == "solution-ended":
            yield from contact.not_broken(world, row)
        if row["kind"] == "dwell-ended":
            yield from contact.not_held_long(world, row)
        if row["kind"] == "advance-refused":
            yield from _of_interruption(world, row)
        if row["kind"] == "step-failed":
            yield from _of_failure(world, row)
        if row["kind"] == "fact-noted" and row["body"]["asked"] == "report-method":
            yield from _of_method(world, row)
        if row["kind"] == "assembly-dissolved":
            parts = row["body"]["members"].values()
            yield from (f"{part} is ready" for part in parts if stage(world, world["items"][part]) == "ready")
    for name in {row["stream"].partition(":")[2] for row in new if row["stream"].startswith("item:")}:
        item = world["items"][name]
        if item["aside"] is None:
            workflow = world["files"][item["digest"]]
            for step in item["satisfied"]:
                gone = files.needs(workflow, step, item["class"]) - set(item["satisfied"])
                if gone:
                    yield f"{name}: {step} stands without {sorted(gone)}"
        wholes = [item["assembly"]] if item["assembly"] else []
        for whole in [name, *wholes]:
            yield from _of_whole(world, whole)


def _of_interruption(world: World, row: Row) -> Iterator[str]:
    """Yields that a scan at another step left a contact running that was not long enough yet (T04, E04)."""
    item = world["items"].get(row["body"]["subject"].partition(":")[2])
    running = item["dwell"] if item and row["body"]["asked"] in {"do-step", "start-dwell"} else None
    if running and running["start"]["body"]["step"] != row["body"].get("step"):
        start = running["start"]
        early = clocks.passed_us(start, row) < start["body"]["least_s"] * clocks.SECOND_US
        if early and start["body"]["dwell"] in contact.CHEMICAL:
            yield f"{row['body']['subject']} goes on in contact although it was scanned elsewhere"


def _of_failure(world: World, row: Row) -> Iterator[str]:
    """Yields that a defect which asks for a hold was found and the item is not held (H01)."""
    item = world["items"][row["stream"].partition(":")[2]]
    step = files.steps_of(world["files"][item["digest"]])[row["body"]["step"]]
    asked = files.holding(step, set(row["body"]["defects"]), row["body"].get("checks", {}))
    if asked and item["aside"] is None and not any(hold["key"] == row["key"] for hold in item["holds"].values()):
        yield f"{row['stream']} has {sorted(asked)} and is not held"


def _of_method(world: World, row: Row) -> Iterator[str]:
    """Yields that a forbidden method was only noted (P12)."""
    item = world["items"].get(row["body"]["subject"].partition(":")[2])
    if item and item["aside"] != "condemned":
        never = [one["method"] for one in world["files"][item["digest"]].get("never", [])]
        if row["body"].get("words", {}).get("method") in never:
            yield f"{row['body']['words']['method']} was only noted"


def _of_whole(world: World, name: str) -> Iterator[str]:
    """Yields the parts for which an assembly must not stand at ready."""
    whole = world["items"][name]
    if not whole["members"] or stage(world, whole) != "ready" or whole["holds"]:
        return
    for part in whole["members"].values():
        member = world["items"][part]
        if stage(world, member) != "ready" or member["holds"]:
            yield f"{name} is ready, its {part} is {stage(world, member)}, held by {sorted(member['holds'])}"


def _of_item(case: Case) -> Iterator[str]:
    kind = case.row["kind"]
    if kind in RISING:
        yield from _of_order(case)
        yield from _of_people(case)
        if case.item["out"]:
            yield "worked on while it is out"
    if kind in {"step-done", "dwell-ended", "item-released"}:
        yield from _of_evidence(case, case.step, case.row)
    if kind in {"step-done", "dwell-started"}:
        yield from _of_delay(case)
    match kind:
        case "step-done" if "dwell" in case.step and case.body["evidence"] != "attested":
            yield "a dwell was ticked"
        case "step-done":
            yield from _of_promptness(case, case.row)
            yield from _of_instrument(case)
        case "dwell-started":
            yield from _of_promptness(case, case.row)
            yield from _of_instrument(case)
            yield from contact.of_start(case.world, case.item, case.row, case.step)
        case "dwell-ended":
            yield from contact.of_end(case.world, case.item, case.row, case.step)
        case "wear-step-done" if case.body["phase"] == "put-on":
            yield from _of_putting_on(case)
        case "part-swapped":
            yield from _of_swap(case)
        case "item-issued":
            yield from _of_issue(case)
        case "item-sent" | "item-lent" if case.item["out"]:
            yield "sent or lent while it is out"
        case "item-released":
            yield from _of_release(case)
        case "entry-undone":
            yield from _of_undo(case)
        case "entry-corrected":
            yield from _of_correction(case)
        case "hold-lifted":
            yield from _of_lift(case)
        case "item-condemned" if not case.two and not (case.workflow.get("single_wearer") and case.item["used"]):
            yield "condemned by one person alone"
        case "item-contaminated" if case.item["class"] != "routine" and case.body["contamination_class"] == "routine":
            if stage(case.world, case.item) != "ready":
                yield f"what was {case.item['class']} is routine without having been processed"
        case "assembly-built":
            yield from _of_members(case, case.body["members"], case.body["digest"])
        case _:
            pass


def _of_order(case: Case) -> Iterator[str]:
    item, step = case.item, case.step
    missing = files.needs(case.workflow, step["step"], item["class"]) - set(item["satisfied"])
    if missing:
        yield f"{sorted(missing)} not satisfied before"
    if item["aside"]:
        yield f"the item is {item['aside']}"
    if step.get("new_only") == "true" and item["used"]:
        yield "the item was used before"
    if not files.exists_for(step, item["class"]):
        yield f"not a step of {item['class']} items"
    running = item["dwell"]["start"]["body"]["step"] if item["dwell"] else None
    if case.row["kind"] == "dwell-started" and running:
        yield f"while {running} runs"
    if case.row["kind"] in {"dwell-wetted", "dwell-ended"} and running != step["step"]:
        yield "no such dwell runs"


def _of_people(case: Case) -> Iterator[str]:
    step, row, place = case.step, case.row, case.place
    if len({place["side"], step.get("zone", "any")} - {"any"}) == 2:
        yield f"at a {place['side']} station"
    needed = str(step.get("competency", step["step"]))
    begun = (
        [case.item["dwell"]["start"]] if row["kind"] in {"dwell-ended", "dwell-wetted"} and case.item["dwell"] else []
    )
    own = [start for start in begun if start["actor"] == row["actor"]]
    learns = case.two and may(case, row["second"], needed, row["moment"][0])
    levels = (None, "trainee") if learns else (None,)
    if not any(may(case, row["actor"], needed, at["moment"][0], level) for at in [row, *own] for level in levels):
        yield f"{row['actor']} may not"
    barred = [other for other in step.get("not_by", []) if row["actor"] in case.item["hands"].get(other, ())]
    if barred and not case.world["sites"][place["site"]].get("self_inspection"):
        yield f"{row['actor']} had a hand in {barred}"
    if step.get("two_people") == "true" and not case.two:
        yield "alone, where two are needed"


def may(case: Case, person: str | None, competency: str, at_us: int, level: str | None = None) -> bool:
    """Tells whether a person works here and held a competency for the item's kind and model at an instant.

    A trainee's counts only beside a competent person, and never for temporary staff (A03, A04).
    """
    kind, model = case.item["item_kind"], case.item.get("model")
    if level == "trainee" and case.world["people"].get(person, {}).get("temporary"):
        return False
    return _works_here(case, person) and any(
        one["competency"] == competency
        and one.get("level") == level
        and (one.get("models") is None or model in one["models"])
        and (not one.get("item_kinds") or kind in one["item_kinds"])
        and one["from_us"] <= at_us < one["until_us"]
        for one in case.world["people"][person]["granted"]
    )


LOOSE = {
    "A09": ({"unit-coordinator"}, {"programme-administrator"}),
    "C11": ({"supervisor", "programme-administrator"}, None),
    "G11": ({"supervisor"}, ANYBODY),
    "U14": ({"supervisor", "programme-administrator"}, None),
    "D05": ({"supervisor"}, None),
    "D06": ({"supervisor"}, ANYBODY),
    "M09": ({"supervisor"}, None),
    "P14": ({"programme-administrator"}, {"infection-prevention"}),
    "T12": ({"programme-administrator"}, ANYBODY),
}
"""Rules that people may pass over in these scripts: one with such a role, and another one with such a role (OV2)."""


def overridden(world: World, row: Row, rule: str) -> bool:
    """Tells whether people who may passed over this rule for this very request (OV1, OV2)."""
    return any(one["key"] == row["key"] and one["body"]["rule"] == rule for one in world.get("overrides", ()))


def _of_override(world: World, row: Row) -> Iterator[str]:
    """Yields what is wrong with an override: its rule, its people, its end or its statement (C20)."""
    body = row["body"]
    if body["rule"] not in LOOSE:
        yield f"{body['rule']} was passed over"
        return
    first, second = LOOSE[body["rule"]]
    roles = [set(world["people"][one]["roles"]) for one in body["authorised"]]
    if len(set(body["authorised"])) != len(roles) or len(roles) != (1 if second is None else 2):
        yield f"passed over by {body['authorised']}"
    elif not roles[0] & first or (second is not None and not roles[1] & second):
        yield "passed over by people without the roles"
    if body["rule"] == "P14" and not 0 < (body.get("until_us") or 0) - row["moment"][0] <= 30 * DAY_US:
        yield "a substitute without an end"
    if body["rule"] == "T12" and not body.get("reference"):
        yield "a longer life without a statement"


def _works_here(case: Case, person: str | None) -> bool:
    known = case.world["people"].get(person)
    return bool(known and known["active"] and (not known["sites"] or case.place["site"] in known["sites"]))


def _of_evidence(case: Case, step: files.File, row: Row) -> Iterator[str]:
    """Yields what is wrong with the answers, readings and counts of a step, as corrected since."""
    corrected = case.item["corrected"].get(row["number"], {})
    said = {key: row["body"].get(key, {}) | corrected.get(key, {}) for key in ("checks", "readings", "counts")}
    for line in step.get("checks", []):
        if said["checks"].get(line["check"]) is not True:
            yield f"{line['check']} was not answered yes"
    for line in step.get("readings", []):
        value = said["readings"].get(line["reading"])
        if value is None and line.get("required") == "false":
            continue
        if not files.within(value, line.get("least"), line.get("most")):
            yield f"{line['reading']} is {value}"
        if not files.within(value, line["plausible_least"], line["plausible_most"]):
            yield f"{line['reading']} of {value} is not believable"
    for line in step.get("counts", []):
        held = case.world["files"].get(case.item["configuration"], {})
        wanted = line.get("exactly") or held.get(line.get("from_configuration"))
        if str(said["counts"].get(line["count"])) != wanted:
            yield f"{said['counts'].get(line['count'])} {line['count']} counted, {wanted} wanted"


def _of_putting_on(case: Case) -> Iterator[str]:
    """Yields what is wrong with a step of putting on: not ready, out of order, not looked at, nobody watching (U03)."""
    world, item, row = case.world, case.item, case.row
    steps = [step["step"] for step in case.workflow["wearing"]["put_on"]]
    done = [one["body"]["step"] for one in item["worn"]]
    if stage(world, item) != "ready" or item["holds"]:
        yield f"put on at {stage(world, item)}, held by {sorted(item['holds'])}"
    if [*done, case.body["step"]] != steps[: len(done) + 1]:
        yield f"{case.body['step']} after {done}"
    if item["worn"] and item["worn"][0]["actor"] != row["actor"]:
        yield "somebody else began to put it on"
    if item["out"] and item["out"]["kind"] == "item-sent":
        yield "put on while it is on its way"
    if not _works_here(case, row["actor"]):
        yield "put on by nobody"
    step = next(one for one in case.workflow["wearing"]["put_on"] if one["step"] == case.body["step"])
    if step.get("observed") == "true" and not case.two:
        yield "nobody watched"
    yield from _of_evidence(case, step, row)
    used = world["instruments"].get(case.body.get("instrument"), {})
    wanted = step.get("instrument")
    if wanted and (used.get("sort") != wanted or (used["until_us"] or 0) <= row["moment"][0]):
        yield "looked at with an instrument that does not count"
    for name in item["members"].values():
        part = world["items"][name]
        if stage(world, part) != "ready" or part["holds"]:
            yield f"put on although {name} is {stage(world, part)}, held by {sorted(part['holds'])}"


def _of_issue(case: Case) -> Iterator[str]:
    """Yields what is wrong with an issue: not ready, held, out already, worn, not looked over, to nobody (U01-U03)."""
    world, item, row = case.world, case.item, case.row
    if item["out"]:
        yield "issued while it is out"
    if wears(item, case.workflow) and item["worn"]:
        yield "issued although it was worn"
    if item["assembly"]:
        yield f"issued out of {item['assembly']}"
    if row["body"].get("wearer") is None and row["body"]["purpose"] != "emergency":
        yield "issued to nobody"
    if not _works_here(case, row["actor"]):
        yield "issued by nobody"
    for name, part in {case.name: item, **{one: world["items"][one] for one in item["members"].values()}}.items():
        if stage(world, part) != "ready" or part["holds"]:
            yield f"issued although {name} is {stage(world, part)}, held by {sorted(part['holds'])}"
    for look in files.looks_of(case.workflow):
        asked = {line["check"] for line in look.get("checks", [])}
        yield from _of_evidence(case, look, row)
        if not asked <= set(row["body"]["checks"]):
            yield f"{look['step']} was not looked at"
    wanted = {one["instrument"] for one in files.looks_of(case.workflow) if "instrument" in one}
    used = world["instruments"].get(row["body"].get("instrument"), {})
    if wanted and ({used.get("sort")} != wanted or (used["until_us"] or 0) <= row["moment"][0]):
        yield "looked at with an instrument that does not count"


def _of_swap(case: Case) -> Iterator[str]:
    """Yields what is wrong with the change of a part in use (U12)."""
    part = case.world["items"][case.body["into"]]
    phases = [one["body"]["phase"] for one in case.item["worn"]]
    if "take-off" in phases or phases.count("put-on") != len(case.workflow["wearing"]["put_on"]):
        yield "a part was changed although it was not worn"
    if stage(case.world, part) != "ready" or part["holds"] or part["assembly"]:
        yield f"{case.body['into']} went in at {stage(case.world, part)}"
    if part["item_kind"] != case.world["items"][case.body["out"]]["item_kind"]:
        yield f"a {part['item_kind']} went in as {case.body['slot']}"


def _of_instrument(case: Case) -> Iterator[str]:
    """Yields what is wrong with the instrument that a step names (M02)."""
    used = case.world["instruments"].get(case.body.get("instrument"), {})
    wanted = case.step.get("instrument")
    over = bool(wanted) and (used.get("until_us") or 0) <= case.row["moment"][0]
    excused = over and wanted != "flow-indicator" and not used.get("faulty") and overridden(case.world, case.row, "M09")
    if wanted and (used.get("sort") != wanted or (over and not excused)):
        yield "measured with an instrument that does not count"


def _of_promptness(case: Case, row: Row) -> Iterator[str]:
    """Yields what is wrong with how soon a step began after the one it follows (T08)."""
    rule = case.step.get("promptly")
    before = case.item["satisfied"].get(rule["of"]) if rule else None
    if rule and before and clocks.passed_us(before, row) > int(rule["most_s"]) * clocks.SECOND_US:
        yield f"too long after {rule['of']}"


def _of_delay(case: Case) -> Iterator[str]:
    """Yields that cleaning begins late and nobody noticed (T11)."""
    item, rule = case.item, case.workflow.get("delay")
    begun = any(name in item["begun"] for name in CLEANING)
    if not rule or not item["used"] or begun or case.step["step"] not in CLEANING or item["class"] != "routine":
        return
    told = item["contaminated"]
    since = min(told["moment"][0], told["body"].get("use_ended_us") or told["moment"][0])
    late = case.row["moment"][0] - since > (int(rule["extended_s"]) + 1) * clocks.SECOND_US
    if late and case.body.get("evidence") != "attested":
        yield "cleaning began late and nobody noticed"


def _of_release(case: Case) -> Iterator[str]:
    item, row = case.item, case.row
    if (case.body["digest"], case.body["cycle"]) != (item["digest"], item["cycle"]):
        yield "for another cycle or workflow"
    if item["holds"]:
        yield f"held: {sorted(item['holds'])}"
    if item["dwell"]:
        yield "a dwell runs"
    evidence = {name: held for name, held in item["satisfied"].items() if name != case.step["step"]}
    missing = files.mandated(case.workflow, item["class"]) - set(evidence) - {case.step["step"]}
    if missing:
        yield f"{sorted(missing)} not on record"
    for name, held in evidence.items():
        yield from _of_standing_evidence(case, name, held)
    actors = {person for held in evidence.values() for person in (held["actor"], held["second"]) if person}
    if case.step.get("not_alone") == "true" and actors <= {row["actor"]}:
        yield "released by the only person of the cycle"
    yield from _of_life(case)
    if wears(item, case.workflow):
        yield "worn since it was cleaned"
    if item["members"]:
        yield from _of_members(case, item["members"], item["configuration"])
    elif any(step.get("assembles") == "true" for step in case.workflow["steps"]):
        yield "without parts"


def _of_standing_evidence(case: Case, name: str, held: Row) -> Iterator[str]:
    """Yields what is wrong, at a release, with one piece of evidence."""
    item, step = case.item, files.steps_of(case.workflow)[name]
    if held["number"] <= item["contaminated"]["number"]:
        yield f"{name} is from before the last contamination"
    for before in files.needs(case.workflow, name, item["class"]):
        if before not in item["satisfied"] or item["satisfied"][before]["number"] > held["number"]:
            yield f"{name} before {before}"
    seen = held["second"] is not None and step.get("dwell", {}).get("unobserved") == "two-people"
    seen = seen and not held["body"].get("paper")
    taken = case.workflow.get("accepts_attested") == "true" and overridden(case.world, case.row, "D06")
    if held["body"]["evidence"] == "attested" and not taken and not seen:
        yield f"{name} is from paper"
    yield from (f"{name}: {told}" for told in _of_evidence(case, step, held))
    yield from (f"{name}: {told}" for told in contact.failed_since(case.world, held))
    began = contact.start_of(case.world, held)
    tool = case.world["instruments"].get((began or held)["body"].get("instrument"))
    if tool and (tool["until_us"] is None or tool["faulty"] > held["feed"]):
        yield f"{name}: the instrument was found faulty"


def _of_life(case: Case) -> Iterator[str]:
    item, now = case.item, case.row["moment"][0]
    since = {"age-days": item.get("in_service_us"), "opened-days": item.get("opened_us")}
    spent = {"cycles": item["releases"], "charge-cycles": item["charge_cycles"], "hours": item["minutes"] / 60}
    for line in case.workflow.get("limits", []):
        sort = line["limit"]
        if sort == "sealed-expiry":
            over = (item.get("sealed_expiry_us") or now + 1) <= (item.get("opened_us") or now)
        elif sort in since:
            over = since[sort] is not None and now - since[sort] >= int(line["most"]) * DAY_US
        else:
            over = spent[sort] >= int(line["most"])
        if over and not overridden(case.world, case.row, "T12"):
            yield f"past its {sort}"
    yield from (f"{step} {why}" for step, why in overdue(case.world, item, case.workflow, now))


def overdue(world: World, item: Item, workflow: files.File, now: int) -> Iterator[tuple[str, str]]:
    """Yields the tests that are due again and why: too long ago, after too many charges, or last failed."""
    for line in workflow.get("recurring", []):
        step, latest = line["step"], item["tests"].get(line["step"])
        tested_us, charges = (item["in_service_us"], 0) if latest is None else (latest["at_us"], latest["charges"])
        if (
            tested_us is None
            or item["repaired"] > (latest or {"number": 0})["number"]
            or (latest and _bad(world, files.steps_of(workflow)[step], latest))
        ):
            yield step, "failed when it was last tried"
            continue
        days, most = line.get("every_days"), line.get("every_charge_cycles")
        if days and now - tested_us >= int(days) * DAY_US:
            yield step, "is due by its date"
        if most and item["charge_cycles"] - charges >= int(most):
            yield step, "is due by its charges"


def _bad(world: World, step: files.File, test: dict[str, Any]) -> bool:
    """Tells whether a test did not pass after all: as corrected since, or by an instrument found faulty since."""
    said, tool = test["said"], world["instruments"].get(test["row"]["body"].get("instrument"))
    lines = step.get("readings", [])
    values = [(said.get("readings", {}).get(line["reading"]), line) for line in lines]
    return (
        any(said.get("checks", {}).get(line["check"]) is not True for line in step.get("checks", []))
        or any(not files.within(value, line.get("least"), line.get("most")) for value, line in values)
        or bool(tool and tool["faulty"] > test["row"]["feed"])
    )


def wears(item: Item, workflow: files.File) -> bool:
    """Tells whether all of an assembly's putting on was done, or any of its taking off."""
    phases = [one["body"]["phase"] for one in item["worn"]]
    return "take-off" in phases or phases.count("put-on") >= len(workflow.get("wearing", {"put_on": [0]})["put_on"])


def _of_members(case: Case, members: dict[str, str], digest: str | None) -> Iterator[str]:
    """Yields what is wrong with the parts of an assembly (C01-C05, C09)."""
    world, configuration = case.world, case.world["files"].get(digest, {"slots": []})
    left = list(members.values())
    if len(left) != len(set(left)):
        yield "a part stands in two places"
    for slot in configuration["slots"]:
        fitting = [name for name in left if world["items"][name]["item_kind"] == slot["item_kind"]]
        fitting = [name for name in fitting if world["items"][name]["model"] in slot["models"]]
        if len(fitting) != int(slot.get("quantity", "1")):
            yield f"{len(fitting)} of {slot['slot']}"
        left = [name for name in left if name not in fitting]
    if left:
        yield f"{left} have no place"
    for name in members.values():
        part = world["items"][name]
        if stage(world, part) != "ready" or part["holds"]:
            yield f"{name} is {stage(world, part)}, held by {sorted(part['holds'])}"
        if part["out"]:
            yield f"{name} is out"
        if part["assembly"] not in {None, case.name}:
            yield f"{name} belongs to {part['assembly']}"


def _of_undo(case: Case) -> Iterator[str]:
    """Yields what is wrong with taking back a mis-scan (E14)."""
    rows = {row["number"]: row for row in case.world["rows"][case.name]}
    taken = [rows[number] for number in case.body["numbers"]]
    if any(row["actor"] != case.row["actor"] for row in taken):
        yield "taken back by somebody else"
    if len({row["key"] for row in taken}) != 1:
        yield "takes back more than one request"
    later = [row for number, row in rows.items() if number > max(case.body["numbers"])]
    if any(row["kind"] not in {"clock-anomaly", "held-sighted"} for row in later):
        yield "something happened in between"
    gone = clocks.at_most_us(taken[0], case.row)
    if gone is None or gone > UNDO_S * clocks.SECOND_US:
        yield "taken back too late"


def _of_correction(case: Case) -> Iterator[str]:
    """Yields what is wrong with a correction: a second person signs, and what is now out of limits falls (D01)."""
    if not case.two:
        yield "corrected by one person alone"
    for name, held in case.item["satisfied"].items():
        if held["number"] != case.body["number"] or case.item["aside"]:
            continue
        after = {**case.item, "corrected": {held["number"]: case.body}}
        step = files.steps_of(case.workflow)[name]
        wrong = list(_of_evidence(Case(case.world, after, case.row, case.name), step, held))
        if wrong and name not in case.body.get("fell", []):
            yield f"{name} stays although {wrong}"


def _of_lift(case: Case) -> Iterator[str]:
    """Yields what is wrong with the end of a hold (H10, S04)."""
    hold = case.item["holds"].get(case.body["hold"])
    if hold is None:
        yield "no such hold"
        return
    people = [case.world["people"][one] for one in (case.row["actor"], case.row["second"]) if one]
    if not any(set(person["roles"]) & set(hold["body"]["lift_roles"]) for person in people):
        yield "lifted by nobody who may"
    if hold["body"]["lift_two_people"] and not case.two:
        yield "lifted by one person alone"
    looks = [name for name, step in files.steps_of(case.workflow).items() if step.get("reaches") == "inspected"]
    numbers = [case.item["satisfied"][name]["number"] for name in looks if name in case.item["satisfied"]]
    if hold["body"]["sort"] in RENEWED and max(numbers, default=0) < hold["number"]:
        yield "lifted without a new inspection"
    if hold["actor"] == case.row["actor"] and hold["body"]["sort"] == "defect" and not case.two:
        yield "lifted by who placed it, alone"
