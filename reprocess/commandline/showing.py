"""How standings and entries are shown."""

from __future__ import annotations

import json
from typing import Any

from reprocess.commandline.say import Local, clock_line
from reprocess.definitions.wearing import Wearing
from reprocess.record.entry import Entry
from reprocess.record.moment import Moment
from reprocess.record.standing import Wear
from reprocess.record.states import as_text
from reprocess.rules import life, words
from reprocess.rules.contact import clock_of
from reprocess.rules.scene import Part
from reprocess.rules.sequence import next_steps
from reprocess.terms import ASIDE, SPINE, Stage


def item_lines(part: Part, now: Moment, show: Local) -> list[str]:
    """Returns an item's standing as lines."""
    item, workflow = part.standing, part.workflow
    of_model = f"{item.item_kind} {item.model}".strip()
    lines = [f"{item.item}  {of_model}  {item.stage} since {show(item.since_us)}  (cycle {item.cycle})"]
    for step in workflow.steps:
        if step.step in item.satisfied:
            evidence = item.satisfied[step.step]
            two = f" and {evidence.second}" if evidence.second else ""
            by = f"{evidence.actor or 'the program'}{two}"
            lines.append(f"  done   {step.step:<18} {show(evidence.ended.wall_us)}  {by}  {evidence.sort}")
    if item.stage == Stage.READY:
        barred = life.unusable(workflow, item, now.wall_us)
        lines += [f"  NOT USABLE: {one.rule}  {words.sentence(one, show)}" for one in barred]
    following = next_steps(workflow, item, now.wall_us)
    for name in following:
        step_next = workflow.step_named(name)
        lines.append(f"  next   {name:<18} {step_next.title if step_next else ''}")
    if item.dwell is not None:
        lines.append(f"  clock  {clock_line(clock_of(item.dwell, now))}")
    lines += [f"  HOLD   {one.hold:<18} {one.cause} (owner {one.owner})" for one in item.holds.values()]
    if item.custody is not None:
        lines.append(f"  OUT    {item.custody.sort:<18} {item.custody.place} since {show(item.custody.since_us)}")
    if item.wear is not None:
        lines.append(f"  worn   {_worn(item.wear, show)}")
    if item.assembly is not None:
        lines.append(f"  part of {item.assembly} as {item.slot}")
    lines += [f"  holds  {slot:<18} {member}" for slot, member in item.members.items()]
    return lines


def _worn(wear: Wear, show: Local) -> str:
    by = wear.wearer or "nobody on record"
    if wear.off_us is not None:
        return f"taken off since {show(wear.off_us)} by {by}"
    return f"by {by} since {show(wear.on_us)}" if wear.on_us is not None else f"being put on by {by}"


def wearing_lines(part: Part, wearing: Wearing) -> list[str]:
    """Returns how an assembly is put on, worn and taken off, with what is done already."""
    wear = part.standing.wear
    done = (wear.put_on, wear.taken_off) if wear is not None else ((), ())
    lines = [f"{part.standing.item}: {wearing.follows}"]
    for title, steps, kept in (("put on", wearing.put_on, done[0]), ("take off", wearing.take_off, done[1])):
        lines.append(f"  {title}")
        for step in steps:
            mark = "done" if step.step in kept else "watched" if step.observed else ""
            lines.append(f"    {mark:<8} {step.step:<18} {step.title}")
            lines += [f"             {'':<18} - {check.text}" for check in step.checks]
    for signal in wearing.signals:
        lines.append(f"  signal {signal.signal}: {signal.text} {' '.join(signal.asks)}")
    for one in wearing.swaps:
        lines.append(f"  swap {one.slot}: {one.text}")
    for trace in wearing.traces:
        lines.append(f"  seen {trace.trace}: {trace.text} The class is {trace.contamination_class}.")
    return lines


def item_json(part: Part, now: Moment) -> dict[str, Any]:
    """Returns an item's standing as JSON values."""
    fields: dict[str, Any] = json.loads(as_text(part.standing))
    fields["next_steps"] = list(next_steps(part.workflow, part.standing, now.wall_us))
    fields["example"] = part.workflow.example
    return fields


def entry_line(entry: Entry, show: Local) -> str:
    """Returns one entry as a line."""
    body = entry.body.model_dump(exclude_none=True, exclude_defaults=True)
    said = "  ".join(f"{name}={_short(value)}" for name, value in body.items())
    envelope = entry.envelope
    by = envelope.actor or "the program"
    if envelope.second:
        by += f" with {envelope.second}"
    late = "" if entry.occurred_us == entry.at_us else f"  (happened {show(entry.occurred_us)})"
    return f"{entry.number:>4}  {show(entry.at_us)}  {entry.kind:<18} {by:<12} {said}{late}"


def _short(value: object) -> str:
    text = ",".join(str(one) for one in value) if isinstance(value, tuple | list) else str(value)
    line = " ".join(text.split())
    return line if len(line) <= 60 else f"{line[:57]}..."


def entry_json(entry: Entry) -> dict[str, Any]:
    """Returns one entry as JSON values, its envelope included."""
    envelope, moment = entry.envelope, entry.envelope.moment
    return {
        "feed": entry.feed,
        "id": entry.id,
        "stream": entry.stream,
        "number": entry.number,
        "kind": entry.kind,
        "version": entry.body.version,
        "occurred_us": entry.occurred_us,
        "recorded_us": moment.wall_us,
        "offset_min": envelope.offset_min,
        "mono_us": moment.mono_us,
        "boot": moment.boot,
        "node": moment.node,
        "actor": envelope.actor,
        "second": envelope.second,
        "identity": envelope.identity,
        "station": envelope.station,
        "key": envelope.key,
        "body": entry.body.model_dump(mode="json", exclude_none=True),
    }


def board_lines(parts: list[Part], now: Moment, show: Local) -> list[str]:
    """Returns the board: one block a stage in the order of the trade, clocks first by what is due next."""
    lines = [f"Board at {show(now.wall_us)}"]
    for stage in (*SPINE, *ASIDE):
        of_stage = [part for part in parts if part.standing.stage == stage]
        if of_stage:
            lines.append(f"{stage.upper()} ({len(of_stage)})")
            lines += [_board_line(part, now) for part in sorted(of_stage, key=lambda part: _urgency(part, now))]
    if len(lines) == 1:
        lines.append("No items.")
    return lines


def _urgency(part: Part, now: Moment) -> tuple[int, int, str]:
    item = part.standing
    if item.dwell is None:
        return (1, item.since_us, item.item)
    clock = clock_of(item.dwell, now)
    return (0, clock.rewet_s if clock.rewet_s is not None else clock.left_s, item.item)


def _board_line(part: Part, now: Moment) -> str:
    item = part.standing
    following = next_steps(part.workflow, item, now.wall_us)
    said = f"next {', '.join(following)}" if following else ""
    if item.dwell is not None:
        said = f"clock {clock_line(clock_of(item.dwell, now))}"
    if item.stage == Stage.READY and life.unusable(part.workflow, item, now.wall_us):
        said = "NOT USABLE, see `item`"
    hold = f"  HOLD {', '.join(sorted(item.holds))}" if item.holds else ""
    inside = f"  in {item.assembly}" if item.assembly else ""
    return f"  {item.item:<12} {item.item_kind:<16} {said}{inside}{hold}"
