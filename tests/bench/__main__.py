"""`python3 -m tests --bench`: prints each figure with the raw limit it is held against.

python3 -m tests --bench -- million     instead, a failed bath and look-backs over a million entries
python3 -m tests --bench -- serving     instead, scans over HTTP
python3 -m tests --bench -- pages       instead, benches in a browser, and what open pages cost
python3 -m tests --bench -- server      instead, steps on PostgreSQL
"""

from __future__ import annotations

import statistics
import sys
import tempfile
from collections.abc import Callable, Iterable
from pathlib import Path

from tests.bench import million, ours, pages, raw, scanning, server

PAIRS = 5
ITEMS = 400


def paired(place: Path, rate: Callable[[Path], float]) -> tuple[float, float, float]:
    """Returns medians over paired runs: (raw steps a second, ours a second, the ratio)."""
    raws, own, ratios = [], [], []
    for number in range(PAIRS):
        folder = place / f"{rate.__name__}-{number}"
        folder.mkdir()
        limit = raw.raw_step_rate(folder)
        mine = rate(folder)
        raws.append(limit)
        own.append(mine)
        ratios.append(mine / limit)
    return statistics.median(raws), statistics.median(own), statistics.median(ratios)


def one_by_one(folder: Path) -> float:
    """Returns our advances a second, one transaction each."""
    with ours.department(folder, ITEMS) as made:
        return ours.advance_rate(made, ITEMS)


def twenty_at_once(folder: Path) -> float:
    """Returns our advances a second, twenty in one transaction."""
    with ours.department(folder, ITEMS) as made:
        return ours.shared_rate(made, ITEMS, 20)


def main() -> None:
    """Prints every figure; medians of five paired runs where a ratio is given. A word asks for other figures."""
    others: dict[str, Callable[[Path], Iterable[str]]] = {
        "million": million.figures,
        "serving": scanning.figures,
        "pages": pages.figures,
        "server": server.figures,
    }
    with tempfile.TemporaryDirectory(dir=Path.cwd()) as name:
        place = Path(name)
        for word in sys.argv[1:]:
            for line in others[word](place):
                print(line, flush=True)
        if sys.argv[1:]:
            return
        print(f"fdatasync of 8 KiB on this disk: {raw.fdatasync_rate(place):,.0f} a second")
        limit, mine, ratio = paired(place, one_by_one)
        print(f"durable advance, whole stack: {mine:,.0f} a second, raw {limit:,.0f}, ratio {ratio:.2f} (aim 0.40)")
        limit, mine, ratio = paired(place, twenty_at_once)
        print(f"twenty advances in one transaction: {mine:,.0f} a second, raw {limit:,.0f}, ratio {ratio:.2f}")
        with ours.department(place, 4000) as made:
            ours.shared_rate(made, 4000, 200)
            rate, entries = ours.verify_rate(made, full=False)
            print(f"verify, bytes, chain and seal: {rate:,.0f} entries a second over {entries} (aim 200,000)")
            rate, entries = ours.verify_rate(made, full=True)
            print(f"verify --full: {rate:,.0f} entries a second over {entries}")
            print(f"memory kept for each item worked on: {ours.bytes_an_item(made, 1000):.0f} bytes (aim: flat)")
        print(f"check of all workflows: {ours.check_s():.2f} s (aim under 2)")
        print(
            f"--help in a fresh process: {statistics.median(ours.help_s() for _ in range(PAIRS)):.2f} s (aim under 0.5)"
        )


if __name__ == "__main__":
    main()
