"""Pages under load: how soon a scan is answered on screen with twenty benches open, and what open pages cost a server.

The browser and the server share this machine; the figures hold for both together.
"""

from __future__ import annotations

import asyncio
import os
import statistics
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

from playwright.sync_api import Browser, Page, sync_playwright

from reprocess.scan.code import ItemTag, printed
from reprocess.scan.command import COMMANDS, tag_of
from tests.bench.scanning import Node, node
from tests.pages.conftest import CHROMIUM, FLAGS

BENCHES: Final = 20
SCANS: Final = 30
"""Scans of each bench, one a second: an item and a command by turns."""
OPEN: Final = 200
AWAKE: Final = (
    "--disable-background-timer-throttling",
    "--disable-renderer-backgrounding",
    "--disable-backgrounding-occluded-windows",
)
"""Twenty screens are twenty windows in front; here they stand behind each other, and must not be slowed for that."""
SCANNING: Final = """async ({ codes, first }) => {
  const key = () => document.querySelector("#answer [name=key]")?.value;
  const answered = () => new Promise((done, failed) => {
    const before = key();
    const timer = setTimeout(() => failed(new Error("no answer in 20 s")), 20000);
    const seen = new MutationObserver(() => {
      if (key() === undefined || key() === before) return;
      seen.disconnect();
      clearTimeout(timer);
      requestAnimationFrame(() => setTimeout(() => done(performance.now())));
    });
    seen.observe(document.body, { childList: true, subtree: true });
  });
  const took = [];
  await new Promise((go) => setTimeout(go, first));
  for (const code of codes) {
    const began = performance.now();
    const told = answered();
    for (const key of [...code, "Enter"]) {
      document.body.dispatchEvent(new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true }));
    }
    took.push((await told) - began);
    await new Promise((go) => setTimeout(go, Math.max(0, 1000 - (performance.now() - began))));
  }
  return took;
}"""
"""Types codes as a scanner does, one a second, and tells how long each took until its answer was painted."""


def on_screen(at: Node) -> list[float]:
    """Returns the milliseconds from the last key of a scan to its painted answer, of all benches, shortest first."""
    with sync_playwright() as playwright:
        if CHROMIUM is None:
            message = "no Chromium is installed"
            raise RuntimeError(message)
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=[*FLAGS, *AWAKE])
        pages = [_bench(browser, at, number) for number in range(BENCHES)]
        for number, page in enumerate(pages):
            page.evaluate(f"(told) => {{ window.took = ({SCANNING})(told); }}", _codes(number))
        took: list[float] = [one for page in pages for one in page.evaluate("() => window.took")]
        browser.close()
    return sorted(took)


def _bench(browser: Browser, at: Node, number: int) -> Page:
    base = f"http://127.0.0.1:{at.port}"
    context = browser.new_context(base_url=base, locale="en", viewport={"width": 1920, "height": 1080})
    context.set_default_timeout(90_000)
    context.add_cookies([{"name": "session", "value": at.sessions[number], "url": base}])
    page = context.new_page()
    page.goto(f"/bench/D{number + 1}")
    return page


def _codes(number: int) -> dict[str, Any]:
    """Returns what a bench scans: items of its own, each with a command, beginning at its own moment of a second."""
    items = (printed(ItemTag(f"BLW-{number * SCANS + one}", checked=True)) for one in range(SCANS // 2))
    command = printed(tag_of(COMMANDS["CLEAN-DONE"]))
    return {"codes": [code for item in items for code in (item, command)], "first": number * 1000 // BENCHES}


def memory_of_open_pages(at: Node, process: int) -> tuple[int, int]:
    """Returns the server's memory in bytes (before, while 200 pages are open and were renewed a few times)."""
    before = _memory(process)
    return before, asyncio.run(_open_pages(at, process))


async def _open_pages(at: Node, process: int) -> int:
    streams = [await _stream(at, number % len(at.sessions)) for number in range(OPEN)]
    for _ in range(3):
        for number in range(OPEN):
            await _page(at, number % len(at.sessions))
        for reader, _ in streams:
            await reader.readuntil(b"\n\n")
    most = _memory(process)
    for _, writer in streams:
        writer.close()
    return most


async def _stream(at: Node, number: int) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
    reader, writer = await asyncio.open_connection("127.0.0.1", at.port)
    writer.write(_get(at, number, "/live"))
    head = await reader.readuntil(b"\r\n\r\n")
    if not head.startswith(b"HTTP/1.1 200"):
        raise RuntimeError(head)
    return reader, writer


async def _page(at: Node, number: int) -> None:
    reader, writer = await asyncio.open_connection("127.0.0.1", at.port)
    writer.write(_get(at, number, "/board", b"Connection: close\r\n"))
    head = await reader.readuntil(b"\r\n\r\n")
    await reader.read()
    writer.close()
    if not head.startswith(b"HTTP/1.1 200"):
        raise RuntimeError(head)


def _get(at: Node, number: int, path: str, more: bytes = b"") -> bytes:
    head = f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{at.port}\r\nCookie: session={at.sessions[number]}\r\n"
    return head.encode() + more + b"\r\n"


def _memory(process: int) -> int:
    """Returns the resident memory of a process in bytes (proc(5), `statm`, second field)."""
    pages = int(Path(f"/proc/{process}/statm").read_text("ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE")


def figures(place: Path) -> Iterator[str]:
    """Yields the figures as lines."""
    folder = place / "benches"
    folder.mkdir()
    with node(folder, BENCHES * SCANS) as at:
        took = on_screen(at)
    late, latest = (took[int(len(took) * share)] for share in (0.95, 0.99))
    yield (
        f"{BENCHES} benches, each a scan a second, {len(took)} scans: answered on screen p50"
        f" {statistics.median(took):.0f}, p95 {late:.0f}, p99 {latest:.0f} ms (aim: p95 300)"
    )
    if sys.platform != "linux":
        return
    folder = place / "open"
    folder.mkdir()
    with node(folder, 200) as at:
        before, most = memory_of_open_pages(at, at.process)
    yield f"{OPEN} open pages, renewed three times: {(most - before) / 1e6:.0f} MB more than none (aim: under 150)"
