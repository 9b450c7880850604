"""From description to drawing: the library's schema, what may stand in a page, hostile names, the process."""

from __future__ import annotations

import importlib.util
import json
import re
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from threading import BoundedSemaphore, Event
from xml.etree import ElementTree as ET

import altair
import pytest

from reprocess.languages import texts_of
from reprocess.pictures import drawing, looks
from reprocess.pictures.baths import baths as bath_plot
from reprocess.pictures.competencies import competencies
from reprocess.pictures.drawing import Kept, drawn
from reprocess.pictures.holds import holds as hold_plot
from reprocess.pictures.layers import SCHEMA
from reprocess.pictures.life import life as life_plot
from reprocess.pictures.picture import Frame, Picture, Plot, frame_in, plain, short
from reprocess.pictures.rows.baths import baths
from reprocess.pictures.rows.competencies import grid
from reprocess.pictures.rows.holds import holds
from reprocess.pictures.rows.life import life
from reprocess.pictures.svg import ATTRIBUTES, ELEMENTS, finished
from reprocess.pictures.trace import trace
from tests.pictures.telling import SVG, a_day, at, frame
from tests.pictures.test_baths import a_bath
from tests.pictures.test_competencies import LAMP, PEOPLE, person
from tests.pictures.test_holds import ITEMS
from tests.pictures.test_looks import contrast
from tests.pictures.test_trace import FOUND

PLOTS: dict[str, Callable[[Frame], Plot]] = {
    "life": lambda frame: life_plot(life("BLW-1", a_day().entries, at(7200)), frame),
    "baths": lambda frame: bath_plot(baths(a_bath().entries, at(7200)), at(0), at(7200), frame),
    "holds": lambda frame: hold_plot(holds(ITEMS, at(0)), frame),
    "can": lambda frame: competencies(grid(PEOPLE, [LAMP], at(0)), frame),
    "trace": lambda frame: trace(FOUND, frame, named=True),
}
HOSTILE = "<script>alert(1)</script>&\"'\u202e\u2067\x07\ud800]]>"


@pytest.fixture(scope="module", params=PLOTS)
def picture(request: pytest.FixtureRequest) -> Picture:
    return drawn(PLOTS[request.param](frame(request.param)))


@pytest.mark.parametrize("name", PLOTS)
def test_a_description_is_valid_by_the_schema_of_the_library(name: str) -> None:
    """Altair validates against Vega-Lite's own JSON schema; both are of one version."""
    assert f"/{altair.SCHEMA_VERSION}.json" in SCHEMA
    spec = PLOTS[name](frame(name)).spec
    altair.Chart.from_dict(spec, validate=True)
    wrong = {**spec, "layer": [{**spec["layer"][0], "mark": {"type": "bat"}}]}
    with pytest.raises(Exception, match="'bat'"):
        altair.Chart.from_dict(wrong, validate=True)


def test_a_drawing_is_an_image_with_a_name_and_a_description(picture: Picture) -> None:
    """WAI-ARIA 1.2, role `img`; SVG 2, section 5.8, `title` and `desc`."""
    root = ET.fromstring(picture.svg or "")  # noqa: S314 - our own drawing
    assert (root.tag, root.get("role")) == (f"{SVG}svg", "img")
    assert [one.tag for one in root[:2]] == [f"{SVG}title", f"{SVG}desc"]
    assert (root[0].get("id"), root[1].get("id")) == (root.get("aria-labelledby"), root.get("aria-describedby"))
    assert (root[0].text, root[1].text) == (picture.title, picture.alt)
    assert len(picture.alt) > 10


def test_a_drawing_holds_nothing_that_a_strict_page_forbids(picture: Picture) -> None:
    """Content security policy `style-src 'self'`, `script-src 'self'`: no style, no script, no address."""
    root = ET.fromstring(picture.svg or "")  # noqa: S314 - our own drawing
    allowed = {*ELEMENTS, "title", "desc", "defs", "pattern"}
    for one in root.iter():
        assert one.tag.removeprefix(SVG) in allowed
        for name, value in one.attrib.items():
            own = name in {"id", "patternUnits", "role", "aria-labelledby", "aria-describedby"}
            assert own or name in ATTRIBUTES, name
            assert "url(" not in value or re.fullmatch(r"url\(#[a-z]+-fill-[a-z-]+\)", value)
    assert not re.search(r"style|script|href|http(?!://www\.w3\.org/2000/svg\")|xlink", picture.svg or "")


def test_colours_of_texts_and_lines_stand_out(picture: Picture) -> None:
    """WCAG 2.2: 1.4.3 for the texts of axes and legends; 1.4.11 for lines."""
    root = ET.fromstring(picture.svg or "")  # noqa: S314 - our own drawing
    known = {one.paint for one in looks.ALL.values()}
    for one in root.iter():
        if one.tag == f"{SVG}line":
            assert contrast(one.get("stroke", ""), looks.PAPER) >= 3
        if one.tag == f"{SVG}text" and one.get("stroke") is not None:
            assert one.get("stroke") == one.get("fill")
            assert one.get("fill") in known
        elif one.tag == f"{SVG}text" and one.get("fill") != looks.WHITE:
            assert contrast(one.get("fill", ""), looks.PAPER) >= 4.5


def test_pictures_of_one_page_share_no_id() -> None:
    both = [drawn(PLOTS["life"](frame(key))).svg or "" for key in ("one", "two")]
    found = [re.findall(r' id="([^"]+)"', one) for one in both]
    assert all(len(set(one)) == len(one) for one in found)
    assert set(found[0]).isdisjoint(found[1])
    for svg, ids in zip(both, found, strict=True):
        assert set(re.findall(r"url\(#([^)]+)\)", svg)) <= set(ids)
    with pytest.raises(ValueError, match="cannot begin an id"):
        frame('x" onload="')


def test_hostile_names_are_shown_as_text() -> None:
    told = competencies(grid([person(HOSTILE)], [LAMP], at(0)), frame("can"))
    picture = drawn(told)
    assert picture.svg is not None
    assert "<script" not in picture.svg
    root = ET.fromstring(picture.svg)  # noqa: S314 - our own drawing
    shown = [one.text for one in root.iter() if one.text and "<script>" in one.text]
    assert shown
    assert not any(set("\u202e\u2067\x07\ud800") & set(one) for one in shown)
    for name in ("life", "baths", "trace"):
        assert drawn(_renamed(PLOTS[name](frame(name)))).svg is not None


def _renamed(plot: Plot) -> Plot:
    """Returns a picture that holds what breaks out of markup and of the library's expressions."""
    text = json.dumps(plot.spec)
    for name, hostile in (("BLW-1", "{{0}}</text><script>"), ("B-1", "datum['x'] & \"<b>']")):
        text = text.replace(name, json.dumps(hostile)[1:-1])
    return replace(plot, spec=json.loads(text), alt=HOSTILE)


def test_a_text_is_cut_and_cleaned() -> None:
    assert plain("a\u202eb\x00c\u2069") == "a\ufffdb\ufffdc\ufffd"
    assert plain("\u05d0 \u200fb é 😀") == "\u05d0 \u200fb é 😀"
    assert len(plain("x" * 10_000)) == 200
    assert short("x" * 30, 10) == "x" * 9 + "…"


def test_a_language_without_pictures_gets_them_in_english_and_says_so() -> None:
    told = frame_in(texts_of("ar"), "Europe/London", "one")
    assert PLOTS["holds"](told).language == told.texts.language
    assert told.texts.has("pictures.table")


def test_the_server_itself_never_loads_what_draws() -> None:
    """What draws takes 70 MB for good; see `drawing`."""
    before = set(sys.modules)
    drawn(PLOTS["holds"](frame("fresh")))
    assert "vl_convert" not in set(sys.modules) - before


def test_without_the_extra_there_is_the_table_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    monkeypatch.setattr(drawing, "find_spec", importlib.util.find_spec)
    plot = PLOTS["holds"](frame())
    picture = drawn(plot)
    assert (picture.svg, picture.missing, picture.rows, picture.alt) == (None, "extra", plot.rows, plot.alt)


@pytest.mark.parametrize(
    "script",
    [
        "raise SystemExit(1)",
        "import sys; sys.stdin.read()",
        "while True: pass",
    ],
)
def test_a_process_that_fails_is_silent_or_hangs_gives_no_drawing(script: str, tmp_path: Path) -> None:
    worker = tmp_path / "worker.py"
    worker.write_text(script)
    assert drawing._draw("{}", worker, most_s=0.5) is None


def test_one_picture_is_drawn_at_a_time_and_nobody_waits_for_ever() -> None:
    assert drawing._ONE.acquire(timeout=30)
    try:
        assert drawing._in_turn("{}", "digest", most_s=0.01) is None
    finally:
        drawing._ONE.release()


def test_only_a_few_wait_for_a_drawing_and_the_others_get_the_table(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each that waits holds a thread of the server, which has forty (anyio's default); a bench needs one to answer."""
    go_on, begun = Event(), Event()

    def draw(text: str) -> str:
        begun.set()
        assert go_on.wait(30)
        return f'<svg xmlns="{SVG[1:-1]}"/>'

    monkeypatch.setattr(drawing, "_KEPT", Kept(10_000))
    monkeypatch.setattr(drawing, "_draw", draw)
    monkeypatch.setattr(drawing, "_ROOM", BoundedSemaphore(2))
    plot = PLOTS["holds"](frame())
    with ThreadPoolExecutor(1) as pool:
        first = pool.submit(drawn, plot)
        assert begun.wait(30)
        assert drawing._ROOM.acquire(blocking=False)
        busy = drawn(PLOTS["holds"](frame("two")))
        go_on.set()
        assert first.result(30).missing is None
    assert (busy.missing, busy.svg, busy.rows) == ("busy", None, plot.rows)
    assert "table" in frame().word("missing.busy")


def test_those_who_wait_for_the_same_drawing_have_it_drawn_once(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []

    def draw(text: str) -> str:
        asked.append(text)
        return f'<svg xmlns="{SVG[1:-1]}"/>'

    monkeypatch.setattr(drawing, "_KEPT", Kept(10_000))
    monkeypatch.setattr(drawing, "_draw", draw)
    with ThreadPoolExecutor(4) as pool:
        assert drawing._ONE.acquire(timeout=30)
        try:
            waiting = [pool.submit(drawing._in_turn, "{}", "digest", 30) for _ in range(4)]
        finally:
            drawing._ONE.release()
        assert {one.result(30) for one in waiting} == {f'<svg xmlns="{SVG[1:-1]}"/>'}
    assert len(asked) == 1


def test_what_cannot_be_drawn_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(drawing, "_KEPT", Kept(1000))
    monkeypatch.setattr(drawing, "_draw", lambda text: "<svg")
    assert drawn(PLOTS["holds"](frame())).missing == "failed"
    monkeypatch.setattr(drawing, "_KEPT", Kept(1000))
    monkeypatch.setattr(drawing, "_draw", lambda text: None)
    assert drawn(PLOTS["holds"](frame())).missing == "failed"


def test_the_same_description_is_drawn_once_whatever_its_ids(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []

    def draw(text: str) -> str:
        asked.append(text)
        return f'<svg xmlns="{SVG[1:-1]}"/>'

    monkeypatch.setattr(drawing, "_KEPT", Kept(1000))
    monkeypatch.setattr(drawing, "_draw", draw)
    for key in ("one", "two", "one"):
        assert drawn(PLOTS["holds"](frame(key))).missing is None
    assert len(asked) == 1


def test_what_is_kept_is_bounded_and_the_longest_unused_goes_first() -> None:
    kept = Kept(10)
    for name in ("a", "b"):
        kept.keep(name, name * 4)
    assert kept.get("a") == "aaaa"
    kept.keep("c", "cccc")
    assert (kept.get("a"), kept.get("b"), kept.get("c"), kept.size) == ("aaaa", None, "cccc", 8)
    kept.keep("d", "d" * 11)
    kept.keep("c", "other")
    assert (kept.get("d"), kept.get("c"), kept.size) == (None, "cccc", 8)


@pytest.mark.parametrize("inside", ['<rect fill="url(https://x/)"/>', '<rect fill="//x"/>', '<rect d="javascript:1"/>'])
def test_a_drawing_that_refers_to_something_outside_is_refused(inside: str) -> None:
    with pytest.raises(ValueError, match="nothing outside"):
        finished(f'<svg xmlns="{SVG[1:-1]}">{inside}</svg>', "one", "t", "a")


def test_whatever_is_not_on_the_lists_is_left_out() -> None:
    inside = (
        '<script>1</script><style>x</style><g onclick="1" style="x" class="y"><a href="z"><rect/></a><line x1="1"/></g>'
    )
    made = finished(f'<svg xmlns="{SVG[1:-1]}">{inside}</svg>', "one", "t", "a")
    assert re.sub(r".*</desc>", "", made) == '<g><line x1="1" /></g></svg>'
