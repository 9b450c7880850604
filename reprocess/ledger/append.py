"""One transaction on the record: read what a decision needs, append its entries, keep the projections in step.

Several decisions may share one transaction and one fsync, each decided on what the one before it wrote.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

from reprocess.errors import InvariantError, LedgerError
from reprocess.ledger import reviews, touches
from reprocess.ledger import statements as sql
from reprocess.ledger.credentials import Credentials
from reprocess.ledger.deliveries import Deliveries
from reprocess.ledger.driver import Cursor, ask_together, each, is_sqlite, limit, make_room
from reprocess.ledger.dues import OF_SUBJECTS, Dues
from reprocess.ledger.feed import Feed
from reprocess.ledger.keys import Keys, Listed, Ring, digest_before, listed
from reprocess.ledger.memory import REMEMBERED, STREAMS_MAX, Elsewhere, Kept, Memory
from reprocess.ledger.names import Names
from reprocess.ledger.open import Ledger
from reprocess.ledger.posts import Posts
from reprocess.ledger.reviews import Reviews
from reprocess.ledger.together import Holding
from reprocess.ledger.touches import STATIONS_OF, Touches
from reprocess.record import states, words
from reprocess.record.chain import START, digest_of, mac_of
from reprocess.record.changing import replace
from reprocess.record.entry import Draft, Entry, Envelope
from reprocess.record.folding import fold, must_refold
from reprocess.record.form import read_row, row_of
from reprocess.record.keys import KEYS, KEYS_MAX, NewKey, Sealing
from reprocess.record.people import Person
from reprocess.record.standing import Standing
from reprocess.record.states import State
from reprocess.record.touching import Touched, in_cycles, not_undone
from reprocess.terms import StreamKind, subject_of

LASTING_US: Final = 2**62
"""An instant that never comes."""
REREAD: Final = REMEMBERED | {StreamKind.ACCESS, StreamKind.TOKEN}
"""The kinds of stream that are few and looked at with almost every request."""
STATES_AT_ONCE: Final = 500
"""Standings held in memory at once where all of a kind are read."""


Row = tuple[int, bytes, str]
"""Where a stream stands as the projection keeps it: its number, the digest of its latest entry, its state."""


@dataclass(frozen=True, slots=True)
class Answered:
    """Is what a request key was already answered with."""

    request: str
    answer: str


@dataclass(frozen=True, slots=True)
class Prepared:
    """Is what one decision will write, where each stream stands after it, and each entry's cycle (0 beside items)."""

    entries: list[Entry]
    after: dict[str, State]
    cycles: list[int]


class Transaction:
    """Is one open transaction: what it read is what it decides on, what it wrote is seen by the next decision."""

    def __init__(
        self,
        cursor: Cursor,
        ring: Ring | None = None,
        memory: Memory | None = None,
        *,
        sites: frozenset[str] | None = None,
        claiming: bool = False,
    ) -> None:
        self._cursor = cursor
        self.sites = sites
        self._sited = not is_sqlite(cursor)
        self._ring = ring
        self._offered: Keys | None = None
        self._memory = memory
        self._kept: dict[str, Kept] = {}
        self._feed: int | None = None
        self._foreseen: dict[str, Row | None] = {}
        self._unused: set[str] = set()
        self.names = Names(cursor)
        self._touches = Touches(cursor)
        self._dues = Dues(cursor, claiming=claiming)

    @property
    def on_server(self) -> bool:
        """Tells whether each question is a message to a server, so that it is worth while to ask few of them."""
        return self._sited

    def foresee(
        self,
        streams: Iterable[str],
        *,
        keys: Collection[str] = (),
        badges: Collection[str] = (),
        dues: Collection[str] = (),
    ) -> None:
        """Reads in one message where these streams stand, which keys are new, whose badges they are, what is due.

        What this transaction knows already is not asked again.
        """
        wanted = [one for one in streams if not self._knows(one)]
        people = [one for one in badges if self._memory is None or one not in self._memory.badges]
        questions: list[tuple[str, list[str], Callable[[Any], None]]] = [
            (sql.STANDINGS, wanted, self._keep_standing),
            (sql.USED_KEYS, list(keys), self._keep_used),
            (sql.BADGES, people, self._keep_badge),
            (OF_SUBJECTS, list(dues), self._dues.keep_due),
        ]
        asked = [one for one in questions if one[1]]
        if not asked:
            return
        self._foreseen.update(dict.fromkeys(wanted))
        self._unused.update(keys)
        self._dues.expect(dues)
        answers = ask_together(self._cursor, [(text, names, ()) for text, names, _ in asked])
        for (_, _, keep), rows in zip(asked, answers, strict=True):
            for row in rows:
                keep(row)

    def foresee_stations(self, people: Mapping[str, str], since_us: int) -> None:
        """Reads in one message where these people worked since an instant, each being at a site now (person: site)."""
        if self._memory is None:
            return
        wanted = [one for one, site in people.items() if self._elsewhere(one, site, since_us) is None]
        if not wanted:
            return
        found: dict[str, list[tuple[str, int]]] = {one: [] for one in wanted}
        question = (STATIONS_OF, wanted, (Touched.PERSON, since_us))
        for person, station, at_us in ask_together(self._cursor, [question])[0]:
            found[person].append((station, at_us))
        for one, stations in found.items():
            self._memory.elsewhere[one] = Elsewhere(people[one], since_us, tuple(stations))

    def _elsewhere(self, person: str, site: str, since_us: int) -> Elsewhere | None:
        """Returns where somebody at a site worked since an instant, where it is remembered."""
        kept = self._memory.elsewhere.get(person) if self._memory is not None else None
        return None if kept is None or kept.site != site or kept.since_us > since_us else kept

    def _knows(self, stream: str) -> bool:
        remembered = self._memory is not None and stream in self._memory.kept
        return remembered or stream in self._kept or stream in self._foreseen

    def _keep_standing(self, row: tuple[str, int, bytes, str]) -> None:
        self._foreseen[row[0]] = row[1:]

    def _keep_used(self, row: tuple[str]) -> None:
        self._unused.discard(row[0])

    def _keep_badge(self, row: tuple[str, str, int, bytes, str]) -> None:
        badge, person, number, head, text = row
        if self._memory is not None:
            self._memory.badges[badge] = person
        name = f"{StreamKind.PERSON}:{person}"
        if not self._knows(name):
            self._foreseen[name] = (number, head, text)

    def answered(self, key: str) -> Answered | None:
        """Returns what this request key was answered with, or None when it is new."""
        if key in self._unused:
            return None
        row = self._cursor.execute(sql.BY_KEY, {"key": key}).fetchone()
        return None if row is None else Answered(row[0], row[1])

    def state(self, stream: str) -> State:
        """Returns where a stream stands; an unknown one stands at its start."""
        return self._load(stream).state

    def item(self, item: str) -> Standing:
        """Returns where an item stands."""
        standing = self.state(f"{StreamKind.ITEM}:{item}")
        if not isinstance(standing, Standing):
            raise TypeError(item)
        return standing

    def glance(self, stream: str) -> State:
        """Returns where a stream stands as it is written, and keeps nothing: for looking at very many."""
        row = self._cursor.execute(sql.SELECT_STANDING, {"stream": stream}).fetchone()
        return states.start_of(stream) if row is None else read_state(stream, row[2])

    def let_go(self) -> None:
        """Forgets the items that were read or written, all of which is in the database: for writing very many."""
        self._kept = {name: kept for name, kept in self._kept.items() if not name.startswith(_ITEMS)}

    def _load(self, stream: str) -> Kept:
        kept = self._kept.get(stream)
        if kept is None and self._memory is not None:
            kept = self._memory.kept.get(stream)
        if kept is None:
            if stream in self._foreseen:
                row = self._foreseen.pop(stream)
            else:
                row = self._cursor.execute(sql.SELECT_STANDING, {"stream": stream}).fetchone()
            kept = (
                Kept(0, START, states.start_of(stream))
                if row is None
                else Kept(row[0], row[1], read_state(stream, row[2]))
            )
            self._kept[stream] = kept
        return kept

    def entries_of(self, stream: str) -> list[Entry]:
        """Returns all entries of a stream, oldest first."""
        rows = self._cursor.execute(sql.STREAM_ENTRIES, (stream,)).fetchall()
        return [read_row(row[: -len(_SEAL)]) for row in rows]

    def entry(self, feed: int) -> Entry | None:
        """Returns the entry of that number in the whole record, or None."""
        row = self._cursor.execute(sql.ENTRY_BY_FEED, (feed,)).fetchone()
        return None if row is None else read_row(row[: -len(_SEAL)])

    def entries_until(self, stream: str, feed: int) -> list[Entry]:
        """Returns the entries of a stream up to an entry of the record, oldest first."""
        rows = self._cursor.execute(sql.STREAM_ENTRIES_UNTIL, (stream, feed)).fetchall()
        return [read_row(row[: -len(_SEAL)]) for row in rows]

    def each_entry(self) -> Iterator[Entry]:
        """Yields every entry of the record in its order, read bit by bit."""
        for row in each(self._cursor, f"{sql.SELECT_ENTRY} ORDER BY feed"):
            yield read_row(row[: -len(_SEAL)])

    def cycle_until(self, item: str, feed: int) -> list[Entry]:
        """Returns an item's entries since its last cycle before an entry of the record began, up to that one.

        What earlier cycles left behind comes before them: that it is known, its holds and its site. Folded, they give
        stage, cycle, holds, custody and assembly, as all its entries would; counts and passes they do not.
        """
        since = self.touches.cycle_began(item, feed)
        asked = {"stream": f"{StreamKind.ITEM}:{item}", "since": since, "feed": feed}
        rows = self._cursor.execute(sql.ENTRIES_OF_CYCLE, asked).fetchall()
        return [read_row(row[: -len(_SEAL)]) for row in rows]

    def latest_of(self, stream: str, most: int) -> tuple[Entry, ...]:
        """Returns the latest entries of a stream, oldest first, at most that many."""
        rows = self._cursor.execute(sql.LATEST_ENTRIES, (stream, most)).fetchall()
        return tuple(read_row(row[: -len(_SEAL)]) for row in reversed(rows))

    def person_of(self, badge: str) -> str | None:
        """Returns whom a badge means, or None."""
        known = self._memory.badges if self._memory is not None else {}
        if badge not in known:
            row = self._cursor.execute(sql.WHOSE_BADGE, {"of_badge": badge}).fetchone()
            known[badge] = None if row is None else str(row[0])
        return known[badge]

    def stations_of(self, person: str, site: str, since_us: int, until_us: int) -> list[tuple[str, int]]:
        """Returns (station, instant of the latest work) of a person who works at a site now, the latest first.

        It is read once while they stay at that site; stations of that site itself may be told as they were then.
        """
        kept = self._elsewhere(person, site, since_us)
        if kept is None:
            kept = Elsewhere(site, since_us, tuple(self.touches.stations_of(person, since_us, LASTING_US)))
            if self._memory is not None:
                self._memory.elsewhere[person] = kept
        return [one for one in kept.stations if since_us <= one[1] <= until_us]

    def definition(self, digest: str) -> tuple[str, str, str] | None:
        """Returns (sort, name, text) of a published file, or None."""
        row = self._cursor.execute(sql.DEFINITION_TEXT, {"digest": digest}).fetchone()
        return None if row is None else (row[0], row[1], row[2])

    def people(self) -> list[Person]:
        """Returns everybody on record, by id."""
        rows = self._cursor.execute(sql.STATES_OF_KIND, {"of_kind": str(StreamKind.PERSON)}).fetchall()
        return [state for name, text in rows if isinstance(state := read_state(name, text), Person)]

    def first_of(self, entry_kind: str) -> str | None:
        """Returns the stream of the first entry of a kind, or None; quick where such entries come early."""
        row = self._cursor.execute(sql.FIRST_OF_KIND, {"of_kind": entry_kind}).fetchone()
        return None if row is None else str(row[0])

    def examples(self) -> frozenset[str]:
        """Returns the digests of the published texts that hold numbers marked as examples."""
        return frozenset(str(row[0]) for row in self._cursor.execute(sql.WITH_EXAMPLES))

    def remember(self) -> None:
        """Lets the connection remember what this transaction read and wrote, once it is committed."""
        if self._memory is not None:
            self._memory.keep(self._kept, self._feed)

    def states_of(self, kind: str) -> list[State]:
        """Returns where every stream of a kind stands, by id."""
        rows = self._cursor.execute(sql.STATES_OF_KIND, {"of_kind": str(kind)}).fetchall()
        return [read_state(name, text) for name, text in rows]

    def each_of(self, kind: str) -> Iterator[tuple[str, int, State]]:
        """Yields (stream, when it last changed, where it stands) of every stream of a kind, a page at a time."""
        last = ""
        while page := self._cursor.execute(sql.STATES_PAGE, (str(kind), last, STATES_AT_ONCE)).fetchall():
            for name, changed_us, text in page:
                yield name, changed_us, read_state(name, text)
            last = page[-1][0]

    def items(self, *, site: str | None = None, stage: str | None = None) -> Iterator[Standing]:
        """Yields where every item stands, by id; of one site or stage only where asked."""
        rows = self._cursor.execute(sql.STATES_OF_KIND, {"of_kind": str(StreamKind.ITEM)})
        for name, text in rows:
            state = read_state(name, text)
            if isinstance(state, Standing) and site in (None, state.site) and stage in (None, str(state.stage)):
                yield state

    def ready_like(self, item: Standing) -> list[Standing]:
        """Returns the items of the same kind and site that are ready and not held, by id; at most `STATES_AT_ONCE`."""
        rows = self._cursor.execute(sql.READY_LIKE, (item.site, item.item_kind, STATES_AT_ONCE)).fetchall()
        return [state for name, text in rows if isinstance(state := read_state(name, text), Standing)]

    def prepare(self, drafts: Iterable[Draft], envelope: Envelope, ids: Iterator[str]) -> Prepared:
        """Returns the entries of one decision and where each stream will stand after them; nothing is written."""
        after: dict[str, State] = {}
        entries: list[Entry] = []
        cycles: list[int] = []
        feed = self._last_feed()
        for part, draft in enumerate(drafts):
            state = after.get(draft.stream) or self._load(draft.stream).state
            entry = Entry(
                feed=feed + part + 1,
                id=next(ids),
                stream=draft.stream,
                number=state.number + 1,
                body=draft.body,
                occurred_us=draft.occurred_us or envelope.moment.wall_us,
                envelope=envelope,
                part=part,
            )
            entries.append(entry)
            folded = after[draft.stream] = self._folded(entry, state, entries)
            cycles.append(folded.cycle if isinstance(folded, Standing) else 0)
        return Prepared(entries, after, cycles)

    def write(self, prepared: Prepared, answer: str) -> list[Entry]:
        """Writes prepared entries and their standings; `answer` is kept with the first."""
        if not prepared.entries:
            return prepared.entries
        make_room(self._cursor, prepared.entries[0].at_us)
        self._unused.discard(prepared.entries[0].envelope.key)
        number, key = self._sealing()
        for entry, cycle in zip(prepared.entries, prepared.cycles, strict=True):
            if isinstance(entry.body, words.KeyRotated):
                number, key = self._begin(entry.body)
            kept = self._load(entry.stream)
            whole = replace(entry, answer=answer) if entry.part == 0 else entry
            row = row_of(whole, kept.head)
            digest = digest_of(row)
            self._insert((*row, digest, mac_of(digest, key), number), prepared.after[entry.stream])
            self._kept[entry.stream] = Kept(entry.number, digest, prepared.after[entry.stream])
            self._feed = entry.feed
            if self._memory is not None and isinstance(entry.body, words.BadgeGiven | words.BadgeWithdrawn):
                self._memory.badges.clear()
            self._project(entry, cycle)
        for stream in prepared.after:
            self._save(stream, prepared.entries[0].at_us)
        return prepared.entries

    def new_key(self) -> NewKey | None:
        """Returns the key that a rotation would begin, or None where no further one can be; nothing is written.

        It is in the key file before the entry that begins it is committed. Where that fails, nothing uses it yet, and
        the next rotation goes on with it. All entries' digests are read meanwhile, a second or two for a million.

        Raises:
            LedgerError: this computer does not hold the key in use.
        """
        number = self._sealing()[0] + 1
        self._offered = self._held().following(number - 1)
        if self._offered is None or number > KEYS_MAX:
            return None
        before = digest_before(self._cursor, self._last_feed() + 1)
        return NewKey(number, self._offered.id_of(number) or "", before)

    def keys(self) -> list[Listed]:
        """Returns every key that the record names or the key file of this computer holds, the first one first."""
        return listed(self._cursor, self._held().latest(), self._sealed())

    def _begin(self, body: words.KeyRotated) -> tuple[int, bytes]:
        """Keeps the key that was offered and returns (its number, it)."""
        key = self._offered.of(body.number) if self._offered is not None else None
        if self._offered is None or key is None or self._offered.id_of(body.number) != body.key_id:
            message = f"Key {body.number} was not offered to this transaction."
            raise InvariantError(message, key=body.number)
        self._held().keep(self._offered)
        return body.number, key

    def _sealing(self) -> tuple[int, bytes]:
        """Returns (number of the key in use, it)."""
        sealed, held = self._sealed(), self._held()
        key = held.sealing(sealed.newest, sealed.key_id)
        held.must_fit(self._cursor, self._last_feed())
        return sealed.newest, key

    def _sealed(self) -> Sealing:
        sealed = self.state(KEYS)
        if not isinstance(sealed, Sealing):
            raise TypeError(KEYS)
        return sealed

    def _held(self) -> Ring:
        if self._ring is None:
            message = "This transaction holds no key and writes no entry."
            raise InvariantError(message)
        return self._ring

    def _insert(self, row: tuple[object, ...], after: State) -> None:
        """Writes one entry; a server keeps beside it the site where its stream stands then."""
        if self._sited:
            self._cursor.execute(sql.INSERT_ENTRY_AT, (*row, getattr(after, "site", None)))
        else:
            self._cursor.execute(sql.INSERT_ENTRY, row)

    def _last_feed(self) -> int:
        """Returns the last feed number written; what was only prepared takes none, so that the feed has no gap."""
        if self._feed is None and self._memory is not None:
            self._feed = self._memory.feed
        if self._feed is None:
            self._feed = int(self._cursor.execute(sql.LAST_FEED).fetchone()[0])
        return self._feed

    def _folded(self, entry: Entry, state: State, ahead: list[Entry]) -> State:
        if must_refold(entry):
            new = [one for one in ahead if one.stream == entry.stream]
            return fold(subject_of(entry.stream), self.entries_of(entry.stream) + new)
        folded: State = states.folding_of(entry.stream).apply(state, entry)
        return folded

    def _save(self, stream: str, changed_us: int) -> None:
        kept = self._kept[stream]
        self._cursor.execute(sql.UPSERT_STANDING, standing_row(stream, kept.number, kept.head, changed_us, kept.state))

    def _project(self, entry: Entry, cycle: int) -> None:
        if entry.stream.startswith(_SUBSCRIPTIONS):
            self.deliveries.follow(entry)
        if must_refold(entry):
            item = subject_of(entry.stream)
            self._cursor.execute(sql.FORGET_TOUCHES, {"of_item": item})
            for one, own in in_cycles(not_undone(self.entries_of(entry.stream))):
                project(self._cursor, one, own)
        else:
            project(self._cursor, entry, cycle)

    @property
    def touches(self) -> Touches:
        """Returns the trace's side of this transaction."""
        return self._touches

    @property
    def dues(self) -> Dues:
        """Returns the reminders' side of this transaction."""
        return self._dues

    @property
    def reviews(self) -> Reviews:
        """Returns the supervisor's queue in this transaction."""
        return Reviews(self._cursor)

    @property
    def posts(self) -> Posts:
        """Returns the side of this transaction that faces the channels outside."""
        return Posts(self._cursor)

    @property
    def deliveries(self) -> Deliveries:
        """Returns the side of this transaction that faces the subscribers."""
        return Deliveries(self._cursor)

    @property
    def credentials(self) -> Credentials:
        """Returns the side of this transaction that knows who may come in."""
        return Credentials(self._cursor)

    @property
    def feed(self) -> Feed:
        """Returns the side of this transaction that faces those who follow the record."""
        return Feed(self._cursor)


_SEAL = ("digest", "mac", "mac_key")


def read_state(stream: str, text: str) -> State:
    """Returns the standing that the projection kept as `text`.

    Raises:
        LedgerError: the text cannot be read; the entries still can, and a rebuild makes it anew.
    """
    try:
        return _read_before(stream, text) if stream.partition(":")[0] in REREAD else states.from_text(stream, text)
    except (KeyError, ValueError) as fault:
        message = f"What is kept of where {stream} stands cannot be read; `reprocess rebuild` makes it anew."
        raise LedgerError(message, stream=stream) from fault


_read_before: Final = lru_cache(maxsize=STREAMS_MAX)(states.from_text)
"""The same text of the same stream is the same standing for ever, and is not parsed again."""


def standing_row(stream: str, number: int, head: bytes, changed_us: int, state: State) -> tuple[object, ...]:
    """Returns the row in which the projection keeps a standing."""
    item = state if isinstance(state, Standing) else None
    return (
        stream,
        stream.partition(":")[0],
        number,
        head,
        getattr(state, "site", None),
        item.item_kind if item is not None else None,
        str(item.stage) if item is not None else None,
        int(item.held) if item is not None else 0,
        changed_us,
        states.as_text(state),
    )


def project(cursor: Cursor, entry: Entry, cycle: int) -> None:
    """Brings intervals, badges, files and reminders given up to date with one entry."""
    if entry.stream.startswith(_ITEMS):
        touches.project(cursor, entry, cycle)
    project_feed(cursor, entry)


_ITEMS = f"{StreamKind.ITEM}:"
_SUBSCRIPTIONS = f"{StreamKind.SUBSCRIPTION}:"


FEED_KINDS: Final = (
    words.BadgeGiven.kind,
    words.BadgeWithdrawn.kind,
    words.WorkflowPublished.kind,
    words.ReminderRang.kind,
    words.ReminderSeen.kind,
    words.ReminderEscalated.kind,
    *reviews.KINDS,
)
"""The kinds of entry whose projection depends on the order of the whole record, not of one stream."""


def project_feed(cursor: Cursor, entry: Entry) -> None:
    """Brings badges, files, reminders given and the queue of reviews up to date, in the order of the whole record."""
    body = entry.body
    reviews.project(cursor, entry)
    match body:
        case words.BadgeGiven():
            cursor.execute(sql.GIVE_BADGE, (body.badge, subject_of(entry.stream)))
        case words.BadgeWithdrawn():
            cursor.execute(sql.TAKE_BADGE, {"of_badge": body.badge})
        case words.WorkflowPublished():
            cursor.execute(sql.KEEP_DEFINITION, (body.digest, body.sort, body.name, body.text))
        case words.ReminderRang():
            cursor.execute(sql.KEEP_RANG, (body.key, entry.at_us))
        case words.ReminderSeen():
            cursor.execute(sql.KEEP_SEEN, (entry.at_us, body.key))
        case words.ReminderEscalated():
            cursor.execute(sql.KEEP_ESCALATED, (entry.at_us, body.key))
            cursor.execute(sql.KEEP_LEVEL, (body.key, body.level or 1, entry.at_us))
        case _:
            pass


@contextmanager
def transaction(ledger: Ledger) -> Iterator[Transaction]:
    """Yields one transaction on the record; all of it is written at the end, or nothing."""
    work: Transaction | None = None

    def remember() -> None:
        if work is not None:
            work.remember()

    with ledger.in_transaction(remember) as cursor:
        memory = ledger.memory_of(cursor.connection)
        memory.begin(cursor)
        holding = Holding(cursor) if is_sqlite(cursor) else None
        work = Transaction(holding or cursor, ledger.ring, memory)
        yield work
        if holding is not None:
            holding.send()


@contextmanager
def claiming(ledger: Ledger) -> Iterator[Transaction]:
    """Yields a short transaction that writes claims and no entry; on a server nobody waits for it."""
    with ledger.claiming() as cursor:
        yield Transaction(cursor, claiming=True)


@contextmanager
def looking(ledger: Ledger, sites: Collection[str] | None = None) -> Iterator[Transaction]:
    """Yields a transaction that only reads.

    Args:
        ledger: the record.
        sites: the sites whose rows are seen; all of them where absent, and none but what belongs to no site where
            empty. Names of wearers and cases without a site are seen by those alone who see all.
    """
    with ledger.reading() as cursor:
        if sites is not None:
            limit(cursor, sites)
        yield Transaction(cursor, ledger.ring, sites=None if sites is None else frozenset(sites))
