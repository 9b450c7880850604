"""Asks for what a new department needs, and writes it down as the file that would have said the same."""

from __future__ import annotations

from collections.abc import Callable

Ask = Callable[[str, str], str]
"""Asks one question with a default and returns the answer."""

STEPS = (
    "take-apart",
    "clean",
    "disinfect",
    "dry",
    "inspect",
    "functional-test",
    "charge",
    "launder",
    "assemble",
    "release",
)


def department_text(ask: Ask, today: str, in_a_year: str) -> str:
    """Returns the text of a department's file, from the answers to about ten questions.

    Two people are asked for, because no file comes into force with one.
    """
    lines = [f"network: {_quoted(ask('Name of the hospital or network', 'Larkmoor Health Network'))}", "sites:"]
    site = ask("Short id of the site", "LMG").upper()
    title = ask("Its name", "Larkmoor General")
    zone = ask("Its time zone", "Europe/London")
    lines.append(f"  - {{site: {_quoted(site)}, title: {_quoted(title)}, zone: {_quoted(zone)}}}")
    lines.append("stations:")
    for side, default in (("dirty", "D1"), ("clean", "C1")):
        name = ask(f"Id of the first station on the {side} side", f"{site}-{default}").upper()
        lines.append(f"  - {{station: {_quoted(name)}, title: {_quoted(name)}, site: {_quoted(site)}, side: {side}}}")
    lines.append("people:")
    people = []
    for number, example in enumerate(("Hedda Quist", "Bram Oakes"), start=1):
        name = ask(f"Name of supervisor {number} (two are needed)", example)
        badge = ask(f"Badge of {name}", f"B-{number:02d}").upper()
        people.append(f"P-{number:02d}")
        lines += [
            f"  - person: P-{number:02d}",
            f"    name: {_quoted(name)}",
            f"    sites: [{_quoted(site)}]",
            "    roles: [supervisor]",
            f"    badges: [{_quoted(badge)}]",
            "    competencies:",
        ]
        lines += [_competency(step, today, in_a_year, name) for step in STEPS]
    lines.append(f"files: {{published_by: {people[0]}, approved_by: {people[1]}}}")
    item = ask("Id of a first blower", "BLW-001").upper()
    lines.append("items:")
    lines.append(f"  - {{item: {_quoted(item)}, workflow: blower, model: LB-3, site: {_quoted(site)}}}")
    return "\n".join(lines) + "\n"


def _competency(step: str, since: str, until: str, assessor: str) -> str:
    told = f'since: "{since}", until: "{until}", assessor: {_quoted(assessor)}'
    return f"      - {{competency: {step}, {told}}}"


def _quoted(text: str) -> str:
    """Returns a text as a quoted YAML scalar."""
    inner = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{inner}"'
