"""The board without a browser: what is most urgent stands first, nobody's wearer is on it, and it is rendered once."""

from __future__ import annotations

import asyncio
import html
import re
from collections.abc import Callable
from typing import Any

import pytest

from reprocess.engine import request as asking
from reprocess.languages import LANGUAGES, texts_of
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.reminders.wording import SAYINGS
from reprocess.rules.permissions import SCREEN
from reprocess.service import who
from reprocess.service.pages.board import page as faces
from reprocess.service.pages.board.rows import TOLD
from reprocess.service.pages.kept import Kept
from reprocess.service.who import Caller
from reprocess.terms import DAY_S
from reprocess.timetable.chains import CHAINS
from tests.engine.benches import play
from tests.engine.outside import wearers
from tests.engine.test_places import STORE
from tests.engine.wearing_people import ILSE, registered
from tests.engine.worn import write
from tests.service.hall import Hall, floor, hall, prepared  # noqa: F401 - fixtures

FRAGMENT = {"X-Fragment": "1"}
SCREEN_ID = "S-1"


@pytest.fixture
def wall(hall: Hall) -> Hall:  # noqa: F811
    """Yields the department before a board at which somebody may be signed in or nobody."""
    overrides: dict[Any, Callable[..., Any]] = hall.client.app.dependency_overrides  # type: ignore[attr-defined]
    overrides[who.caller_or_screen] = lambda: hall.caller
    return hall


def later(wall: Hall, seconds: int) -> Hall:
    """Lets time pass: the second in which boards share what was read is over."""
    wall.floor.clock.push(seconds)
    for name in ("board-rows", "board-parts"):
        wall.client.app.state.served.parts.pop(name, None)  # type: ignore[attr-defined]
    return wall


def screen() -> Caller:
    """Returns a screen at the bench where nobody is signed in."""
    return Caller(
        "screen", station="BENCH", scopes=frozenset({SCREEN}), sites=frozenset({"LMG"}), token=SCREEN_ID, identity=""
    )


def text_of(answer: Any) -> str:
    """Returns what a page says, without its marks."""
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.text)))


def board(wall: Hall, query: str = "") -> str:
    """Returns what the board says."""
    answer = wall.client.get(f"/board{query}")
    assert answer.status_code == 200, answer.text
    return text_of(answer)


def test_clocks_stand_by_the_time_to_what_comes_next(wall: Hall) -> None:
    """A contact of three minutes under a film of 100 s: its cue comes at 80 s (T03), its end at 180 s (T01)."""
    wall.floor.ask(asking.StartDwell("BLW-2", "disinfect", "QAW-1"))
    wall.floor.clock.push(60)
    wall.floor.ask(asking.StartDwell("TUB-5", "disinfect", "QAW-1"))
    answer = wall.client.get("/board")
    acts = re.findall(
        r'class="clock ([a-z-]+)"[\s\S]*?<bdi>([^<]+)</bdi>[\s\S]*?class="digits"[^>]*>([^<]*)<', answer.text
    )
    assert [one[:2] for one in acts] == [("wet", "BLW-2"), ("wet", "TUB-5")]
    shown = later(wall, 60).client.get("/board").text
    acts = re.findall(r'class="clock ([a-z-]+)"[\s\S]*?<bdi>([^<]+)</bdi>', shown)
    assert acts[0] == ("wet-now", "BLW-2")
    assert 'class="clock over"' in later(wall, DAY_S).client.get("/board").text


def test_no_wearer_is_on_the_board(wall: Hall) -> None:
    """D13: neither name nor badge nor pseudonym, whoever looks."""
    wearers(wall.floor, "W-1")
    play(wall.floor, "+0 | gus | KIT-7 issue W-1 ward-7 | accepted")
    wearer = registered(wall.floor, ILSE)
    wall.floor.clock.push(DAY_S)
    for caller in (wall.caller, screen()):
        wall.caller = caller
        shown = wall.client.get("/board").text
        assert "KIT-7" in shown
        told = [one for one in (wearer, "Ilse", "Varga", "W-7041") if one in shown]
        assert (told, re.findall(r"(?<![A-Z])W-1\b", shown)) == ([], [])
    assert "out ward-7 1 KIT-7" in board(wall)


def test_reminders_about_people_and_cases_do_not_hang_on_a_wall() -> None:
    assert not TOLD & {"person", "wearer", "case", "access", "token"}


def test_a_screen_shows_its_own_site_and_no_handover(wall: Hall) -> None:
    wall.caller = screen()
    assert wall.client.get("/board").status_code == 200
    assert wall.client.get("/board?site=SAL").status_code == 404
    wall.client.app.dependency_overrides.pop(who.caller)  # type: ignore[attr-defined]
    assert wall.client.get("/board/handover", follow_redirects=False).status_code == 303


def test_nobody_sees_the_board_without_a_session_or_a_screen(hall: Hall) -> None:  # noqa: F811
    answer = hall.client.get("/board", follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/sign-in?to=/board")


def test_stock_below_par_is_told_in_words(wall: Hall) -> None:
    """Q07"""
    play(wall.floor, STORE + "+1 | ben | KIT-7 put-in CAB-1 | accepted")
    shown = board(wall)
    assert "0 of 2 " in shown
    assert "Too few: bring more" in shown
    assert "1 of 1 " in shown
    wall.floor.ask(asking.OpenCabinet("CAB-1", "S-1"), "ben")
    assert "Opened: seal it again" in board(wall)


def test_what_waits_stands_with_whom_it_waits_for(wall: Hall) -> None:
    wall.floor.ask(asking.PlaceHold("TUB-7", "administrative", "paper lost", "supervisor"))
    shown = wall.client.get("/board").text
    assert re.search(r"supervisor[\s\S]{0,200}Hold: administrative", shown)
    assert "paper lost" not in shown
    assert re.search(r"Dirty side[\s\S]{0,200}take apart", shown)


def test_its_middle_alone_is_rendered_once_for_all_who_ask_together(
    wall: Hall, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(faces, "second", lambda: 7)
    first = wall.client.get("/board", headers=FRAGMENT)
    assert "<html" not in first.text
    kept = wall.client.app.state.served.parts["board-parts"]  # type: ignore[attr-defined]
    made = kept.makings
    for _ in range(50):
        assert wall.client.get("/board", headers=FRAGMENT).text == first.text
    assert kept.makings == made
    wall.client.get("/board?language=ar", headers=FRAGMENT)
    assert kept.makings == made + 1
    wall.floor.ask(asking.StartDwell("BLW-2", "disinfect", "QAW-1"))
    assert "BLW-2" in wall.client.get("/board", headers=FRAGMENT).text
    assert kept.makings == made + 2
    monkeypatch.setattr(faces, "second", lambda: 8)
    wall.client.get("/board", headers=FRAGMENT)
    assert kept.makings == made + 3


def test_what_is_kept_is_bounded_made_once_and_made_anew_after_a_fault() -> None:
    async def play_it() -> None:
        kept = Kept[int](2)
        gate = asyncio.Event()

        async def slow() -> int:
            await gate.wait()
            return 7

        asked = [asyncio.ensure_future(kept.get("a", slow)) for _ in range(20)]
        await asyncio.sleep(0)
        asked[0].cancel()
        gate.set()
        assert await asyncio.gather(*asked[1:]) == [7] * 19
        assert kept.makings == 1

        async def fails() -> int:
            message = "no such board"
            raise ValueError(message)

        for _ in range(2):
            with pytest.raises(ValueError, match="no such board"):
                await kept.get("b", fails)
        assert kept.makings == 3
        for one in "cdef":
            assert await kept.get(one, slow) == 7
        assert len(kept) == 2

    asyncio.run(play_it())


def test_a_handover_says_what_runs_waits_is_held_and_why(wall: Hall) -> None:
    play(wall.floor, STORE + "+1 | anna | TUB-7 hold administrative paper lost | held H04")
    wall.floor.ask(asking.StartDwell("BLW-2", "disinfect", "QAW-1"))
    wall.floor.ask(asking.EndDwell("BLW-2", "disinfect"))
    shown = text_of(wall.client.get("/board/handover"))
    for told in ("BLW-2 :", "paper lost", "T01 (time)", "Hands over", "Takes over", "Signature"):
        assert told in shown, told


def test_a_bath_near_its_end_or_without_a_pass_today_is_handed_over(wall: Hall) -> None:
    """L03, L04: what ends within eight hours; a bath whose pass is yesterday's."""
    body = words.SolutionMade(
        agent="hypochlorite-50ppm", digest="d", form="bath", site="LMG", lot="C-1", lot_expiry_us=2**60,
        expires_us=wall.floor.clock.now().wall_us + 3600 * 1_000_000,
    )  # fmt: skip
    write(wall.floor, Draft("solution:LMG-B9", body))
    shown = text_of(wall.client.get("/board/handover"))
    assert re.search(r"LMG-B9 .{0,40}Near its end\. No pass today\.", shown), shown


def test_a_bath_that_failed_is_handed_over_as_failed_until_it_is_ended(wall: Hall) -> None:
    """L02: what failed stands on the bench still, and the list must not say that every bath passed today."""
    made = words.SolutionMade(
        agent="hypochlorite-50ppm", digest="d", form="bath", site="LMG", lot="C-1", lot_expiry_us=2**60,
        expires_us=wall.floor.clock.now().wall_us + 3600 * 1_000_000,
    )  # fmt: skip
    tested = words.SolutionTested(valid=True, passed=False, strip_lot="S", strip_expiry_us=2**60, control_run=True)
    write(wall.floor, Draft("solution:LMG-B2", made), Draft("solution:LMG-B2", tested))
    shown = text_of(wall.client.get("/board/handover"))
    assert re.search(r"LMG-B2 .{0,40}Failed: do not use it\.", shown), shown
    assert "No pass today" not in shown.partition("LMG-B2")[2].partition("Ends")[0]
    write(wall.floor, Draft("solution:LMG-B2", words.SolutionEnded(cause="dumped")))
    assert "LMG-B2" not in text_of(wall.client.get("/board/handover"))


@pytest.mark.parametrize("language", ["es", "ar"])
def test_every_text_of_the_board_is_in_the_language(wall: Hall, language: str) -> None:
    wearers(wall.floor, "W-1")
    play(
        wall.floor,
        STORE
        + """
        +1 | gus | KIT-7 issue W-1 ward-7 | accepted
        +2 | anna | TUB-5 hold administrative paper lost | held H04
        """,
    )
    wall.floor.ask(asking.StartDwell("BLW-2", "disinfect", "QAW-1"))
    wall.floor.clock.push(DAY_S)
    for path in ("/board", "/board/handover"):
        answer = wall.client.get(path, params={"language": language})
        assert re.findall(r'<span lang="en" dir="ltr">([^<]*)', answer.text) == [], path


@pytest.mark.parametrize("language", sorted(set(LANGUAGES) - {"en"}))
def test_every_reminder_of_the_board_is_said_in_the_language(language: str) -> None:
    """A place that the English has not would be filled with nothing; a sentence has twelve words at most, as there."""
    people = {"case-undecided", "case-report", "case-report-last", "competency-near", "review-waits"}
    offices = {"evaluation-near", "evaluation-over", "review-near", "review-over"}
    texts = texts_of(language)
    for say in set(CHAINS) - people - offices:
        assert texts.has(f"board.say.{say}"), say
        places = set(re.findall(r"{(\w+)}", SAYINGS[say]))
        said = texts(f"board.say.{say}", **dict.fromkeys(places, "x"))
        assert len(said.split()) <= 14, said
