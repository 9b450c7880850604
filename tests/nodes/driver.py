"""Nodes as processes of their own: each works with one department on a server and does what its pipe tells it to.

A node is forked from a process that has read the program already. It is asked in lines of JSON, one at a time, and
answers in lines; what it rings it writes to a pipe that all nodes share, a line each, before it goes on.
"""

from __future__ import annotations

import json
import os
import select
import signal
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from hashlib import sha256
from itertools import islice
from typing import Any

from reprocess.clock import Clock, StoryClock, SystemClock
from reprocess.department import Department, Server
from reprocess.errors import ReprocessError
from reprocess.gathering import Library
from reprocess.ledger.beacons import Beacons
from reprocess.ledger.open import open_ledger
from reprocess.ledger.posts import Post
from reprocess.record.moment import Moment
from reprocess.reminders import posting, rounds
from reprocess.reminders.rounds import Rang
from reprocess.rules.answer import as_text
from reprocess.shared_clock import SharedClock, keeping_time
from reprocess.station import Call
from tests.faults.killing import requests
from tests.ledger import small

ANSWER_S = 30.0
"""How long a node may take to answer before the test fails (our choice)."""
LIBRARY = Library()
"""The files as read before the nodes are forked, so that they are at work at once."""
CALLS = [
    Call(request, "LMG-1", "B-A", None, f"key-{number}") for number, request in enumerate(islice(requests(), 12_000))
]
"""What clients ask, each under its own key."""


class Named(SystemClock):
    """Is the clock of a computer of another name, whose wall clock may be wrong."""

    def __init__(self, name: str, wall_off_us: int = 0) -> None:
        self.name = name
        self.wall_off_us = wall_off_us

    def now(self) -> Moment:
        read = super().now()
        return replace(read, node=self.name, wall_us=read.wall_us + self.wall_off_us)


@dataclass(frozen=True)
class Inside:
    """Is one node, as it is inside its process."""

    department: Department
    clock: Clock
    name: str
    rings: int
    heard: int

    def does(self, asked: dict[str, Any]) -> dict[str, Any]:
        """Returns what came of one thing that was asked."""
        match asked["do"]:
            case "call":
                return self._called(CALLS[asked["number"]])
            case "sweep":
                gave = rounds.sweep(self.department.ledger, self.clock, self._ring(asked), self.name)
                return {"gave": [one.due.key for one in gave]}
            case "post":
                hands = {"web": self._hand(asked)}
                return {"delivered": posting.post_round(self.department.ledger, self.clock, hands)[0]}
            case "push" if isinstance(self.clock, StoryClock):
                self.clock.push(asked["seconds"])
                return {}
            case _:
                read = self.clock.now()
                health = self.clock.health() if isinstance(self.clock, SharedClock) else None
                return {"boot": read.boot, "us": read.mono_us, "skew_us": health.skew_us if health else 0}

    def _called(self, call: Call) -> dict[str, Any]:
        try:
            answer = self.department.desk.take(call)
        except ReprocessError as fault:
            return {"fault": fault.code, "sentence": fault.sentence}
        told = as_text(answer).replace('"repeated":true,', "")
        return {"digest": sha256(told.encode()).hexdigest()[:16], "repeated": answer.repeated}

    def _ring(self, asked: dict[str, Any]) -> Callable[[Rang], bool]:
        def ring(rang: Rang) -> bool:
            os.write(self.rings, f"{self.name} {rang.due.key}\n".encode())
            self._stop_after(asked)
            return True

        return ring

    def _hand(self, asked: dict[str, Any]) -> posting.Hand:
        def hand(post: Post, at_s: int) -> str | None:
            del at_s
            os.write(self.rings, f"{self.name} {post.key}\n".encode())
            self._stop_after(asked)
            return None

        return hand

    def _stop_after(self, asked: dict[str, Any]) -> None:
        """Stands still in the middle of a round until the clock goes on by what the next line says."""
        if asked.pop("stands", False):
            line = os.read(self.heard, 1_000)
            if isinstance(self.clock, StoryClock):
                self.clock.push(json.loads(line)["seconds"])


class Node:
    """Is one node as the test sees it: it is asked, killed, frozen and thawed."""

    def __init__(self, place: Server, name: str, rings: int, clock: Callable[[], Clock] | None = None) -> None:
        self.name = name
        heard, self._ask = os.pipe()
        self._answers, say = os.pipe()
        self.pid = os.fork()
        if self.pid == 0:
            os.close(self._ask)
            os.close(self._answers)
            _live(place, name, clock, (heard, say, rings))
        os.close(heard)
        os.close(say)
        self.alive = True

    def send(self, **asked: Any) -> None:
        """Asks without waiting; a node that is dead hears nothing."""
        try:
            os.write(self._ask, json.dumps(asked).encode() + b"\n")
        except BrokenPipeError:
            self.alive = False

    def answer(self) -> dict[str, Any] | None:
        """Returns the answer to what was asked last, or None where the node died."""
        said = b""
        while not said.endswith(b"\n"):
            ready, _, _ = select.select([self._answers], [], [], ANSWER_S)
            assert ready, f"{self.name} does not answer"
            part = os.read(self._answers, 65_536)
            if not part:
                return None
            said += part
        found: dict[str, Any] = json.loads(said)
        return found

    def ask(self, **asked: Any) -> dict[str, Any] | None:
        self.send(**asked)
        return self.answer()

    def kill(self) -> None:
        """Kills it as kill -9 does, and waits until it is gone."""
        if self.alive:
            os.kill(self.pid, signal.SIGKILL)
            self._gone()

    def stop(self) -> None:
        """Lets it end what it is at, and waits until it is gone."""
        if self.alive:
            self.send(do="stop")
            self._gone()

    def freeze(self) -> None:
        os.kill(self.pid, signal.SIGSTOP)
        os.waitpid(self.pid, os.WUNTRACED)

    def thaw(self) -> None:
        os.kill(self.pid, signal.SIGCONT)

    def _gone(self) -> None:
        os.waitpid(self.pid, 0)
        os.close(self._ask)
        os.close(self._answers)
        self.alive = False


def _live(place: Server, name: str, clock: Callable[[], Clock] | None, pipes: tuple[int, int, int]) -> None:
    """Is the life of a node's process; it never returns."""
    heard, say, rings = pipes
    try:
        ledger = open_ledger(place)
        own: Clock = clock() if clock is not None else SharedClock(Beacons(ledger), SystemClock())
        inside = Inside(small.over(ledger, own, LIBRARY), own, name, rings, heard)
        with keeping_time(own):
            for line in _lines(heard):
                os.write(say, json.dumps(inside.does(json.loads(line))).encode() + b"\n")
        inside.department.close()
    except ReprocessError as fault:
        os.write(2, f"{name}: {fault.sentence}\n".encode())
    finally:
        os._exit(0)


def _lines(heard: int) -> Iterator[bytes]:
    said = b""
    while part := os.read(heard, 65_536):
        said += part
        while b"\n" in said:
            line, _, said = said.partition(b"\n")
            if b'"stop"' in line:
                return
            yield line
