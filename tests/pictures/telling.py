"""Entries told one after the other, instants in seconds after seven in the morning, and what is asked of a drawing."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

from reprocess.languages import texts_of
from reprocess.pictures.picture import Frame, Picture
from reprocess.record import words
from reprocess.record.entry import Entry, Envelope
from reprocess.record.moment import Moment
from reprocess.terms import SECOND_US

START_US = 1_772_694_000 * SECOND_US
"""2026-03-05T07:00:00Z."""
SVG = "{http://www.w3.org/2000/svg}"


def at(seconds: int) -> int:
    """Returns an instant so many seconds after seven."""
    return START_US + seconds * SECOND_US


class Stream:
    """Collects the entries of one stream."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.entries: list[Entry] = []

    def tell(self, seconds: int, body: words.Body, *, occurred: int | None = None) -> Stream:
        """Adds one entry; `occurred` where a form tells an earlier time."""
        number = len(self.entries) + 1
        moment = Moment(at(seconds), seconds * SECOND_US, None, "boot", "node")
        envelope = Envelope(moment, 0, "P-A", None, "BENCH", f"k{number}", "r")
        when_us = at(seconds if occurred is None else occurred)
        self.entries.append(Entry(number, f"i{number}", self.name, number, body, when_us, envelope, 0))
        return self


def frame(key: str = "one", zone: str = "Europe/London") -> Frame:
    """Returns a frame in English."""
    return Frame(texts_of("en"), zone, key)


def commissioned() -> words.ItemCommissioned:
    return words.ItemCommissioned(
        item_kind="blower", model="LB-3", site="LMG", workflow="blower", digest="d1", in_service_us=0
    )


def used(cycle: int) -> words.ItemContaminated:
    return words.ItemContaminated(
        cause="used", contamination_class="routine", cycle=cycle, workflow="blower", digest="d1"
    )


def done(step: str, stage: str) -> words.StepDone:
    return words.StepDone(step=step, stage=stage, evidence="measured")


def began(step: str, dwell: str, attempt: int = 1) -> words.DwellStarted:
    return words.DwellStarted(step=step, cycle=2, dwell=dwell, attempt=attempt, least_s=300)


def ended(step: str, stage: str, *, load: str | None = None, paper: str | None = None) -> words.DwellEnded:
    return words.DwellEnded(
        step=step, stage=stage, evidence="measured", proven_s=300, least_s=300, greatest_seen_s=300, load=load,
        paper=paper,
    )  # fmt: skip


def broken() -> words.DwellBroken:
    return words.DwellBroken(step="disinfect", cause="dried", rule="T03", wet_s=200, least_s=300)


def held(hold: str, sort: str) -> words.HoldPlaced:
    return words.HoldPlaced(
        hold=hold, sort=sort, rule="H02", cause="x", owner="supervisor", lift_roles=("supervisor",),
        lift_two_people=False, lift_requires="x",
    )  # fmt: skip


def a_day(item: str = "BLW-1") -> Stream:
    """Returns an item's day: used twice, a contact that dried early, two holds that overlap, ready, issued."""
    return (
        Stream(f"item:{item}")
        .tell(0, commissioned())
        .tell(600, used(2))
        .tell(900, done("clean", "cleaned"))
        .tell(1000, began("disinfect", "wet-contact"))
        .tell(1200, broken())
        .tell(1260, began("disinfect", "wet-contact", 2))
        .tell(1560, ended("disinfect", "disinfected"))
        .tell(1600, began("dry", "drying"))
        .tell(2200, ended("dry", "dried"))
        .tell(2300, done("inspect", "inspected"))
        .tell(2400, held("H-1", "administrative"))
        .tell(2450, held("H-2", "recall"))
        .tell(2700, words.HoldLifted(hold="H-1", disposition="settled"))
        .tell(2800, words.HoldLifted(hold="H-2", disposition="settled"))
        .tell(2900, words.ItemReleased(step="release", stage="ready", digest="d1", cycle=2, evidence={}))
        .tell(3600, words.ItemIssued(cycle=2, wearer="W-8F3A", place="WARD-5", purpose="isolation"))
    )


def titles(picture: Picture) -> list[str]:
    """Returns the words of every mark of a drawing."""
    return [one.text or "" for mark in marks(picture) for one in mark.findall(f"{SVG}title")]


def marks(picture: Picture) -> list[ET.Element]:
    """Returns every mark of a drawing that has words."""
    root = ET.fromstring(picture.svg or "")  # noqa: S314 - our own drawing
    return [one for one in root.iter() if one is not root and one.find(f"{SVG}title") is not None]


def all_texts(picture: Picture) -> list[str]:
    """Returns every text that stands in a drawing, line by line."""
    root = ET.fromstring(picture.svg or "")  # noqa: S314 - our own drawing
    found = [one.text or "" for one in root.iter() if one.tag in (f"{SVG}text", f"{SVG}tspan")]
    return [one for one in found if one]


def width_of(mark: ET.Element) -> float:
    """Returns how wide a bar is: the library writes `M<x>,<y>h<width>v<height>h-<width>Z`."""
    found = re.fullmatch(r"M[-\d.]+,[-\d.]+h([-\d.]+)v[-\d.]+h[-\d.]+Z", mark.get("d", ""))
    assert found is not None, mark.get("d")
    return float(found[1])
