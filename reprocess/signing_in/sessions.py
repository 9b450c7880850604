"""Sessions: one person at one station, from badge and PIN to signing out (A07, D10).

At a screen, the badge alone opens the sessions that follow within the shift. That a request comes from a screen, and
from which, its routes find out; whoever names none comes from anywhere.

A PIN is compared outside of any transaction, since that takes long; what follows is decided inside one, on how things
stand by then, so that tries at the same time count one after the other.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final, Literal

from reprocess.clock import Clock
from reprocess.engine.access import Failed, Tried, failed
from reprocess.errors import NotAllowedError, NotSignedInError, TooManyTriesError, UnknownSubjectError
from reprocess.gathering import offset_min, person_by_badge, state_as
from reprocess.ledger.append import Transaction, looking, transaction
from reprocess.ledger.credentials import Pin, Session
from reprocess.ledger.open import Ledger
from reprocess.record.access import Access
from reprocess.record.entry import Draft, Envelope
from reprocess.record.moment import Moment
from reprocess.record.people import Person
from reprocess.record.places import Site, Station
from reprocess.record.words import BadgeGiven, BadgeWithdrawn, PinSet, SignedIn, SignedOut
from reprocess.rules import guessing, words
from reprocess.rules.answer import Answer, Reason, Verdict, as_text
from reprocess.rules.permissions import may_at
from reprocess.signing_in import tokens
from reprocess.signing_in.pins import Pins, must_be_good
from reprocess.signing_in.strangers import Strangers
from reprocess.terms import SECOND_US, StreamKind, stream

SIGNED_IN: Final = "signed-in"
SIGNED: Final = "signed"
"""How a person is known who gave the PIN in this very request."""
SEEN_EVERY_US: Final = 15 * SECOND_US
"""How seldom it is kept that a session was used (our choice); it may end earlier by so much, never later."""
IN_SHIFT: Final = "badge-in-shift"
"""The proof of a session that the badge alone opened at a screen."""
CLAIMED: Final = "claimed"
"""How a try that failed is known, where it did not come from the station's own screen."""
NOT_BELIEVED: Final = "Badge and PIN do not belong together. Check both and try again."
"""What whoever is not believed is told, whether the badge, the PIN or both were wrong."""


@dataclass(frozen=True, slots=True)
class Known:
    """Is who is at a station: a person, how they are known, and the site where they are."""

    person: Person
    session: Session
    site: Site


@dataclass(frozen=True, slots=True)
class _At:
    """Is what one try is judged on."""

    now: Moment
    place: Station
    site: Site
    person: Person | None
    access: Access | None
    pin: Pin | None
    locks: int
    screen: str | None


class Door:
    """Lets the people of one department in, at every station of this node."""

    def __init__(self, ledger: Ledger, clock: Clock, pins: Pins | None = None) -> None:
        self.ledger = ledger
        self.clock = clock
        self.pins = pins or Pins(ledger.key)
        self._strangers = Strangers()

    def sign_in(
        self, badge: str, pin: str, station: str, *, new_pin: str | None = None, screen: str | None = None
    ) -> tuple[str, Known]:
        """Returns (the new session's id, who it is); whoever was signed in at the station no longer is.

        Args:
            badge: the badge as scanned.
            pin: the PIN as typed.
            station: where.
            new_pin: the person's own choice from now on, where somebody else chose the one before.
            screen: the id of that station's screen, where it is asked from there.

        Raises:
            NotSignedInError: badge and PIN do not belong together; one more failure is on record.
            TooManyTriesError: the person or the station must wait; nothing was compared.
            NotAllowedError: the person works at other sites, or must choose a PIN first.
            UnknownSubjectError: there is no such station.
            WrongUseError: the new PIN is easily guessed.
        """
        at = self._compared(badge, pin, station, screen)
        person = _must_be(at.person)
        if new_pin is not None:
            must_be_good(new_pin, person.badges)
        kept = self.pins.kept(new_pin) if new_pin is not None else self._renewed(at.pin, pin)
        with transaction(self.ledger) as work:
            at = self._still(work, at, badge)
            _must_work_here(_must_be(at.person), at.site)
            if new_pin is None and at.pin is not None and at.pin.must_change:
                raise NotAllowedError(MUST_CHANGE, person=person.person)
            chosen = [Draft(_own(person.person), PinSet())] if new_pin is not None else []
            if kept is not None:
                work.credentials.keep_pin(person.person, Pin(kept, at.now.wall_us, must_change=False))
            return self._opened(work, at, badge, chosen, "badge-and-pin")

    def admit(self, person: str, station: str) -> tuple[str, Known]:
        """Returns (the new session's id, who it is) for somebody whom the organisation's own sign-on vouches for.

        Raises:
            NotSignedInError: nobody of that name works here, has a badge, and is not locked.
            NotAllowedError: the person works at other sites.
            UnknownSubjectError: there is no such station.
        """
        with transaction(self.ledger) as work:
            known = state_as(work, stream(StreamKind.PERSON, person), Person)
            badge = next(iter(known.badges), "")
            at = self._at(work, badge, station)
            _must_take_tries(work, at)
            if at.person is None or not at.person.active or at.access is None or at.access.locked_us is not None:
                message = "This sign-on belongs to nobody here. A supervisor registers you and gives you a badge."
                raise NotSignedInError(message)
            _must_work_here(at.person, at.site)
            return self._opened(work, at, badge, [], "single-sign-on")

    def by_badge(self, badge: str, station: str) -> tuple[str, Known]:
        """Returns (the new session's id, who it is) of somebody in their shift, for a screen of that station.

        Whoever was signed in at the station no longer is. The session ends twelve hours after the PIN was given.

        Raises:
            NotSignedInError: the badge alone does not prove enough; it counts as no failure.
            UnknownSubjectError: there is no such station.
        """
        with transaction(self.ledger) as work:
            at = self._in_shift(work, badge, station)
            return self._opened(work, at, badge, [], IN_SHIFT)

    def second_by_badge(self, badge: str, station: str) -> Person:
        """Returns the second person at a screen of that station who is in their shift, by the badge alone.

        Raises:
            NotSignedInError: the badge alone does not prove enough; it counts as no failure.
            UnknownSubjectError: there is no such station.
        """
        with looking(self.ledger) as read:
            return _must_be(self._in_shift(read, badge, station).person)

    def whose(self, secret: str) -> Known:
        """Returns who is signed in with a session's id, and keeps that it was used.

        Raises:
            NotSignedInError: there is no such session, or it counts no more.
        """
        if not tokens.is_like(secret, tokens.SESSION):
            raise NotSignedInError(NOBODY)
        now = self.clock.now()
        with looking(self.ledger) as read:
            session = read.credentials.session(tokens.digest_of(secret))
            if session is None:
                raise NotSignedInError(NOBODY)
            over = _over(read, session, now.wall_us)
            known = _known(read, session)
        if over is not None:
            self._end(session.digest, over)
            raise NotSignedInError(ENDED[over])
        if abs(now.wall_us - session.seen_us) >= SEEN_EVERY_US:
            with transaction(self.ledger) as work:
                work.credentials.seen(session.digest, now.wall_us)
        return known

    def still(self, secret: str) -> Known | None:
        """Returns who is signed in with a session's id, or None where nobody is any more; it does not count as use."""
        now_us = self.clock.now().wall_us
        with looking(self.ledger) as read:
            session = read.credentials.session(tokens.digest_of(secret))
            return _known(read, session) if session is not None and _over(read, session, now_us) is None else None

    def sign(self, known: Known, pin: str, screen: str | None = None) -> None:
        """Compares the PIN once more, for a signature; `screen` is the id of the station's, where it is given there.

        Raises:
            NotSignedInError: it is not the PIN; one more failure is on record.
            TooManyTriesError: the person or the station must wait.
            NotAllowedError: the person must choose an own PIN first.
        """
        self._signs(known.session.badge, pin, known.session.station, screen)

    def second(self, badge: str, pin: str, station: str, screen: str | None = None) -> Person:
        """Returns the second person of a signature, who is known by badge and PIN as the first is.

        Args:
            badge: the badge as scanned.
            pin: the PIN as typed.
            station: where.
            screen: the id of that station's screen, where it is given there.

        Raises:
            NotSignedInError: badge and PIN do not belong together; one more failure is on record.
            TooManyTriesError: the person or the station must wait.
            NotAllowedError: the person must choose an own PIN first.
        """
        return self._signs(badge, pin, station, screen)

    def sign_out(self, secret: str, because: Literal["asked", "switched"] = "asked") -> None:
        """Ends a session; it does no harm where it ended before.

        Args:
            secret: the session's id.
            because: `switched` where somebody else signed in at the same browser, so that the person's shift goes on.
        """
        if tokens.is_like(secret, tokens.SESSION):
            self._end(tokens.digest_of(secret), because)

    def end_at(self, station: str) -> None:
        """Ends whatever session there is at a station, whose screen may be in wrong hands; its person gives the PIN."""
        with looking(self.ledger) as read:
            found = [one.digest for one in read.credentials.beside(station, "")]
        for digest in found:
            self._end(digest, "asked")

    def _signs(self, badge: str, pin: str, station: str, screen: str | None) -> Person:
        at = self._compared(badge, pin, station, screen, signing=True)
        if at.pin is not None and at.pin.must_change:
            raise NotAllowedError(MUST_CHANGE)
        return _must_be(at.person)

    def _in_shift(self, read: Transaction, badge: str, station: str) -> _At:
        """Returns where the person stands whose badge this is, where badge and PIN were given at the site this shift.

        Raises:
            NotSignedInError: it is not so; a badge that means nobody is answered alike.
        """
        at = self._at(read, badge, station)
        if at.person is None or not self._proved(read, at):
            raise NotSignedInError(GIVE_PIN)
        return at

    def _proved(self, read: Transaction, at: _At) -> bool:
        """Tells whether a badge proves who somebody is, from what happened since its person gave badge and PIN."""
        person, access = at.person, at.access
        if person is None or access is None or not person.active:
            return False
        if access.proved is None or not guessing.in_shift(access.proved, at.now.wall_us):
            return False
        place = state_as(read, stream(StreamKind.STATION, access.proved.station), Station)
        return place.site == at.site.site and _same_since(read, person.person, access.proved.feed)

    def _compared(self, badge: str, pin: str, station: str, screen: str | None, *, signing: bool = False) -> _At:
        """Returns where the person stands whose badge and PIN these are; else records the failure, and raises."""
        with looking(self.ledger) as read:
            at = self._at(read, badge, station, screen)
            _must_take_tries(read, at)
        self._must_not_be_barred(at, badge)
        right = self.pins.matches(at.pin.hash if at.pin is not None else None, pin)
        because = _because(at, right=right)
        if because is None:
            with looking(self.ledger) as read:
                return self._still(read, at, badge)
        with transaction(self.ledger) as work:
            now = self._at(work, badge, station, screen)
            _must_take_tries(work, now)
            self._must_not_be_barred(now, badge)
            self._fails(work, now, because, signing=signing)
        if now.access is None:
            self._strangers.failed(badge, now.now.wall_us)
        raise NotSignedInError(NOT_BELIEVED)

    def _must_not_be_barred(self, at: _At, badge: str) -> None:
        """Raises where the person must wait; a badge that means nobody waits as long."""
        access = at.access if at.access is not None else self._strangers.of(badge)
        _must_wait(guessing.barred(access, at.now.wall_us))

    def _fails(self, work: Transaction, at: _At, because: Failed, *, signing: bool) -> None:
        place = at.place.station
        tried = Tried(at.access, because, place, at.site.site, signing, at.locks)
        drafts = failed(tried)
        if len(drafts) > 1 and at.access is not None:
            for session in work.credentials.of_person(at.access.person):
                work.credentials.end(session.digest)
                drafts.append(Draft(_own(session.person), SignedOut(because="locked")))
        self._write(work, at, drafts, None, "sign-in")

    def _opened(self, work: Transaction, at: _At, badge: str, chosen: list[Draft], proof: str) -> tuple[str, Known]:
        """Begins a session under a new id, ends those that it takes the place of, and writes both down."""
        person, station, now_us = _must_be(at.person), at.place.station, at.now.wall_us
        drafts = list(chosen)
        for old in work.credentials.beside(station, person.person):
            work.credentials.end(old.digest)
            because = _over(work, old, now_us) or ("moved" if old.person == person.person else "switched")
            drafts.append(Draft(_own(old.person), SignedOut.model_validate({"because": because})))
        work.credentials.end_old(now_us)
        secret = tokens.new(tokens.SESSION)
        proved = at.access.proved if proof == IN_SHIFT and at.access is not None else None
        ends_us = (now_us if proved is None else proved.at_us) + guessing.SHIFT_S * SECOND_US
        session = Session(tokens.digest_of(secret), person.person, badge, station, now_us, now_us, ends_us)
        work.credentials.begin(session)
        drafts.append(Draft(_own(person.person), SignedIn.model_validate({"proof": proof})))
        self._write(work, at, drafts, person.person, "sign-in")
        return secret, Known(person, session, at.site)

    def _end(self, digest: str, because: str) -> None:
        with transaction(self.ledger) as work:
            session = work.credentials.session(digest)
            if session is None:
                return
            work.credentials.end(digest)
            place = state_as(work, stream(StreamKind.STATION, session.station), Station)
            site = state_as(work, stream(StreamKind.SITE, place.site), Site)
            at = _At(self.clock.now(), place, site, None, None, None, 0, None)
            draft = Draft(_own(session.person), SignedOut.model_validate({"because": because}))
            self._write(work, at, [draft], session.person, "sign-out")

    def _still(self, read: Transaction, before: _At, badge: str) -> _At:
        """Returns how things stand now; whoever was barred, or has another PIN meanwhile, is not let in."""
        at = self._at(read, badge, before.place.station, before.screen)
        _must_take_tries(read, at)
        self._must_not_be_barred(at, badge)
        if _because(at, right=True) is not None or at.pin != before.pin:
            raise NotSignedInError(NOT_BELIEVED)
        return at

    def _renewed(self, kept: Pin | None, pin: str) -> str | None:
        """Returns the PIN's hash with today's parameters, where it was kept with other ones."""
        return self.pins.kept(pin) if kept is not None and self.pins.outdated(kept.hash) else None

    def _at(self, read: Transaction, badge: str, station: str, screen: str | None = None) -> _At:
        now = self.clock.now()
        place = state_as(read, stream(StreamKind.STATION, station), Station)
        if not place.number:
            message = f"There is no station called {station}."
            raise UnknownSubjectError(message, station=station)
        person = person_by_badge(read, badge)
        site = state_as(read, stream(StreamKind.SITE, place.site), Site)
        locks = read.credentials.locks(now.wall_us - guessing.LOCKS_S * SECOND_US)
        if person is None:
            return _At(now, place, site, None, None, None, locks, screen)
        access = state_as(read, _own(person.person), Access)
        return _At(now, place, site, person, access, read.credentials.pin_of(person.person), locks, screen)

    def _write(self, work: Transaction, at: _At, drafts: list[Draft], actor: str | None, asked: str) -> None:
        key = f"{asked}-{self.clock.new_id()}"
        envelope = Envelope(
            moment=at.now,
            offset_min=offset_min(at.site.zone, at.now.wall_us),
            actor=actor,
            second=None,
            station=at.place.station,
            key=key,
            request=asked,
            identity=SIGNED_IN if actor is not None else _tried_by(at.screen),
        )
        verdict = Verdict.ACCEPTED if actor is not None else Verdict.REFUSED
        answer = Answer(verdict, drafts[0].stream, asked, key=key)
        work.write(work.prepare(drafts, envelope, self._ids()), as_text(answer))

    def _ids(self) -> Iterator[str]:
        while True:
            yield self.clock.new_id()


MUST_CHANGE: Final = "Somebody else chose this PIN. Choose your own one, and sign in with it."
GIVE_PIN: Final = "Give your PIN at the keypad once. Then the badge is enough."
"""What somebody is told at a screen whose badge alone proves too little, whatever the reason is."""
NOBODY: Final = "Nobody is signed in here. Sign in with badge and PIN."
ENDED: Final = {
    "idle": "Nobody used this session for five minutes. Sign in again with badge and PIN.",
    "over": "This session lasted its twelve hours. Sign in again with badge and PIN.",
    "locked": "Too many tries failed; sign-in is locked. A supervisor unlocks it.",
    "badge": "This badge was withdrawn. Ask a supervisor for a new one.",
    "left": "This person works here no more. Ask a supervisor.",
}
"""What somebody is told whose session counts no more, by why it ended."""


def _own(person: str) -> str:
    return stream(StreamKind.ACCESS, person)


def _known(read: Transaction, session: Session) -> Known:
    person = state_as(read, stream(StreamKind.PERSON, session.person), Person)
    place = state_as(read, stream(StreamKind.STATION, session.station), Station)
    return Known(person, session, state_as(read, stream(StreamKind.SITE, place.site), Site))


def _over(read: Transaction, session: Session, now_us: int) -> str | None:
    """Returns why a session counts no more, or None while it does."""
    person = state_as(read, stream(StreamKind.PERSON, session.person), Person)
    if not person.active:
        return "left"
    if session.badge not in person.badges:
        return "badge"
    if state_as(read, _own(session.person), Access).locked_us is not None:
        return "locked"
    over = guessing.session_over(session.seen_us, session.ends_us, now_us)
    if over is None:
        return None
    return "over" if over.key == "session-over" else "idle"


def _because(at: _At, *, right: bool) -> Failed | None:
    """Returns why somebody is not believed, or None where they are."""
    if at.person is None:
        return "badge"
    if not at.person.active:
        return "left"
    if at.pin is None:
        return "no-pin"
    return None if right else "pin"


def _must_be(person: Person | None) -> Person:
    if person is None:
        raise NotSignedInError(NOT_BELIEVED)
    return person


def _must_work_here(person: Person, site: Site) -> None:
    bar = may_at(person.sites, site.site)
    if bar is not None:
        raise NotAllowedError(told(bar), site=site.site)


def _same_since(read: Transaction, person: str, after: int) -> bool:
    """Tells whether a person got and lost no badge after an entry; so nobody is given another one's shift with one."""
    return not any(
        isinstance(one.body, BadgeGiven | BadgeWithdrawn) and one.feed > after
        for one in read.entries_of(stream(StreamKind.PERSON, person))
    )


def _tried_by(screen: str | None) -> str:
    """Returns how a try that failed is known: by the screen at which it was made, or by nothing."""
    return CLAIMED if screen is None else f"screen:{screen}"


def _must_take_tries(read: Transaction, at: _At) -> None:
    """Raises where too many tries failed: at the station's screen, or at the station without it, each by itself.

    Raises:
        TooManyTriesError: with how long to wait.
    """
    since_us = at.now.wall_us - guessing.STATION_S * SECOND_US
    tries = read.credentials.failed_at(at.place.station, _tried_by(at.screen), since_us)
    _must_wait(guessing.station_barred(tries, at.now.wall_us))


def _must_wait(bar: Reason | None) -> None:
    if bar is not None:
        raise TooManyTriesError(told(bar), **({"wait_s": bar.wait_s} if bar.wait_s is not None else {}))


def told(reason: Reason) -> str:
    """Returns a reason and the next action in words, for those who are told so before anything is asked."""
    shown = replace(reason, helpers=())
    wait = f" {reason.wait_s} s are left." if reason.wait_s is not None else ""
    return f"{words.sentence(shown, str)} {words.next_action(shown, str)}{wait}"
