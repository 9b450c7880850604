"""Two texts of one file side by side; the numbers that differ are named by the blocks in which they stand."""

from __future__ import annotations

import difflib

from reprocess.definitions.compare import Changed, as_lines, changed_numbers
from reprocess.definitions.faults import Faults
from reprocess.definitions.read import Definition, read_definition
from tests.ledger.small import SHELL, WIPE


def read(text: str) -> Definition:
    found = read_definition(text, name="text")
    assert not isinstance(found, Faults)
    return found


def test_nothing_differs_between_a_text_and_itself() -> None:
    assert changed_numbers(read(SHELL), read(SHELL)) == ()
    assert as_lines(SHELL, SHELL, ("a", "b")) == ""


def test_a_number_is_named_by_its_step_its_check_or_its_limit() -> None:
    later = SHELL.replace("greatest_s: 1800", "greatest_s: 900").replace("most: 2,", "most: 2.5,")
    assert changed_numbers(read(SHELL), read(later)) == (
        Changed("steps[disinfect].dwell.greatest_s", "1800", "900"),
        Changed("steps[inspect].readings[gap_mm].most", "2", "2.5"),
    )


def test_what_comes_and_goes_is_told_with_nothing_on_the_other_side() -> None:
    """A number that nobody wrote counts as well, where the model says which one it is: 90 percent."""
    without = SHELL.replace("limits:\n  - {limit: cycles, most: 50, example: true}\n", "")
    gone = (Changed("limits[cycles].most", "50", None), Changed("limits[cycles].warn_percent", "90", None))
    assert changed_numbers(read(SHELL), read(without)) == gone
    come = tuple(Changed(one.path, one.after, one.before) for one in gone)
    assert changed_numbers(read(without), read(SHELL)) == come


def test_rows_of_one_name_are_told_apart() -> None:
    more = WIPE.replace(
        "film:", "  - {claim: general, method: wipe, contact_s: 60, temp_least_c: 30, example: true}\nfilm:"
    )
    assert [(one.path, one.after) for one in changed_numbers(read(WIPE), read(more))] == [
        ("claims[general 2].contact_s", "60"),
        ("claims[general 2].temp_least_c", "30"),
    ]


def test_the_lines_are_a_unified_difference() -> None:
    """Referee: the standard library's `restore` of a full difference gives both texts back."""
    later = SHELL.replace("most: 50", "most: 40")
    told = as_lines(SHELL, later, ("before", "after")).splitlines()
    assert told[:2] == ["--- before", "+++ after"]
    full = list(difflib.ndiff(SHELL.splitlines(), later.splitlines()))
    changed = [line[2:] for line in full if line[:2] in ("- ", "+ ")]
    assert [line[1:] for line in told[3:] if line[0] in "+-"] == changed
