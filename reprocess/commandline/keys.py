"""`reprocess keys`: which keys seal the record, and the change to a new one."""

from __future__ import annotations

import json
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

from reprocess.commandline.options import (
    BadgeOption,
    DepartmentOption,
    JsonOption,
    KeyOption,
    SecondOption,
    StationOption,
)

if TYPE_CHECKING:
    from reprocess.commandline.say import Local
    from reprocess.ledger.keys import Listed


class KeysVerb(StrEnum):
    """Lists what can be done with keys."""

    LIST = "list"
    ROTATE = "rotate"


def keys(
    verb: Annotated[KeysVerb, typer.Argument(help="What is done.")] = KeysVerb.LIST,
    badge: BadgeOption = None,
    second: SecondOption = None,
    station: StationOption = None,
    department: DepartmentOption = None,
    key: KeyOption = None,
    as_json: JsonOption = False,
) -> None:
    """List the keys that seal the record; or seal it with a new one from now on, which takes two people."""
    from reprocess.commandline import say
    from reprocess.commandline.opening import bench_at, department_at
    from reprocess.engine.request import RotateKey
    from reprocess.ledger.append import looking

    with department_at(department) as opened:
        bench = bench_at(opened, station, badge, second)
        show = say.local_in(opened.zone_of_station(bench.station))
        answer = bench.ask(RotateKey(), key=key) if verb is KeysVerb.ROTATE else None
        code = say.tell(answer, show, as_json=as_json) if answer is not None else 0
        with looking(opened.ledger) as read:
            found = read.keys()
        if answer is None:
            print("\n".join(json.dumps(_json(one)) if as_json else _line(one, found, show) for one in found))
        elif answer.accepted:
            newest, place = next(one for one in found if one.number == _in_use(found)), opened.ledger.ring.place
            print(json.dumps(_json(newest) | {"key_file": str(place)}) if as_json else _told(newest, str(place)))
    raise typer.Exit(code)


def _told(newest: Listed, place: str) -> str:
    lines = (
        f"Key {newest.number} ({newest.key_id}) seals every entry from now on.",
        f"Copy {place} to every computer that works with this record.",
        "Keep a new copy of it apart, under lock: older copies lack this key.",
    )
    return "\n".join(f"  {line}" for line in lines)


def _line(one: Listed, found: list[Listed], show: Local) -> str:
    since = f"since {show(one.since_us)}" if one.since_us is not None else "not in use yet"
    by = f", begun by {' and '.join(one.by)}" if one.by else ""
    mark = "; in use" if one.number == _in_use(found) else ""
    lack = "" if one.held else "; MISSING in the key file: copy the key file to this computer"
    return f"{one.number:>2}  {one.key_id}  {since}{by}; entries: {one.entries}{mark}{lack}"


def _in_use(found: list[Listed]) -> int:
    return max(one.number for one in found if one.since_us is not None)


def _json(one: Listed) -> dict[str, str | int | bool | list[str] | None]:
    """Returns one key as JSON values; the key itself is never among them."""
    return {
        "number": one.number,
        "key_id": one.key_id,
        "since_us": one.since_us,
        "by": list(one.by),
        "entries": one.entries,
        "held": one.held,
    }
