"""`reprocess recall`: shows what a recall reaches, commits it, follows it until everything is located, closes it."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

import typer

from reprocess.commandline.options import (
    BadgeOption,
    DepartmentOption,
    JsonOption,
    KeyOption,
    SecondOption,
    StationOption,
    readable,
)


class RecallVerb(StrEnum):
    """Lists what can be done with a recall."""

    SHOW = "show"
    PREVIEW = "preview"
    COMMIT = "commit"
    CLOSE = "close"


def recall(
    recall: Annotated[str, typer.Argument(help="The recall's id, your own choice, such as R-7F.")],
    verb: Annotated[RecallVerb, typer.Argument(help="What is done with it.")] = RecallVerb.SHOW,
    sort: Annotated[
        str | None,
        typer.Argument(
            help="preview: by what: lot, serial, model, workflow, bath, load, person, instrument, place, items, ..."
        ),
    ] = None,
    name: Annotated[str | None, typer.Argument(help="preview: which one.")] = None,
    item: Annotated[list[str] | None, typer.Option("--item", help="preview items: one item's id; repeat it.")] = None,
    since: Annotated[
        str | None, typer.Option("--from", help="preview: what touched it since then, with offset.")
    ] = None,
    until: Annotated[str | None, typer.Option("--until", help="preview: what touched it until then.")] = None,
    why: Annotated[str, typer.Option("--why", help="preview: the cause; close: how it ended.")] = "not said",
    notice: Annotated[str | None, typer.Option("--notice", help="preview: a field notice's reference (H12).")] = None,
    owner: Annotated[str, typer.Option("--owner", help="preview: who settles it.")] = "programme-administrator",
    everything: Annotated[
        int | None, typer.Option("--all", min=1, help="commit: the number of items, where it reaches all on record.")
    ] = None,
    badge: BadgeOption = None,
    second: SecondOption = None,
    station: StationOption = None,
    department: DepartmentOption = None,
    key: KeyOption = None,
    as_json: JsonOption = False,
) -> None:
    """Preview a recall, commit what was shown, see what is not located yet, close it when everything is."""
    from reprocess.commandline import asking, recalling, say
    from reprocess.commandline.opening import bench_at, department_at
    from reprocess.engine.request import CloseRecall, CommitRecall, Request

    called = readable(recall)
    with department_at(department) as opened:
        if verb is RecallVerb.SHOW:
            raise typer.Exit(recalling.show(opened, called, say.local_in(opened.zone()), as_json=as_json))
        bench = bench_at(opened, station, badge, second)
        show = say.local_in(opened.zone_of_station(bench.station))
        request: Request
        match verb:
            case RecallVerb.PREVIEW:
                given = recalling.Given(sort, name, tuple(item or ()), since, until, why, notice, owner)
                request = recalling.preview_from(called, given)
            case RecallVerb.COMMIT:
                request = CommitRecall(called, everything)
            case _:
                request = CloseRecall(called, asking.said(why) or "not said")
        answer = bench.ask(request, key=key)
        code = say.tell(answer, show, as_json=as_json)
        if verb is RecallVerb.PREVIEW and not as_json:
            print("\n".join(recalling.preview_lines(opened, called)))
        raise typer.Exit(code)
