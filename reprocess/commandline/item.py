"""`reprocess item`: where one item stands and what may come next."""

from __future__ import annotations

import json
from typing import Annotated

import typer

from reprocess.commandline.options import DepartmentOption, JsonOption, readable


def item(
    item: Annotated[str, typer.Argument(help="The item's id, as on its tag.")],
    department: DepartmentOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show where an item stands, its clock, its holds and what may come next."""
    from reprocess.commandline import say, showing
    from reprocess.commandline.opening import department_at

    with department_at(department) as opened:
        standing = opened.item(readable(item))
        part = opened.part(standing.item)
        if part is None:
            return
        show = say.local_in(opened.zone_of_site(standing.site))
        if as_json:
            print(json.dumps(showing.item_json(part), ensure_ascii=False))
        else:
            print("\n".join(showing.item_lines(part, opened.clock.now(), show)))
