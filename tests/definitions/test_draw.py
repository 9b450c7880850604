"""A workflow is drawn the same way every time, with every step, and no word of it can break the picture or table."""

from reprocess.definitions.draw import duration, mermaid, table
from tests.definitions.texts import ONE_WEARER, SOUND, WIPE, agent, changed, workflow

AGENTS = {"wipe": agent(WIPE)}


def test_the_picture_of_a_small_workflow() -> None:
    assert (
        mermaid(workflow(ONE_WEARER))
        == """\
flowchart TD
    stage_used([used])
    stage_inspected([inspected])
    stage_ready([ready])
    stage_condemned([condemned])
    step_inspect["<b>inspect</b><br/>Look at the new visor<br/>only before first use"]
    step_release["<b>release</b><br/>Release it<br/>only before first use"]
    stage_used --> step_inspect
    step_inspect --> stage_inspected
    stage_inspected --> step_release
    step_release --> stage_ready
    stage_ready -. after its one use .-> stage_condemned
"""
    )


def test_the_picture_shows_branches_ways_back_and_classes() -> None:
    lines = [line.strip() for line in mermaid(workflow(SOUND)).splitlines()]
    # Both arrows are needed: an item of another class goes from take-apart to clean.
    assert {"step_take_apart --> step_clean", "step_soak --> step_clean"} <= set(lines)
    assert {"stage_dried --> step_inspect", "stage_dried --> step_charge"} <= set(lines)
    assert {"stage_inspected --> step_functional_test", "step_charge --> step_functional_test"} <= set(lines)
    assert {"step_inspect -. fails .-> step_clean", "step_inspect -. fails .-> step_take_apart"} <= set(lines)
    assert "step_rinse -. fails .-> step_clean" in lines
    assert "stage_ready -. used or contaminated .-> stage_used" in lines
    assert 'step_soak["<b>soak</b><br/>Lay a damp cloth on dried soil<br/>only late"]' in lines
    assert mermaid(workflow(SOUND)) == mermaid(workflow(SOUND))


def test_an_arrow_past_a_step_that_every_class_has_is_left_out() -> None:
    text = changed(SOUND, "after: [rinse]", "after: [disinfect, rinse]")
    assert mermaid(workflow(text)) == mermaid(workflow(SOUND))


def test_a_way_back_to_the_step_itself_is_not_drawn() -> None:
    text = changed(SOUND, "{defect: SOIL, back_to: clean}", "{defect: SOIL, back_to: inspect}")
    assert "step_inspect -. fails .-> step_inspect" not in mermaid(workflow(text))


def test_the_table_has_a_row_a_step_with_times_and_sources() -> None:
    rows = table(workflow(SOUND), AGENTS).splitlines()
    assert rows[0] == "| Step | After | By whom | Must hold | Least | Greatest | Source |"
    assert len(rows) == 2 + 10
    assert all(row.count(" | ") == 6 for row in rows)
    assert rows[5] == (
        "| `disinfect` Wipe and keep wet, reaches **disinfected** | `clean` | competent in disinfect; dirty side "
        "| wet contact against mycobacteria, without a break, its end confirmed. | 3 min with wipe | 30 min "
        "| An invented maker's instructions, page 3.<br>example |"
    )
    assert rows[6].split(" | ")[3] == "Begun within 30 min of the end of disinfect."
    assert rows[8].split(" | ")[2] == "competent in inspect; clean side; nobody who did clean, disinfect"
    assert rows[10].split(" | ")[3] == "light_lux: at least 500 (lux).<br>Instrument named: light-meter."
    assert rows[11].split(" | ")[2] == "competent in release; clean side; not the only one of the cycle"


def test_the_table_tells_the_rarer_demands() -> None:
    text = changed(SOUND, "title: Light it\n", "title: Light it\n    two_people: true\n    assembles: true\n")
    text = changed(text, "exactly: 2\n        example: true", "from_configuration: plugs")
    text = changed(text, "least: 500\n", "most: 900\n")
    text = changed(text, "agents: [wipe]", "agents: [wipe]\n      least_s: 240\n      temp_most_c: 43")
    text = changed(text, "kind: charging", "thermal: {a0_least_s: 600, floor_c: 65, source: x}, kind: thermal")
    rows = table(workflow(text), {}).splitlines()
    assert "plugs: as many plugs as the configuration says." in rows[2]
    assert "| 4 min | 30 min |" in rows[5]
    assert "Liquid at most 43 °C." in rows[5]
    assert "A0 of at least 600 s, from 65 °C up." in rows[9]
    assert "two people" in rows[10]
    assert "light_lux: at most 900 (lux)." in rows[10]
    assert "Parts and numbers as an approved configuration says." in rows[10]
    assert "Only before the first use." in table(workflow(ONE_WEARER), {})
    free = changed(text, "        most: 900\n", "")
    assert "light_lux: on record (lux)." in table(workflow(free), {})


def test_a_row_of_a_label_that_needs_warmth_says_so() -> None:
    warm = agent(changed(WIPE, "contact_s: 180, example", "contact_s: 180, temp_least_c: 25, example"))
    assert "3 min with wipe from 25 °C" in table(workflow(SOUND), {"wipe": warm})


def test_no_word_of_a_workflow_breaks_picture_or_table() -> None:
    text = changed(SOUND, "title: Light it", "title: 'Light \"it\" <up> | \\ #1'")
    assert "Light #quot;it#quot; #lt;up#gt; | \\ #35;1" in mermaid(workflow(text))
    row = table(workflow(text), AGENTS).splitlines()[10]
    assert 'Light "it" &lt;up&gt; \\| \\\\ #1' in row


def test_durations_are_said_as_people_say_them() -> None:
    assert [duration(seconds) for seconds in (45, 60, 90, 900, 7_200, 86_400, 90_000)] == [
        *("45 s", "1 min", "90 s", "15 min", "2 h", "1 d", "25 h"),
    ]
