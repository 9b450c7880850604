"""`reprocess import`: a file is taken whole or not at all, every fault is told, and twice changes nothing."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.exchange.desk import Desk, founded

Capture = pytest.CaptureFixture[str]
Write = Callable[[str], Path]
ITEMS = (
    "id,site,model,workflow,serial,quantity,in_service\n"
    "BLW-0041,LMG,LB-3,blower,L3-41,,2026-01-15\n"
    'GSK-A1,SAL,"LG-1, soft",filter-gasket,,40,\n'
)


def test_items_are_taken_and_begin_used(desk: Desk, table: Write, capsys: Capture) -> None:
    assert desk.take("items", table(ITEMS)) == 0
    assert capsys.readouterr().out == "2 of 2 lines were taken; 0 are on record already.\n"
    blower, gasket = desk.department.item("BLW-0041"), desk.department.item("GSK-A1")
    assert (blower.stage, blower.serial, blower.site, blower.item_kind) == ("used", "L3-41", "LMG", "blower")
    assert (gasket.quantity, gasket.model, gasket.site) == (40, "LG-1, soft", "SAL")
    assert desk.department.verify(full=True).sound


def test_the_same_file_again_changes_nothing_and_says_so(desk: Desk, table: Write, capsys: Capture) -> None:
    file = table(ITEMS)
    desk.take("items", file)
    before = desk.entries()
    capsys.readouterr()
    assert desk.take("items", file) == 0
    assert capsys.readouterr().out == "All 2 lines are on record already; nothing was changed.\n"
    assert desk.entries() == before


def test_a_dry_run_takes_nothing(desk: Desk, table: Write, capsys: Capture) -> None:
    before = desk.entries()
    assert desk.take("items", table(ITEMS), dry_run=True) == 0
    assert capsys.readouterr().out == "2 of 2 lines would be taken; 0 are on record already.\n"
    assert desk.entries() == before


def test_every_fault_is_told_with_its_line_and_column_and_nothing_is_taken(
    desk: Desk, table: Write, capsys: Capture
) -> None:
    file = table(
        "id,site,model,workflow,quantity,in_service\n"
        "BLW-1,LMG,LB-3,blower,,\n"
        "blw 2,XXX,,blowers,0,2026-13-01\n"
        "BLW-1,LMG,LB-3,blower,,\n"
        "BLW-3,LMG\n"
        "BLW-4,LMG,LB-3,blower,,05/03/2026\n"
    )
    before = desk.entries()
    assert desk.take("items", file, as_json=True) == 1
    *faults, last = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [(one["line"], one["column"]) for one in faults] == [
        (3, "id"),
        (3, "site"),
        (3, "workflow"),
        (3, "model"),
        (3, "quantity"),
        (3, "in_service"),
        (4, "id"),
        (5, None),
        (6, "in_service"),
    ]
    assert faults[6]["what"] == "line 2 names the same"
    assert faults[8]["write"] == "a date such as 2026-03-05"
    assert last == {"lines": 5, "new": 1, "known": 0, "faults": 9, "taken": 0}
    assert desk.entries() == before


def test_faults_are_told_as_sentences(desk: Desk, table: Write, capsys: Capture) -> None:
    assert desk.take("items", table("id,site,model,workflow\nBLW-1,LMG,,blower\n")) == 1
    assert capsys.readouterr().out.splitlines() == [
        "line 2, model: it is empty. Write the model.",
        "1 faults in 1 lines; nothing was taken.",
    ]


@pytest.mark.parametrize(
    ("headings", "what"),
    [
        ("id,site,model", "this heading is missing"),
        ("id,site,model,workflow,colour", "this heading is not known"),
        ("id,site,model,workflow,id", "this heading stands twice"),
    ],
)
def test_headings_that_do_not_fit_are_told(desk: Desk, table: Write, capsys: Capture, headings: str, what: str) -> None:
    assert desk.take("items", table(f"{headings}\n")) == 1
    assert what in capsys.readouterr().out


def test_a_file_with_a_byte_order_mark_is_read(desk: Desk, tmp_path: Path) -> None:
    file = tmp_path / "bom.csv"
    file.write_bytes(b"\xef\xbb\xbf" + ITEMS.encode())
    assert desk.take("items", file) == 0


def test_a_file_that_is_not_utf_8_says_on_which_line(desk: Desk, tmp_path: Path, capsys: Capture) -> None:
    file = tmp_path / "latin.csv"
    file.write_bytes("id,site,model,workflow\nBLW-1,LMG,LB-3,blower\nBLW-2,LMG,Größe,blower\n".encode("latin-1"))
    assert desk.take("items", file) == 1
    assert "line 3: it is not UTF-8 text" in capsys.readouterr().out


def test_what_is_on_record_otherwise_is_told_and_never_changed(desk: Desk, table: Write, capsys: Capture) -> None:
    desk.take("items", table(ITEMS))
    capsys.readouterr()
    assert desk.take("items", table(ITEMS.replace("LB-3", "LB-4"))) == 1
    assert "line 2, model: it is on record, and says otherwise there" in capsys.readouterr().out
    assert desk.department.item("BLW-0041").model == "LB-3"


# GS1 General Specifications: (01) GTIN with (21) serial number, (8004) GIAI. The GTIN's check digit is valid by the
# standard's modulo-10 algorithm (section 7.9); the numbers themselves are invented.
@pytest.mark.parametrize(
    ("code", "name"),
    [
        ("I:BLW-0041.W", "BLW-0041"),
        ("(01)09501101530003(21)BLW41", "09501101530003-BLW41"),
        ("010950110153000321BLW41", "09501101530003-BLW41"),
        ("]d2010950110153000321BLW41", "09501101530003-BLW41"),
        ("(8004)9501101BLW41", "9501101BLW41"),
        ("80049501101BLW41", "9501101BLW41"),
        ("(7023)9501101KIT7", "9501101KIT7"),
    ],
)
def test_codes_of_gs1_name_items(desk: Desk, table: Write, code: str, name: str) -> None:
    assert desk.take("items", table(f"id,site,model,workflow\n{code},LMG,LB-3,blower\n")) == 0
    assert desk.department.item(name).model == "LB-3"


@pytest.mark.parametrize("code", ["(01)09501101530003", "(01)09501101530004(21)BLW41", "12345", "I:BLW-0041.X"])
def test_a_code_that_names_no_single_part_is_told(desk: Desk, table: Write, capsys: Capture, code: str) -> None:
    assert desk.take("items", table(f"id,site,model,workflow\n{code},LMG,LB-3,blower\n")) == 1
    assert "line 2, id:" in capsys.readouterr().out


def test_people_and_their_competencies_are_taken(desk: Desk, table: Write, capsys: Capture) -> None:
    people = table("id,name,sites,roles,badges\nP-10,Quillon Dray,LMG SAL,supervisor,B-10 B-11\n")
    assert desk.take("people", people) == 0
    grants = table(
        "person,competency,kinds,from,until,assessor\n"
        "P-10,clean,blower breathing-tube,2026-01-01,2027-12-31,Wendel Crake\n"
    )
    assert desk.take("competencies", grants) == 0
    person = desk.department.person("P-10")
    assert (person.name, person.sites, person.badges) == ("Quillon Dray", ("LMG", "SAL"), ("B-10", "B-11"))
    (one,) = person.competencies
    assert (one.competency, one.item_kinds, one.assessor) == ("clean", ("blower", "breathing-tube"), "Wendel Crake")
    capsys.readouterr()
    for name, file in (("people", people), ("competencies", grants)):
        assert desk.take(name, file) == 0
        assert "nothing was changed" in capsys.readouterr().out


def test_a_badge_of_somebody_else_and_a_stranger_are_told(desk: Desk, table: Write, capsys: Capture) -> None:
    assert desk.take("people", table("id,name,badges\nP-11,Quillon Dray,B-02\n")) == 1
    assert "badge B-02 is another person's" in capsys.readouterr().out
    grants = "person,competency,from,until,assessor\nP-99,clean,2026-01-01,2027-12-31,Wendel Crake\n"
    assert desk.take("competencies", table(grants)) == 1
    assert "P-99 is not on record" in capsys.readouterr().out


def test_who_may_not_enrol_may_not_import_and_nothing_is_taken(desk: Desk, table: Write, capsys: Capture) -> None:
    before = desk.entries()
    assert desk.take("items", table(ITEMS), badge="B-03") == 1
    out = capsys.readouterr().out
    assert "Nothing of the file was taken." in out
    assert "A08" in out
    assert desk.entries() == before


def test_a_configuration_is_only_proposed(desk: Desk, tmp_path: Path, capsys: Capture) -> None:
    shipped = Path(__file__).parents[2] / "workflows" / "configurations"
    source = sorted(shipped.glob("*.yaml"))[0]
    name = source.stem
    (tmp_path / source.name).write_text(source.read_text(encoding="utf-8"), encoding="utf-8")
    file = tmp_path / "configurations.csv"
    file.write_text(f"name,file\n{name},{source.name}\nother,../department.yaml\n", encoding="utf-8")
    assert desk.take("configurations", file) == 1
    assert "line 3, file: it does not lie beside the table" in capsys.readouterr().out
    file.write_text(f"name,file\n{name},{source.name}\n", encoding="utf-8")
    assert desk.take("configurations", file) == 0
    assert desk.out("configurations").splitlines()[1].endswith(",configuration,,no")
    capsys.readouterr()
    assert desk.take("configurations", file) == 0
    assert "nothing was changed" in capsys.readouterr().out


def test_lots_places_and_wearers_are_taken(desk: Desk, table: Write, capsys: Capture) -> None:
    files = {
        "lots": "id,product,sort,quantity,expiry\nL-7,opa-055,agent,12,2027-03-31\n",
        "places": "id,title,sort,zone,par,limits\nLMG-S1,Store 1,store,clean,10,temp_c=5..30\n",
        "wearers": "id,unit,name\nW-0007,Ward 4,Quillon Dray\n",
    }
    for name, text in files.items():
        file = table(text)
        assert desk.take(name, file, badge="B-02") == 0, capsys.readouterr().out
        capsys.readouterr()
        assert desk.take(name, file, badge="B-02") == 0
        assert "nothing was changed" in capsys.readouterr().out
    assert desk.out("lots").splitlines()[1].startswith("L-7,opa-055,agent,12,LMG,piece,2027-03-31")
    assert desk.out("places").splitlines()[1].startswith("LMG-S1,Store 1,store,clean,LMG,10,temp_c=5..30")
    assert desk.out("wearers").splitlines()[1].startswith("W-0007,Ward 4,LMG")
    for name in ("wearers", "entries", "due"):
        assert "Quillon" not in desk.out(name)


def test_what_goes_out_comes_in_the_same(desk: Desk, tmp_path: Path, capsys: Capture) -> None:
    file = tmp_path / "in.csv"
    file.write_text(ITEMS + '"BLW-9",SAL,"=cmd|\' /C calc\'!A0",blower,@S,,2026-02-01\n', encoding="utf-8")
    assert desk.take("items", file) == 0
    tables = {name: desk.out(name) for name in ("people", "competencies", "items")}
    assert "'=cmd|" in tables["items"]
    other = founded(tmp_path / "other.db")
    with other.department:
        for name, text in tables.items():
            path = tmp_path / f"{name}.csv"
            path.write_bytes(text.encode())
            assert other.take(name, path) == 0, capsys.readouterr().out
        # What only evidence and the clock make so may differ: those columns are not taken.
        assert [line.split(",")[:5] for line in other.out("items").splitlines()] == [
            line.split(",")[:5] for line in tables["items"].splitlines()
        ]
        assert other.out("people") == tables["people"]
        capsys.readouterr()
        again = tmp_path / "again.csv"
        again.write_bytes(other.out("items").encode())
        assert other.take("items", again) == 0
        assert "nothing was changed" in capsys.readouterr().out


def test_ready_is_never_imported(desk: Desk, table: Write) -> None:
    """Integrators never move an item to ready without the same evidence."""
    text = "id,site,model,workflow,stage,last_ready_at\nBLW-1,LMG,LB-3,blower,ready,2026-03-05T07:00:00+00:00\n"
    assert desk.take("items", table(text)) == 0
    assert desk.department.item("BLW-1").stage == "used"
