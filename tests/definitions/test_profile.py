"""A site's choice of workflows: what it must hold of them, shown by one changed text each; and how it is shown."""

import json
from pathlib import Path

import pytest
import typer

from reprocess.commandline.check import check
from reprocess.commandline.draw import Picture, draw
from reprocess.definitions.configuration import Configuration
from reprocess.definitions.model import Workflow
from reprocess.definitions.overview import kinds_table, profile_table
from reprocess.definitions.profile import Profile
from reprocess.definitions.prove_profile import PROFILE_PROPERTIES, ProfileProof, profile_text, prove_profile
from reprocess.definitions.read import digest_of, read_definition
from reprocess.errors import DefinitionError, WrongUseError
from reprocess.shipped import files_in, folder
from tests.definitions.texts import LAMPS, ONE_WEARER, SOUND, TWO_FILTERS, changed, configuration, faults, workflow

LAMP = changed(SOUND, "readiness:", "reinspection: {every_months: 3, example: true}\nreadiness:")
SHIPPED = list(files_in(folder()))
WORKFLOWS = {one.workflow: one for file in SHIPPED if isinstance(one := file.holds, Workflow)}
CONFIGURATIONS = {one.configuration: one for file in SHIPPED if isinstance(one := file.holds, Configuration)}
PROFILES = {one.profile: one for file in SHIPPED if isinstance(one := file.holds, Profile)}
ASSEMBLED = changed(ONE_WEARER, "    new_only: true\n  - step: release", "    assembles: true\n  - step: release")
"""The visor, put together from parts."""


def profile(text: str) -> Profile:
    read = read_definition(text, name="test")
    assert isinstance(read, Profile), read
    return read


def proved(
    text: str = LAMPS, lamp: str = LAMP, visor: str = ONE_WEARER, two: tuple[str, ...] = (TWO_FILTERS,)
) -> ProfileProof:
    known = {one.workflow: one for one in (workflow(lamp), workflow(visor))}
    built = {one.configuration: one for one in map(configuration, two)}
    return prove_profile(profile(text), known, built, digest=digest_of(text))


def test_a_profile_that_holds_says_what_was_judged() -> None:
    proof = proved()
    assert proof.is_sound
    assert proof.proved == tuple(PROFILE_PROPERTIES)
    assert proof.workflows == ("lamp", "visor")
    page = profile_text(proof)
    assert proof.digest in page
    assert "Proof of the profile lamps: holds" in page
    assert "What fails" not in page
    assert "To know" not in page
    assert "the whole file is an example" in profile_text(
        proved(changed(LAMPS, "workflows:", "example: true\nworkflows:"))
    )


@pytest.mark.parametrize(
    ("old", "new", "fails", "sentence"),
    [
        ("[lamp, visor]", "[lamp, visor, lens]", "names", "There is no workflow called lens."),
        ("{workflow: lamp, every", "{workflow: lens, every", "intervals",
         "lens has an interval and is no workflow of this profile."),
        ("{workflow: lamp, days", "{workflow: lens, days", "intervals",
         "lens has an interval and is no workflow of this profile."),
        ("most_months: 3", "most_months: 2", "reinspection",
         "lamp is inspected again every 3 months; every 2 months is the longest here."),
        (", most_months: 3", "", "reinspection",
         "lamp is inspected again every 3 months; every month is the longest here."),
        ("{workflow: lamp, every", "{workflow: visor, every", "reinspection",
         "visor is never inspected again; every 3 months is the longest here."),
        ("days_most: 30", "days_most: 29", "readiness", "lamp stays ready for 30 d; 29 d is the most here."),
        ("{workflow: lamp, days", "{workflow: visor, days", "readiness",
         "visor stays ready without a limit; 30 d is the most here."),
    ],
)  # fmt: skip
def test_one_change_of_the_profile_fails_one_property(old: str, new: str, fails: str, sentence: str) -> None:
    proof = proved(changed(LAMPS, old, new))
    assert [(one.fails, one.sentence) for one in proof.counter_examples] == [(fails, sentence)]
    assert proof.proved == tuple(key for key in PROFILE_PROPERTIES if key != fails)
    assert f"  {fails}: {sentence}\n" in profile_text(proof)
    assert "Proof of the profile lamps: FAILS" in profile_text(proof)


def test_two_workflows_of_one_kind_are_one_too_many() -> None:
    proof = proved(visor=changed(ONE_WEARER, "item_kind: visor", "item_kind: lamp"))
    sentence = "lamp and visor are both for lamp; take one of them."
    assert [(one.fails, one.sentence) for one in proof.counter_examples] == [("kinds", sentence)]


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("every_months: 3", "every_months: 4",
         "lamp is inspected again every 4 months; every 3 months is the longest here."),
        ("reinspection: {every_months: 3, example: true}\n", "",
         "lamp is never inspected again; every 3 months is the longest here."),
        ("readiness: {days_most: 30", "readiness: {days_most: 31", "lamp stays ready for 31 d; 30 d is the most here."),
    ],
)  # fmt: skip
def test_a_workflow_that_grew_laxer_fails_the_profile(old: str, new: str, sentence: str) -> None:
    assert [one.sentence for one in proved(lamp=changed(LAMP, old, new)).counter_examples] == [sentence]


def test_what_is_assembled_needs_a_workflow_for_every_part() -> None:
    """One configuration is enough; nothing is asked of a profile that assembles nothing."""
    of_lamps = changed(TWO_FILTERS, "item_kind: tube", "item_kind: lamp")
    assert [one.sentence for one in proved(visor=ASSEMBLED, two=(TWO_FILTERS, of_lamps)).counter_examples] == [
        "visor: nothing can be assembled; for two-filters no workflow takes filter."
    ]
    whole = changed(of_lamps, "item_kind: filter", "item_kind: visor")
    assert proved(visor=ASSEMBLED, two=(whole,)).configurations == ("two-filters",)
    assert proved(visor=ASSEMBLED, two=(whole,)).is_sound
    none = [one.sentence for one in proved(visor=ASSEMBLED, two=()).counter_examples]
    assert none == ["visor: there is no configuration to assemble."]
    assert proved(two=()).is_sound


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("most_months: 3", "most_months: 0", "`0` is too little; it must be more than 0."),
        ("every_months: 1", "every_months: 4", "`most_months` must not be less than `every_months`."),
        (", source: An invented rule", "", "A number needs a `source`, or the block says `example: true`."),
        ("[lamp, visor]", "[lamp, lamp]", "`lamp` stands twice in this list, in line 4 and in line 4."),
        ("[lamp, visor]", "[]", "The list needs at least 1 members."),
        ("readiness:\n", "readiness:\n  - {workflow: lamp, days_most: 9, example: true}\n",
         "`lamp` stands twice in this list, in line 8 and in line 9."),
        ("records: {years: 5, example: true}\n", "", "The key `records` is missing."),
        ("years: 5", "year: 5", "The key `year` is not known here; the nearest one is `years`."),
    ],
)  # fmt: skip
def test_a_text_that_is_no_profile_says_why(old: str, new: str, sentence: str) -> None:
    assert sentence in [one for _, one in faults(changed(LAMPS, old, new))]


@pytest.mark.parametrize("name", sorted(PROFILES))
def test_a_shipped_profile_holds(name: str) -> None:
    proof = prove_profile(PROFILES[name], WORKFLOWS, CONFIGURATIONS, digest=digest_of(""))
    assert proof.is_sound, profile_text(proof)
    assert {WORKFLOWS[one].item_class for one in PROFILES[name].workflows}


def test_six_profiles_ship() -> None:
    assert sorted(PROFILES) == [
        "one-wearer", "semi-critical", "uk-respirator", "us-respirator", "washer-loads", "wipe-only",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("name", "every_months", "holds"),
    [
        ("uk-respirator", 1, True),
        ("uk-respirator", 3, True),
        ("uk-respirator", 4, False),
        ("us-respirator", 1, True),
        ("us-respirator", 2, False),
    ],
)
def test_how_long_a_respirator_may_go_without_an_examination(name: str, every_months: int, *, holds: bool) -> None:
    """A month, and in the United Kingdom at most three.

    Source: 29 CFR 1910.134(h)(3)(i)(B), respirators for emergency use are inspected at least monthly; Approved Code of
    Practice L5 to the Control of Substances Hazardous to Health Regulations 2002, paragraphs 178 to 186, monthly, up to
    three months where use is occasional (read in copies and summaries).
    """
    text = (folder() / "respirator.yaml").read_text(encoding="utf-8")
    whole = workflow(changed(text, "every_months: 1\n", f"every_months: {every_months}\n"))
    proof = prove_profile(PROFILES[name], WORKFLOWS | {"respirator": whole}, CONFIGURATIONS, digest=digest_of(""))
    assert proof.is_sound is holds
    assert {one.fails for one in proof.counter_examples} == (set() if holds else {"reinspection"})


def test_records_are_kept_five_years_in_the_united_kingdom() -> None:
    """Control of Substances Hazardous to Health Regulations 2002, regulation 9(4), read in a copy."""
    records = PROFILES["uk-respirator"].records
    assert records.years == 5
    assert records.source is not None


def test_check_judges_against_the_files_given_else_the_shipped_ones(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ours, lamp, visor = (tmp_path / f"{name}.yaml" for name in ("lamps", "lamp", "visor"))
    ours.write_text(changed(LAMPS, "[lamp, visor]", "[lamp, cable]"), encoding="utf-8")
    with pytest.raises(typer.Exit):
        check([ours])
    assert "names: There is no workflow called lamp." in capsys.readouterr().out
    lamp.write_text(LAMP.replace("agents: [wipe]", "agents: [hydrogen-peroxide-wipe]"), encoding="utf-8")
    check([ours, lamp], proofs=tmp_path / "proofs")
    assert "2 files read, 1 workflows proved, 1 profiles hold, 0 with faults." in capsys.readouterr().out
    kept = (tmp_path / "proofs" / "lamps.proof.txt").read_text(encoding="utf-8")
    assert "Judged against: lamp, cable" in kept
    visor.write_text(ONE_WEARER, encoding="utf-8")
    check([tmp_path / "lamp.yaml", ours, visor], as_json=True)
    told = {one["name"]: one for one in json.loads(capsys.readouterr().out)}
    assert (told["lamps"]["sort"], told["lamps"]["sound"]) == ("profile", True)
    assert told["lamps"]["proof"]["counter_examples"] == []


def test_a_profile_is_shown_as_a_table() -> None:
    known = {one.workflow: one for one in (workflow(LAMP),)}
    more = changed(LAMPS, "title: Lamps,", "title: Lamps | lights,")
    assert (
        profile_table(profile(more), known)
        == """\
**lamps**: Lamps \\| lights, and visors for one wearer

Follows: An invented rule, then an invented maker.

| Kind | Workflow | Title | Follows |
| --- | --- | --- | --- |
| lamp | `lamp` | Inspection lamp with a battery | An invented maker's instructions. |
| not known here | `visor` | not known here | not known here |

| What must hold | How long | Source |
| --- | --- | --- |
| `lamp` is inspected again | every month, 3 months at the longest | An invented rule |
| `lamp` stays ready | 30 d at the longest | example |
| Records are kept | 5 years | example |

| Where authorities disagree | This profile takes | Instead of |
| --- | --- | --- |
| how often | every month | every year |
"""
    )
    short = changed(changed(more, ", most_months: 3", ""), "years: 5", "years: 1").partition("differs:")[0]
    shown = profile_table(profile(short), known)
    assert "| `lamp` is inspected again | every month | An invented rule |" in shown
    assert "| Records are kept | 1 year | example |" in shown
    assert "disagree" not in shown


def test_the_list_has_a_row_for_every_workflow_and_profile() -> None:
    listed = kinds_table(WORKFLOWS.values(), PROFILES.values())
    for name in (*WORKFLOWS, *PROFILES):
        assert listed.count(f"| `{name}` |") == 1
    assert len(listed.splitlines()) == 2 + len(WORKFLOWS) + 1 + 2 + len(PROFILES)


def test_draw_shows_a_profile_as_a_table_and_everything_as_a_list(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    draw("us-respirator", Picture.TABLE)
    assert capsys.readouterr().out == profile_table(PROFILES["us-respirator"], WORKFLOWS)
    draw(picture=Picture.LIST)
    assert capsys.readouterr().out == kinds_table(WORKFLOWS.values(), PROFILES.values())
    draw("cable", Picture.TABLE)
    draw("cable")
    assert "flowchart TD" in capsys.readouterr().out
    for name, picture in (
        ("us-respirator", Picture.MERMAID),
        (str(folder() / "agents" / "opa-055.yaml"), Picture.TABLE),
    ):
        with pytest.raises(WrongUseError, match="cannot be drawn so"):
            draw(name, picture)
    with pytest.raises(WrongUseError, match="Name a workflow"):
        draw()
    bad = tmp_path / "bad.yaml"
    bad.write_text("profile: x", encoding="utf-8")
    with pytest.raises(DefinitionError):
        draw(str(bad), Picture.TABLE)
