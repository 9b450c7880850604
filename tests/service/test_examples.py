"""The examples for integrators, each run as its docstring says, against a demo that is served on loopback."""

from __future__ import annotations

import re
import subprocess
import sys
from base64 import b64encode
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from reprocess.client import Client, ProblemError

CLONE = Path(__file__).resolve().parents[2]
EXAMPLES = CLONE / "examples" / "over_http"
SECRET = "whsec_" + b64encode(b"w" * 32).decode()
LINES_MAX = 40
"""Lines that a node prints at most before it serves."""


@dataclass
class Node:
    """Is a served demo: its address, its tokens by name and its first PINs by badge."""

    address: str
    tokens: dict[str, str]
    pins: dict[str, str]

    def run(self, example: str, *more: str) -> str:
        """Returns what an example prints."""
        command = [sys.executable, str(EXAMPLES / example), self.address, self.tokens["everything"], *more]
        ran = subprocess.run(command, capture_output=True, text=True, check=False, timeout=120, cwd=CLONE)
        assert ran.returncode == 0, ran.stderr
        return ran.stdout


@pytest.fixture(scope="module")
def node(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Node]:
    """Yields a demo with a washer that may report, as washer_result.py describes it."""
    place = tmp_path_factory.mktemp("demo")
    toml = (EXAMPLES / "washer_result.py").read_text(encoding="utf-8").partition("[sources.washer-1]")[2]
    lines = [line.strip() for line in toml.partition("\n\nand the file")[0].splitlines()]
    (place / "reprocess.toml").write_text("\n".join(["[sources.washer-1]", *lines]), encoding="utf-8")
    (place / "washer-1.secret").write_text(SECRET, encoding="ascii")
    (place / "washer-1.secret").chmod(0o600)
    command = [sys.executable, "-m", "reprocess", "serve", "--demo", "-d", "demo.db", "--port", "0"]
    with subprocess.Popen(
        command, cwd=place, env={"PYTHONPATH": str(CLONE)}, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True
    ) as process:
        try:
            yield _told(process)
        finally:
            process.terminate()
            process.communicate(timeout=30)


def _told(process: subprocess.Popen[str]) -> Node:
    """Returns where a node serves, as it says itself."""
    assert process.stderr is not None
    tokens: dict[str, str] = {}
    pins: dict[str, str] = {}
    said = []
    for _ in range(LINES_MAX):
        line = process.stderr.readline()
        said.append(line)
        if found := re.match(r"  (\w+): (rpt_\w+)", line):
            tokens[found[1]] = found[2]
        if found := re.match(r"  badge (\S+) \([^)]*\): (\d+)", line):
            pins[found[1]] = found[2]
        if found := re.search(r"Serving .* at (http://\S+) ", line):
            return Node(found[1], tokens, pins)
    raise AssertionError("".join(said))


def test_every_example_imports_only_the_client_and_has_a_test() -> None:
    for example in EXAMPLES.glob("*.py"):
        source = example.read_text(encoding="utf-8")
        imported = set(re.findall(r"^(?:from|import) ([\w.]+)", source, flags=re.MULTILINE))
        assert imported <= {"__future__", "sys", "reprocess.client"}, example
        assert f'"{example.name}"' in Path(__file__).read_text(encoding="utf-8")


def test_a_part_is_registered_once_and_its_fall_is_on_record(node: Node) -> None:
    told = node.run("register_a_part.py")
    assert told.startswith("first: accepted - repeated: False\nagain: accepted - repeated: True\nstage: used\n")
    assert "dropped: accepted - on record: True" in told
    assert "P01: inspect cannot come now" in told


def test_the_feed_is_copied_and_then_followed(node: Node) -> None:
    told = node.run("follow_the_feed.py")
    last = int(re.search(r"Go on after (\d+)\.", told)[1])  # type: ignore[index]
    assert re.search(rf"^{last + 1} item\.contaminated item:BLW-047$", told, re.MULTILINE)
    assert "Go on after" in node.run("follow_the_feed.py", str(last))


def test_a_failed_bath_leads_to_whoever_wore_what_lay_in_it(node: Node) -> None:
    told = node.run("who_wore_it.py")
    assert "Items that it touched: TUB-111, TUB-112, TUB-113, TUB-114, TUB-115" in told
    assert re.search(r"^  P-BO had TUB-112 from \S+ until \S+$", told, re.MULTILINE)
    assert "TUB-115: LMG-B2 failed its test" in told


def test_a_washer_reports_once_and_is_not_believed_beyond_its_record(node: Node) -> None:
    told = node.run("washer_result.py", SECRET)
    assert "result: refused W07: The record lasts 60 s" in told
    assert told.endswith("sent again: True\nthe load: ended\n")


def test_somebody_signs_in_with_the_first_pin_and_a_release_asks_for_the_own_one(node: Node) -> None:
    own = "73019264"
    with Client(node.address) as client:
        with pytest.raises(ProblemError) as caught:
            client.sign_in("B-PV", node.pins["B-PV"], "LMG-C1")
        assert caught.value.kind == "not-allowed", "the first PIN alone lets nobody in"
        client.sign_in("B-PV", node.pins["B-PV"], "LMG-C1", new_pin=own)
        with pytest.raises(ProblemError) as caught:
            client.ask("/items/BLW-045/release")
        assert caught.value.kind == "not-signed-in", "a release is signed"
        answer = client.ask("/items/BLW-045/release", {"pin": own})
        assert (answer.verdict, answer.accepted) == ("refused", False)
        assert answer.reasons
        client.sign_out()
