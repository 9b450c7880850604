"""`reprocess serve`: the department over HTTP, and its reminders on this terminal, until it is stopped."""

from __future__ import annotations

import math
import os
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, field
from pathlib import Path
from threading import Event
from typing import TYPE_CHECKING, Annotated

import typer

from reprocess.commandline.options import DepartmentOption, JsonOption
from reprocess.errors import ReprocessError, WrongUseError

if TYPE_CHECKING:
    from reprocess.clock import Clock
    from reprocess.department import Department
    from reprocess.reminders.bell import Bell
    from reprocess.reminders.posting import Hand
    from reprocess.reminders.rounds import Outside
    from reprocess.service.serving import Listening
    from reprocess.settings import ServiceSettings, Settings, SubscriptionSettings

DEMO_FILE = Path("larkmoor-demo.db")


def serve(
    reminders_only: Annotated[
        bool, typer.Option("--reminders-only", help="Ring the reminders on this terminal; no pages, no API.")
    ] = False,
    seconds: Annotated[
        float | None, typer.Option("--for", min=0, max=31_536_000, help="Stop after so many seconds; 0: ring once.")
    ] = None,
    host: Annotated[
        str | None, typer.Option("--host", help="The address to listen at; without TLS or a proxy 127.0.0.1 alone.")
    ] = None,
    port: Annotated[int | None, typer.Option("--port", min=0, max=65_535, help="The port; 0 takes a free one.")] = None,
    certificate: Annotated[
        Path | None, typer.Option("--certificate", help="TLS: the certificate with its chain, in PEM.")
    ] = None,
    key_file: Annotated[Path | None, typer.Option("--key-file", help="TLS: the certificate's key, in PEM.")] = None,
    self_signed: Annotated[
        bool, typer.Option("--self-signed", help="TLS with a certificate of our own; prints what stations pin.")
    ] = False,
    behind_proxy: Annotated[
        list[str] | None,
        typer.Option("--behind-proxy", help="A proxy's address or network; its X-Forwarded headers are believed."),
    ] = None,
    demo: Annotated[
        bool, typer.Option("--demo", help="Serve the demo, to try the interface; prints tokens for it.")
    ] = False,
    department: DepartmentOption = None,
    as_json: JsonOption = False,
) -> None:
    """Serve a department over HTTP and ring its reminders here; Ctrl-C ends it. Several may run at once."""
    asked = Asked(host, port, certificate, key_file, tuple(behind_proxy or ()), self_signed=self_signed)
    if reminders_only:
        if demo or asked != Asked():
            message = "With --reminders-only nothing is served; leave the other options out."
            raise WrongUseError(message)
        _ring(department, seconds, as_json=as_json)
    elif demo:
        _serve_demo(department or DEMO_FILE, asked, seconds, as_json=as_json)
    else:
        _serve(department, asked, seconds, as_json=as_json)


@dataclass(frozen=True, slots=True)
class Asked:
    """Is what the options say of the network."""

    host: str | None = None
    port: int | None = None
    certificate: Path | None = None
    key_file: Path | None = None
    proxies: tuple[str, ...] = ()
    self_signed: bool = False


@dataclass(slots=True)
class Terminal:
    """Is this terminal, on which reminders are written; when nobody reads it any more, everything stops."""

    stop: Event
    lost: list[OSError] = field(default_factory=list)

    def write(self, text: str) -> None:
        """Writes one reminder."""
        try:
            print(text, flush=True)
        except OSError as fault:
            # Nobody reads this terminal any more: the bell stops, so that another one may ring instead.
            self.lost.append(fault)
            self.stop.set()
            raise

    def must_be_there(self) -> None:
        """Raises where the terminal went away.

        Raises:
            ReprocessError: it did.
        """
        if self.lost:
            message = "The terminal is gone; the reminders no longer ring here."
            raise ReprocessError(message) from self.lost[0]


def _ring(given: Path | None, seconds: float | None, *, as_json: bool) -> None:
    """Rings until it is stopped; a demo keeps its own now, which other commands move on, and is read anew each time."""
    from reprocess.commandline.opening import department_at, department_path
    from reprocess.demo.clock import clock_for
    from reprocess.reminders import bell
    from reprocess.settings import Settings
    from reprocess.shared_clock import keeping_time

    path = department_path(given)
    ringing = Ringing(Settings(), as_json=as_json)
    with department_at(given) as opened, bell.stopping() as stop:
        terminal = Terminal(stop)
        print(f"Reminders of {path.name} ring here. Ctrl-C ends it.", file=sys.stderr, flush=True)
        alone = opened.ledger.server is None
        now = (lambda: clock_for(path)) if alone else (lambda: opened.clock)
        with keeping_time(opened.clock), ringing.bells(opened, terminal, now) as first:
            first.ring_until(stop, math.inf if seconds is None else seconds)
    terminal.must_be_there()


def _serve(given: Path | None, asked: Asked, seconds: float | None, *, as_json: bool) -> None:
    from reprocess.clock import clock_path
    from reprocess.commandline.opening import department_at, department_path
    from reprocess.settings import Settings

    settings = Settings()
    must_be_served_safely(asked, settings.service)
    path = department_path(given)
    if clock_path(path).exists():
        message = f"{path.name} is a demo; `reprocess serve --demo -d {path.name}` serves it."
        raise WrongUseError(message)
    with department_at(given) as opened:
        _run(opened, settings, asked, seconds, lambda: _first_run(opened), as_json=as_json)


def _serve_demo(path: Path, asked: Asked, seconds: float | None, *, as_json: bool) -> None:
    from reprocess.demo import sandbox
    from reprocess.rules.cautions import DEMO, EXAMPLE
    from reprocess.settings import Settings

    settings = Settings()
    must_be_served_safely(asked, settings.service)
    opened, clock = sandbox.opened(path)
    try:
        for line in (DEMO, EXAMPLE):
            print(line, file=sys.stderr)
        _run(opened, settings, asked, seconds, lambda: _tokens(opened), as_json=as_json, each=clock.keep)
    finally:
        clock.keep()
        opened.close()


def _tokens(opened: Department) -> None:
    """Prints tokens and first PINs with which a demo is tried."""
    from reprocess.demo import sandbox, ward

    print("Tokens to try it with; they are shown this once:", file=sys.stderr)
    for name, token in sandbox.tokens(opened).items():
        print(f"  {name}: {token}", file=sys.stderr, flush=True)
    print("First PINs; whoever signs in with one, on the first page, chooses an own one:", file=sys.stderr)
    for badge, pin in sandbox.first_pins(opened).items():
        print(f"  badge {badge} ({sandbox.WHO[badge]}): {pin}", file=sys.stderr, flush=True)
    print(f"For the hatch: {ward.KIT} is made ready; a wearer's badge is {ward.BADGE}.", file=sys.stderr, flush=True)


def _first_run(opened: Department) -> None:
    """Prints the code for the first two administrators where nobody can sign in yet."""
    from reprocess.signing_in import first_run

    code = first_run.offer(opened.ledger, opened.clock)
    if code is not None:
        print("Nobody can sign in yet. Code for the first two administrators, for 30 minutes:", file=sys.stderr)
        print(f"  {code}", file=sys.stderr, flush=True)


def _run(
    opened: Department,
    settings: Settings,
    asked: Asked,
    seconds: float | None,
    greet: Callable[[], None],
    *,
    as_json: bool,
    each: Callable[[], None] = lambda: None,
) -> None:
    """Serves and rings until it is stopped, or for so many seconds; `greet` is done before, `each` with every sweep."""
    from reprocess.clock import SystemClock
    from reprocess.service import logs, serving
    from reprocess.service.api.incoming import SENDERS_CLOCK
    from reprocess.service.app import create_app
    from reprocess.shared_clock import keeping_time

    listening = listening_of(asked, settings.service, opened)
    ringing = Ringing(settings, as_json=as_json)
    app = create_app(opened, settings, listening.link(settings.service))
    app.state.served.parts[SENDERS_CLOCK] = SystemClock()
    logs.begin()
    with serving.stopping() as stop, serving.bound(listening) as listens:
        greet()
        terminal = Terminal(stop)
        with (
            keeping_time(opened.clock),
            ringing.bells(opened, terminal, lambda: opened.clock, each) as first,
            subscribers(opened, settings.subscriptions, stop),
            serving.serving(app, listening, listens, stop),
        ):
            at = serving.address_of(listening, listens)
            print(f"Serving {opened.ledger.path.name} at {at} (documentation: {at}/docs).", file=sys.stderr)
            if listening.fingerprint is not None:
                print(f"Certificate to pin, SHA-256: {listening.fingerprint}", file=sys.stderr)
            print("Its reminders ring here. Ctrl-C ends it.", file=sys.stderr, flush=True)
            first.ring_until(stop, math.inf if seconds is None else seconds)
    terminal.must_be_there()


def must_be_served_safely(asked: Asked, settings: ServiceSettings) -> None:
    """Refuses options that do not go together, and an address that others reach without TLS.

    Raises:
        WrongUseError: either of them.
    """
    from reprocess.service.serving import must_be_reached_safely

    if (asked.certificate is None) != (asked.key_file is None):
        message = "A certificate and its key go together: --certificate and --key-file."
        raise WrongUseError(message)
    if asked.certificate is not None and asked.self_signed:
        message = "Either a certificate of one's own, or --self-signed."
        raise WrongUseError(message)
    tls = asked.self_signed or asked.certificate is not None
    must_be_reached_safely(asked.host or settings.host, tls=tls, proxies=asked.proxies or settings.trusted_proxies)


def listening_of(asked: Asked, settings: ServiceSettings, opened: Department) -> Listening:
    """Returns where and how to listen; makes a certificate beside the department where one is asked for.

    Raises:
        WrongUseError: the certificate cannot be used.
    """
    from reprocess.clock import SystemClock, node_name
    from reprocess.service import certificate, serving
    from reprocess.service.limits import names_of
    from reprocess.terms import SECOND_US

    host = asked.host or settings.host
    port = settings.port if asked.port is None else asked.port
    proxies = asked.proxies or settings.trusted_proxies
    if asked.certificate is not None and asked.key_file is not None:
        return serving.Listening(host, port, serving.tls_of(asked.certificate, asked.key_file), proxies)
    if not asked.self_signed:
        return serving.Listening(host, port, None, proxies)
    names = names_of((host, node_name(), *settings.names))
    made = certificate.beside(opened.ledger.path, names, SystemClock().now().wall_us // SECOND_US)
    return serving.Listening(host, port, serving.tls_of(made.certificate, made.key), proxies, made.fingerprint)


class Ringing:
    """Rings the reminders of a department and hands them to the channels outside."""

    def __init__(self, settings: Settings, *, as_json: bool) -> None:
        from reprocess.commandline.posting import hands, kept_for

        self._outside: Mapping[str, Hand] = hands(settings)
        self._kept: Outside = kept_for(settings)
        self._as_json = as_json

    @contextmanager
    def bells(
        self,
        opened: Department,
        terminal: Terminal,
        clock: Callable[[], Clock],
        each: Callable[[], None] = lambda: None,
    ) -> Iterator[Bell]:
        """Yields the bell of the reminders, while it and that of the channels ring."""
        from reprocess.reminders import bell, channels, posting, rounds

        channel = channels.json_lines if self._as_json else channels.terminal
        deliver = bell.guarded(channel(terminal.write))
        node = f"{opened.clock.now().node}-{os.getpid()}"

        def goes_on() -> bool:
            return not terminal.stop.is_set()

        def tick() -> None:
            rounds.sweep(opened.ledger, clock(), deliver, node, goes_on, self._kept)
            each()

        def post() -> None:
            posting.post_round(opened.ledger, clock(), self._outside, goes_on)

        with bell.Bell(tick) as first, bell.Bell(post, posting.EVERY_S) if self._outside else nullcontext():
            yield first


def subscribers(opened: Department, may: SubscriptionSettings, stop: Event) -> Bell:
    """Returns the bell at which subscribers are handed what follows in the record."""
    from reprocess.reminders import bell, outbox
    from reprocess.service.outgoing import letter_of, sender

    send = sender(may.hosts, may.private)

    def hand_over() -> None:
        outbox.outbox_round(opened.ledger, opened.clock, letter_of, send, lambda: not stop.is_set())

    return bell.Bell(hand_over, outbox.EVERY_S)
