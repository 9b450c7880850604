"""Everything that the rules may look at when they judge one request: the bench, the item and what it touches."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, TypeVar

from reprocess.definitions.configuration import Configuration
from reprocess.definitions.label import Agent
from reprocess.definitions.model import Step, Workflow
from reprocess.errors import InvariantError
from reprocess.record.entry import Entry
from reprocess.record.keys import NewKey
from reprocess.record.moment import Moment
from reprocess.record.people import Person
from reprocess.record.places import Instrument, Site, Station
from reprocess.record.solutions import Solution
from reprocess.record.standing import Standing
from reprocess.record.states import State
from reprocess.record.words import ExposedUse
from reprocess.rules.asked import Override
from reprocess.rules.keeping import Keeping
from reprocess.terms import StreamKind, stream

Kind = TypeVar("Kind", bound=State)


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """Is where one of the people here, first or second, worked at another site only minutes ago (E37)."""

    person: Person
    site: str
    station: str
    at_us: int


@dataclass(frozen=True, slots=True)
class Past:
    """Is an override that was used within the last week."""

    rule: str
    actor: str | None
    authorised: tuple[str, ...]
    at_us: int


@dataclass(frozen=True, slots=True)
class Special:
    """Is what only some requests come with.

    Attributes:
        override: the rule that the person asks to pass over.
        waived: that rule, once it is found that it may be passed over for this request.
        past: the overrides of the last week, oldest first, where one is asked for.
        shown: the digest of what the person saw before signing, as they gave it.
        consenting: who agreed to this request at their own station within five minutes.
        remote: whether the second person is one of these, wherever their site is.
        elsewhere: where the actor or the second person was at work minutes ago, at another site.
        sender: the instrument whose signed result the request is, where no person speaks.
    """

    override: Override | None = None
    waived: str | None = None
    past: tuple[Past, ...] = ()
    shown: str | None = None
    consenting: tuple[Person, ...] = ()
    remote: bool = False
    elsewhere: Elsewhere | None = None
    sender: str | None = None


NOTHING_SPECIAL: Final = Special()


@dataclass(frozen=True, slots=True)
class Bench:
    """Is where and when a request is made, and by whom.

    Attributes:
        actor: the person whose badge was shown, or None when nobody of that badge is known.
        badge: the badge as scanned.
        second: the second person, scanned within the request, or None.
        second_badge: that badge, or None when none was scanned.
        local_day: the site's local date of `moment`, as an ordinal, for rules about days.
        last_day: the local ordinal of the solution's last passing test, or None.
        special: what a plain request does not have: an override, a digest of what was shown, a doubt.
    """

    moment: Moment
    site: Site
    station: Station
    actor: Person | None
    badge: str | None
    second: Person | None = None
    second_badge: str | None = None
    local_day: int = 0
    last_day: int | None = None
    special: Special = NOTHING_SPECIAL

    @property
    def now_us(self) -> int:
        """Returns the wall time of the request."""
        return self.moment.wall_us


@dataclass(frozen=True, slots=True)
class Part:
    """Is an item beside the one asked about, with the workflow of its cycle and the one in force now."""

    standing: Standing
    workflow: Workflow
    digest: str
    current: Workflow
    current_digest: str


@dataclass(frozen=True, slots=True)
class Contact:
    """Is one contact of an item with a solution that a failed test may reach, and since which entry and instant."""

    part: Part
    cycle: int
    step: str
    open_now: bool
    feed: int = 0
    at_us: int = 0


@dataclass(frozen=True, slots=True)
class Scanned:
    """Is a scan of a person at a station, while a form says that the person was elsewhere."""

    name: str
    station: str
    site: str
    at_us: int


@dataclass(frozen=True, slots=True)
class WithLine:
    """Is what a line of a form is judged on beside its item: the people it names, and where they were scanned then.

    Attributes:
        people: those whom the badges on the line mean, by badge.
    """

    people: Mapping[str, Person] = field(default_factory=dict)
    scans: tuple[Scanned, ...] = ()


@dataclass(frozen=True, slots=True)
class Scene:
    """Is what one request is judged on.

    Attributes:
        home: the site that the item belongs to; where it is worked on elsewhere, the stricter site counts.
        workflow: the version that the item's cycle began under.
        current: the version in force now, under which a new cycle begins.
        solution: the solution that the request or the open dwell names.
        agent: the agent of that solution, or the one that the request names.
        instruments: the instruments that this cycle's evidence rests on, as they stand now (for release).
        parts: members of the assembly, or the items that are to become members, by item id.
        wholes: the assemblies that items of this scene are members of, by the assembly's id.
        recent: the latest entries of the item's stream, oldest first (for undoing and correcting).
        contacts: what a failed test of the solution may reach.
        uses: who wore what is in doubt if what the request says is so (H06).
        lately: on how many other items the actor did the same step within the last minute (T16).
        on_record: how many items there are in all that the request could be about (H03, H09).
        unknown: what the request names that is on record nowhere (P05).
        form_line: what a line of a form comes with (D06).
        keeping: how long names are kept and what ties wearers to the record (D12).
        names_somebody: whether the words of the request hold the name of a wearer concerned (D13).
        states: other streams that the request is about, by the stream's name.
        new_key: the key that the record would be sealed with next, or None where no further one can be begun.
    """

    bench: Bench
    item: Standing
    home: Site | None = None
    workflow: Workflow | None = None
    digest: str = ""
    current: Workflow | None = None
    current_digest: str = ""
    solution: Solution | None = None
    agent: Agent | None = None
    agent_digest: str = ""
    instrument: Instrument | None = None
    instruments: Mapping[str, Instrument] = field(default_factory=dict)
    configuration: Configuration | None = None
    configuration_digest: str = ""
    parts: Mapping[str, Part] = field(default_factory=dict)
    wholes: Mapping[str, Part] = field(default_factory=dict)
    recent: tuple[Entry, ...] = ()
    contacts: tuple[Contact, ...] = ()
    uses: tuple[ExposedUse, ...] = ()
    lately: int = 0
    on_record: int = 0
    unknown: tuple[str, ...] = ()
    form_line: WithLine = field(default_factory=WithLine)
    keeping: Keeping | None = None
    names_somebody: bool = False
    states: Mapping[str, State] = field(default_factory=dict)
    new_key: NewKey | None = None

    def state(self, kind: StreamKind, name: str, state: type[Kind]) -> Kind:
        """Returns where another stream stands, as the kind of state that its name promises.

        Raises:
            InvariantError: the scene was read without it.
        """
        found = self.states.get(stream(kind, name))
        if not isinstance(found, state):
            message = f"{kind}:{name} is not in the scene."
            raise InvariantError(message, subject=name)
        return found

    @property
    def floor_s(self) -> int | None:
        """Returns the larger contact floor of the bench's site and the item's own (T01)."""
        floors = [self.bench.site.contact_floor_s, self.home.contact_floor_s if self.home is not None else None]
        return max((one for one in floors if one is not None), default=None)

    @property
    def self_inspection(self) -> bool:
        """Tells whether both the bench's site and the item's own let the cleaner inspect (the switch of S01)."""
        return self.bench.site.self_inspection and (self.home is None or self.home.self_inspection)

    def step(self, name: str) -> Step | None:
        """Returns the workflow's step of that name, or None."""
        return self.as_part().workflow.step_named(name)

    def as_part(self) -> Part:
        """Returns the item of this scene as a part.

        Raises:
            InvariantError: the item is not on record; every item that is has a workflow (P06).
        """
        if self.workflow is None or self.current is None:
            message = f"{self.item.item} has no workflow."
            raise InvariantError(message, item=self.item.item)
        return Part(self.item, self.workflow, self.digest, self.current, self.current_digest)
