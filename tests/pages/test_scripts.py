"""The pages' own scripts as text: typed, without what a policy of content forbids, and with a text for each word."""

from __future__ import annotations

import re
import subprocess
from importlib import resources
from pathlib import Path

import pytest

from reprocess.languages import LANGUAGES, texts_of
from reprocess.service import scanning
from reprocess.service.pages import assets
from tests import scripts

SCRIPTS = {name: content.decode() for name, content in assets.files().items() if name.endswith(".js")}
WORDS = resources.files("reprocess.service.pages").joinpath("templates", "_bench_screen.html").read_text("utf-8")
# W3C, Content Security Policy Level 3: what runs text as a program, or puts a style into an element by its attribute.
# WHATWG HTML, "Dynamic markup insertion": what makes elements of a text in the page itself.
FORBIDDEN = (
    r"\beval\(",
    r"new Function\b",
    r"\.(innerHTML|outerHTML)\s*=",
    r"insertAdjacentHTML",
    r"document\.write",
    r"setAttribute\(\s*[\"']style",
    r"javascript:",
    r"https?://(?!www\.w3\.org/2000/svg)",
)


@pytest.mark.parametrize("name", SCRIPTS)
def test_each_script_is_checked_and_does_nothing_that_is_forbidden(name: str) -> None:
    text = SCRIPTS[name]
    assert text.startswith("// @ts-check\n")
    assert [one for one in FORBIDDEN if re.search(one, text)] == []
    assert "ts-ignore" not in text
    assert "ts-nocheck" not in text


def test_types_are_right() -> None:
    if scripts.compiler() is None:
        pytest.skip("TypeScript's compiler needs npm")
    assert scripts.check() == 0


def test_the_compiler_sees_a_fault(tmp_path: Path) -> None:
    found = scripts.compiler()
    if found is None:
        pytest.skip("TypeScript's compiler needs npm")
    project = tmp_path / "jsconfig.json"
    project.write_text(scripts.PROJECT.read_text("utf-8"), "utf-8")
    for name, text in SCRIPTS.items():
        (tmp_path / name).write_text(text, "utf-8")
    broken = SCRIPTS["clocks.js"].replace("const left = from.left - gone;", "const left = from.lift - gone;")
    (tmp_path / "clocks.js").write_text(broken, "utf-8")
    done = subprocess.run([found, "-p", str(project)], capture_output=True, text=True, check=False)
    assert done.returncode != 0
    assert "lift" in done.stdout


def test_no_clock_counts_by_the_clock_on_the_wall() -> None:
    assert "Date" not in SCRIPTS["clocks.js"]
    assert "performance.now" in SCRIPTS["clocks.js"]


def test_the_facts_of_the_screen_are_those_of_the_server() -> None:
    (listed,) = re.findall(r"FACTS = new Set\(\[([^\]]*)\]\)", SCRIPTS["kept.js"])
    assert set(re.findall(r'"([A-Z-]+)"', listed)) == scanning.FACTS
    (with_defect,) = re.findall(r"WITH_DEFECT = new Set\(\[([^\]]*)\]\)", SCRIPTS["kept.js"])
    assert set(re.findall(r'"([A-Z-]+)"', with_defect)) == scanning.FAILS


@pytest.mark.parametrize("language", LANGUAGES)
def test_each_word_of_the_bench_s_script_has_a_text_of_at_most_twelve_words(language: str) -> None:
    texts = texts_of(language)
    names = re.findall(r"'([a-z-]+)'", WORDS)
    assert len(names) > 25
    for name in {one for one in names if not one.startswith("bench-screen")} - {"seconds", "number"}:
        key = f"bench-screen.{name}"
        assert texts.has(key), key
        for sentence in re.split(r"[.!?:] ", str(texts(key, seconds=9, number=9))):
            assert len(sentence.split()) <= 12, sentence
