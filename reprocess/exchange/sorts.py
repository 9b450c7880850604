"""The tables that can come in: what each of their lines asks for, and what is on record already.

Nothing here makes an item ready: an import says what exists, never what was done to it.
"""

from __future__ import annotations

from typing import Final

from reprocess.definitions.faults import Faults
from reprocess.definitions.model import Workflow
from reprocess.engine.enrolling import Commission, Enrol, EnrolRequest, Publish
from reprocess.engine.lots import SORTS as LOT_SORTS
from reprocess.engine.request import OpenPlace, ReceiveLot, RegisterWearer
from reprocess.errors import WrongUseError
from reprocess.exchange.reading import Cells, Sort, Wanted, World
from reprocess.gathering import local, published_stream, state_as
from reprocess.ledger.names import Name
from reprocess.record import words
from reprocess.record.lots import Lot
from reprocess.record.people import Competency, Person
from reprocess.record.places import Published, Site
from reprocess.record.standing import Standing
from reprocess.record.stores import Place
from reprocess.record.wearers import Wearer
from reprocess.shipped import File, read_file
from reprocess.terms import StreamKind, stream

OTHER: Final = "it is on record, and says otherwise there"
PLACE_SORTS: Final = ("store", "cabinet", "quarantine", "drying", "drop-point", "water-point", "ward")


def _item(cells: Cells, world: World) -> Wanted:
    name, site, workflow = cells.part("id"), cells.site("site"), cells.needed("workflow", 40)
    kind = _kind_of(world, workflow)
    if workflow and kind is None:
        cells.wrong("workflow", f"no workflow {workflow[:20]!r} is in force", "the name of one that is")
    told = cells.text("kind")
    if told is not None and kind is not None and told != kind:
        cells.wrong("kind", f"the workflow is for {kind}", "the kind, or leave it empty")
    zone = site.zone if site is not None else world.site.zone
    request = Commission(
        item=name,
        workflow=workflow,
        model=cells.needed("model"),
        serial=cells.text("serial"),
        quantity=cells.number("quantity", 1, 100_000) or 1,
        in_service_us=cells.begins_us("in_service", zone),
        opened_us=cells.begins_us("opened", zone),
        sealed_expiry_us=cells.ends_us("sealed_until", zone),
    )
    if not name:
        return Wanted()
    cells.once("id", f"item:{name}")
    standing = world.read.glance(stream(StreamKind.ITEM, name))
    if not isinstance(standing, Standing) or not standing.known:
        return Wanted((request,), site=site.site if site is not None else None)
    for column, same in _same_item(standing, request, site, zone):
        if not same:
            cells.wrong(column, OTHER, "what is on record, or another id")
    return Wanted()


def _same_item(item: Standing, asked: Commission, site: Site | None, zone: str) -> list[tuple[str, bool]]:
    def day(at_us: int | None) -> str | None:
        return None if at_us is None else local(zone, at_us).date().isoformat()

    return [
        ("workflow", item.workflow == asked.workflow),
        ("model", item.model == asked.model),
        ("site", site is not None and item.site == site.site),
        ("serial", asked.serial is None or item.serial == asked.serial),
        ("quantity", asked.quantity in (1, item.quantity)),
        ("in_service", asked.in_service_us is None or day(item.in_service_us) == day(asked.in_service_us)),
        ("opened", asked.opened_us is None or day(item.opened_us) == day(asked.opened_us)),
        ("sealed_until", asked.sealed_expiry_us is None or item.sealed_expiry_us == asked.sealed_expiry_us),
    ]


def _kind_of(world: World, name: str) -> str | None:
    """Returns the kind of item that a workflow in force is for, or None where there is none of that name."""
    at = f"kind:{name}"
    if at not in world.kept:
        digest = state_as(world.read, published_stream("workflow", name), Published).in_force if name else None
        found = world.library.get(world.read, digest) if digest is not None else None
        world.kept[at] = found.item_kind if isinstance(found, Workflow) else None
    kind: str | None = world.kept[at]
    return kind


def _person(cells: Cells, world: World) -> Wanted:
    name, said = cells.id("id"), cells.needed("name")
    sites, roles, badges = cells.words("sites"), cells.words("roles"), cells.words("badges")
    for site in sites:
        if site not in world.sites:
            cells.wrong("sites", f"there is no site {site[:20]!r}", f"out of {' '.join(sorted(world.sites))[:200]}")
    if not name:
        return Wanted()
    cells.once("id", f"person:{name}")
    for badge in badges:
        cells.once("badges", f"badge:{badge}")
        if world.read.person_of(badge) not in (None, name):
            cells.wrong("badges", f"badge {badge[:20]} is another person's", "a badge that nobody has")
    person = state_as(world.read, stream(StreamKind.PERSON, name), Person)
    subject = stream(StreamKind.PERSON, name)
    asked: list[EnrolRequest] = []
    if not person.number:
        asked.append(Enrol(subject, words.PersonRegistered(name=said, sites=sites, roles=roles)))
    else:
        same = (("name", person.name == said), ("sites", set(person.sites) == set(sites)))
        for column, fits in (*same, ("roles", set(person.roles) == set(roles))):
            if not fits:
                cells.wrong(column, OTHER, "what is on record")
    asked += [Enrol(subject, words.BadgeGiven(badge=one)) for one in badges if one not in person.badges]
    return Wanted(tuple(asked))


def _competency(cells: Cells, world: World) -> Wanted:
    name, competency = cells.id("person"), cells.needed("competency", 40)
    kinds, assessor = cells.words("kinds"), cells.needed("assessor")
    cells.needed("from")
    cells.needed("until")
    person = state_as(world.read, stream(StreamKind.PERSON, name), Person) if name else None
    if person is not None and not person.active:
        cells.wrong("person", f"{name[:20]} is not on record", "a person who works here")
    zone = world.sites[person.sites[0]].zone if person and person.sites and person.sites[0] in world.sites else None
    from_us, until_us = (
        cells.begins_us("from", zone or world.site.zone),
        cells.ends_us("until", zone or world.site.zone),
    )
    if from_us is None or until_us is None or person is None:
        return Wanted()
    if until_us <= from_us:
        cells.wrong("until", "it is before the first day", "the last day")
    cells.once("competency", f"competency:{name} {competency} {' '.join(kinds)} {from_us}")
    if Competency(competency, kinds, from_us, until_us, assessor) in person.competencies:
        return Wanted()
    granted = words.CompetencyGranted(
        competency=competency, item_kinds=kinds, from_us=from_us, until_us=until_us, assessor=assessor
    )
    return Wanted((Enrol(stream(StreamKind.PERSON, name), granted),))


def _configuration(cells: Cells, world: World) -> Wanted:
    """Reads a file that a line names; it is proposed only, and a second person approves it (S07)."""
    name, file = cells.needed("name", 40), cells.needed("file")
    if world.folder is None:
        cells.wrong("file", "no file lies beside this table", "the text itself, as a proposal")
        return Wanted()
    path = (world.folder / file).resolve()
    if not file or not path.is_relative_to(world.folder.resolve()):
        cells.wrong("file", "it does not lie beside the table", "a file in the same folder")
        return Wanted()
    try:
        read: File = read_file(path)
    except WrongUseError as fault:
        cells.wrong("file", fault.sentence.removesuffix("."), "a file that can be read")
        return Wanted()
    cells.once("name", f"configuration:{name}")
    if isinstance(read.holds, Faults) or read.sort != "configuration" or read.name != name:
        cells.wrong("file", f"it is no configuration {name}", f"see `reprocess check {file}`")
        return Wanted()
    known = state_as(world.read, published_stream("configuration", name), Published)
    if read.digest in (known.in_force, known.proposed):
        return Wanted()
    return Wanted((Publish("configuration", name, read.digest, read.text),))


def _lot(cells: Cells, world: World) -> Wanted:
    name, product = cells.needed("id", 40), cells.needed("product")
    sort = cells.choice("sort", LOT_SORTS)
    quantity = cells.number("quantity", 1, 1_000_000)
    if quantity is None and not cells.faults:
        cells.wrong("quantity", "it is empty", "how much came")
    _here(cells, world)
    expiry_us = cells.ends_us("expiry", world.site.zone)
    cells.once("id", f"lot:{name}")
    request = ReceiveLot(
        name, quantity or 1, product, sort, cells.text("unit"), expiry_us, cells.number("reorder_at", 0, 1_000_000)
    )
    lot = state_as(world.read, stream(StreamKind.LOT, name), Lot) if name else Lot("")
    if not lot.known:
        return Wanted((request,))
    for column, same in (("product", lot.product == product), ("sort", lot.sort == sort)):
        if not same:
            cells.wrong(column, OTHER, "what is on record")
    return Wanted()


def _place(cells: Cells, world: World) -> Wanted:
    name, title = cells.id("id"), cells.needed("title")
    sort, zone = cells.choice("sort", PLACE_SORTS), cells.choice("zone", ("clean", "dirty"))
    _here(cells, world)
    request = OpenPlace(
        name,
        title,
        sort,
        zone,
        par=cells.number("par", 0, 100_000),
        limits=_limits(cells),
        seal=cells.text("seal"),
        every_months=cells.number("every_months", 1, 120),
        asks=cells.words("asks"),
        grade=cells.text("grade"),
    )
    if not name:
        return Wanted()
    cells.once("id", f"place:{name}")
    place = state_as(world.read, stream(StreamKind.PLACE, name), Place)
    same = (title, sort, zone, request.par, request.limits, request.every_months, request.asks, request.grade)
    known = (place.title, place.sort, place.zone, place.par, place.limits, place.every_months, place.asks, place.grade)
    sealed = request.seal in (None, place.seal)
    return Wanted() if place.known and same == known and sealed else Wanted((request,))


def _limits(cells: Cells) -> dict[str, str]:
    found = {}
    for word in cells.words("limits"):
        reading, sign, span = word.partition("=")
        if not sign or ".." not in span:
            cells.wrong("limits", f"{word[:20]!r} is no limit", "readings such as temp_c=5..30")
        found[reading] = span
    return found


def _wearer(cells: Cells, world: World) -> Wanted:
    """Reads a wearer: the pseudonym and the unit go on record, the name is kept beside it."""
    name, unit = cells.id("id"), cells.needed("unit")
    _here(cells, world)
    said = cells.text("name")
    if not name:
        return Wanted()
    cells.once("id", f"wearer:{name}")
    wearer = state_as(world.read, stream(StreamKind.WEARER, name), Wearer)
    if wearer.active:
        if wearer.unit != unit:
            cells.wrong("unit", OTHER, "what is on record")
        return Wanted()
    if said is None:
        cells.wrong("name", "it is empty", "who the wearer is; it is kept beside the record")
        return Wanted()
    return Wanted((RegisterWearer(name, unit),), personal=Name(said, cells.text("badge"), cells.text("contact")))


def _here(cells: Cells, world: World) -> None:
    """Notes a fault where a line names another site than the one at which the file is taken."""
    site = cells.text("site")
    if site is not None and site != world.site.site:
        cells.wrong("site", f"this station is at {world.site.site}", "import it at a station of that site (--station)")


SORTS: Final[dict[str, Sort]] = {
    one.name: one
    for one in (
        Sort(
            "items",
            ("id", "site", "model", "workflow"),
            ("kind", "serial", "quantity", "in_service", "opened", "sealed_until"),
            ("stage", "stage_since", "place", "holds", "due_next", "cycles", "last_ready_at"),
            _item,
        ),
        Sort("people", ("id", "name"), ("sites", "roles", "badges"), ("active",), _person),
        Sort(
            "competencies",
            ("person", "competency", "from", "until", "assessor"),
            ("kinds",),
            (),
            _competency,
        ),
        Sort("configurations", ("name", "file"), (), ("sort", "digest", "in_force"), _configuration),
        Sort(
            "lots",
            ("id", "product", "sort", "quantity"),
            ("site", "unit", "expiry", "reorder_at"),
            ("left", "used", "recalled"),
            _lot,
        ),
        Sort(
            "places",
            ("id", "title", "sort", "zone"),
            ("site", "par", "limits", "seal", "every_months", "asks", "grade"),
            (),
            _place,
        ),
        Sort(
            "wearers",
            ("id", "unit"),
            ("site", "name", "badge", "contact"),
            ("cleared_until", "trained_until", "fits", "active"),
            _wearer,
        ),
    )
}
"""Every table that can come in, by name."""
