"""Published device labels, check digits and check characters come out of `reprocess.scan.device_label`."""

from datetime import date

import pytest

from reprocess.scan.device_label import read_device_label
from reprocess.scan.gs1 import SEPARATOR
from reprocess.scan.hibc import check_character
from reprocess.scan.identifier import DeviceIdentifier, LabelFault, Standard, UnreadableLabel
from tests.published.report import Agrees, Differs
from tests.published.source import Basis, Published

THIS_YEAR = 2026
FORMATS = "US FDA, UDI formats by FDA-accredited issuing agency, version 1.3, 27 January 2017, read in a copy"
FORMATS_ADDRESS = "https://scribd.com/document/514166454/UDI-Formats-by-FDA-Accredited-Issuing-Agency-January-27-2017"
EXAMPLES = "ANSI/HIBC 2.6, {}, as carried in the tests of a public barcode library"
EXAMPLES_ADDRESS = "https://github.com/tecnickcom/tc-lib-barcode (test/Linear/HibcThreeNineTest.php)"
GUIDE = "IMDRF/UDI WG/N48 FINAL:2019, UDI system application guide, {}, read in a copy"
GUIDE_ADDRESS = "https://www.imdrf.org/documents/unique-device-identification-system-udi-system-application-guide"
NOT_KEPT = "found by exact search in public sources; no single address"


def formats(id: str, statement: str, unit: str = "fields") -> Published:
    return Published(id, statement, unit, "scanned in 2026", FORMATS, FORMATS_ADDRESS, "seen", "published")


def hibc(id: str, statement: str, part: str, unit: str = "fields") -> Published:
    condition = "device and rest in one code"
    return Published(id, statement, unit, condition, EXAMPLES.format(part), EXAMPLES_ADDRESS, "seen", "published")


def read(scanned: str) -> DeviceIdentifier:
    found = read_device_label(scanned, this_year=THIS_YEAR)
    assert isinstance(found, DeviceIdentifier), found
    return found


def refused(scanned: str) -> LabelFault:
    found = read_device_label(scanned, this_year=THIS_YEAR)
    assert isinstance(found, UnreadableLabel), found
    return found.fault


def said(found: DeviceIdentifier) -> dict[str, str]:
    """Returns what the label says by the name of the field, days as text."""
    names = ("device", "manufactured", "expires", "lot", "serial", "donation")
    values = {name: getattr(found, name) for name in names}
    return {name: str(value) for name, value in values.items() if value is not None}


def checked_as_item_number(body: str) -> list[int]:
    """Returns every digit that our reader takes as the check digit after the body."""
    tried = {digit: read_device_label(f"(01){body:0>13}{digit}", this_year=THIS_YEAR) for digit in range(10)}
    return [digit for digit, found in tried.items() if isinstance(found, DeviceIdentifier)]


# GS1


def test_v12_17_as_people_read_it(agrees: Agrees) -> None:
    row = formats("V12-17", "(01)51022222233336(11)141231(17)150707(10)A213B1(21)1234")
    agrees(
        row,
        theirs={
            "device": "51022222233336",
            "manufactured": "2014-12-31",
            "expires": "2015-07-07",
            "lot": "A213B1",
            "serial": "1234",
        },
        ours=said(read(row.statement)),
    )


@pytest.mark.parametrize("carrier", ["", "]d2", "]C1", "]Q3"])
def test_v12_18_as_a_scanner_sends_it(agrees: Agrees, carrier: str) -> None:
    row = Published(
        id="V12-18",
        statement="the same identifier with a separator (GS, 0x1D) after the field of variable length",
        unit="fields",
        condition="the symbology identifiers in front of it are from memory",
        source="GS1 application identifiers",
        address="https://www.gs1.org/standards/barcodes/application-identifiers",
        evidence="seen",
        basis="derived",
    )
    found = read(f"{carrier}0151022222233336111412311715070710A213B1{SEPARATOR}211234")
    agrees(
        row,
        theirs=("51022222233336", "A213B1", "1234"),
        ours=(found.device, found.lot, found.serial),
    )


def test_v12_19_sizes_of_the_fields(agrees: Agrees) -> None:
    row = formats("V12-19", "most characters of (01), (11), (17), (10), (21); of all, printed and kept", "characters")
    longest = {"01": "51022222233336", "11": "141231", "17": "150707", "10": "A" * 20, "21": "B" * 20}
    printed = "".join(f"{name}{value}" for name, value in longest.items())
    found = read(f"]d2{printed.replace('21B', SEPARATOR + '21B')}")
    kept = [found.device, longest["11"], longest["17"], found.lot or "", found.serial or ""]
    sizes = tuple(len(value) for value in kept)
    agrees(
        row,
        theirs=((16, 8, 8, 22, 22), (14, 6, 6, 20, 20), (76, 66)),
        ours=(tuple(size + 2 for size in sizes), sizes, (len(printed), sum(sizes))),
    )
    for name, value in longest.items():
        assert refused(f"(01)51022222233336({name}){value}9") in {LabelFault.MALFORMED, LabelFault.REPEATED}, row


@pytest.mark.parametrize(
    ("id", "body", "digit", "source", "address"),
    [
        (
            "V12-21",
            "629104150021",
            3,
            "GS1, check digit page",
            "http://www.gs1.org/barcodes/support/check_digit_calculator",
        ),
        (
            "V12-22",
            "730001100001",
            7,
            "GS1 Sweden, check digit page",
            "https://www.gs1.se/Support/Berakna-kontrollsiffra/Sa-beraknas-kontrollsiffran/",
        ),
        (
            "V12-25",
            "501234567890",
            0,
            "GS1 UK, example body",
            "https://studyres.com/doc/7906084/calculate-your-check-digit?page=1",
        ),
    ],
)
def test_v12_21_to_25_only_one_check_digit_is_taken(
    agrees: Agrees, id: str, body: str, digit: int, source: str, address: str
) -> None:
    condition = "modulus 10, weights 3 and 1 from the right"
    basis: Basis = "derived" if digit == 0 else "published"
    row = Published(id, f"check digit of {body}", "digit", condition, source, address, "seen", basis)
    agrees(row, theirs=(digit,), ours=checked_as_item_number(body))


CIRCULATING = "item numbers in circulation, of which two fail their check digit"


@pytest.mark.parametrize(
    ("number", "right"),
    [
        ("51022222233336", 6),
        ("10884521062856", 6),
        ("00643169001763", 3),
        ("00208851107345", 7),
        ("00011954013448", 2),
    ],
)
def test_v12_26_a_wrong_check_digit_in_print_is_refused(
    agrees: Agrees, differs: Differs, number: str, right: int
) -> None:
    row = Published(
        "V12-26", CIRCULATING, "check digit", f"item number {number}", "public examples", NOT_KEPT, "seen", "derived"
    )
    ours = checked_as_item_number(number[:-1])
    assert ours == [right], row
    printed = int(number[-1])
    if printed == right:
        agrees(row, theirs=printed, ours=ours[0])
    else:
        differs(row, theirs=printed, ours=ours[0])
        assert refused(f"(01){number}(17)270331") is LabelFault.WRONG_CHECK_CHARACTER


def test_another_published_gs1_label(agrees: Agrees) -> None:
    row = Published(
        id="GS1-1",
        statement="(01)09506000117843(11)141231(17)201231(10)1234AB(21)5678CD",
        unit="fields",
        condition="scanned in 2026",
        source=GUIDE.format("Appendix A"),
        address=GUIDE_ADDRESS,
        evidence="seen",
        basis="published",
    )
    agrees(
        row,
        theirs={
            "device": "09506000117843",
            "manufactured": "2014-12-31",
            "expires": "2020-12-31",
            "lot": "1234AB",
            "serial": "5678CD",
        },
        ours=said(read(row.statement)),
    )


@pytest.mark.parametrize(
    ("text", "expected"),
    [("280200", "2028-02-29"), ("270200", "2027-02-28"), ("271200", "2027-12-31"), ("270401", "2027-04-01")],
)
def test_day_00_is_the_last_day_of_the_month(agrees: Agrees, text: str, expected: str) -> None:
    row = Published(
        id="GS1-2",
        statement=f"(17){text}: day 00 is the last day of the month",
        unit="date",
        condition="scanned in 2026",
        source="GS1 General Specifications, as described in the documentation of biip 5.2, ParseConfig",
        address="https://biip.readthedocs.io/",
        evidence="seen",
        basis="derived",
    )
    agrees(row, theirs=expected, ours=str(read(f"(01)51022222233336(17){text}").expires))


@pytest.mark.parametrize(
    ("this_year", "two_digits", "expected"),
    [
        (2026, "76", 2076),
        (2026, "77", 1977),
        (2026, "00", 2000),
        (2026, "26", 2026),
        (1999, "49", 2049),
        (1999, "50", 1950),
        (2060, "10", 2110),
        (2060, "11", 2011),
    ],
)
def test_two_digits_of_a_year_are_the_nearest_such_year(
    agrees: Agrees, this_year: int, two_digits: str, expected: int
) -> None:
    row = Published(
        id="GS1-3",
        statement=f"year {two_digits} read in {this_year}",
        unit="year",
        condition="49 years back to 50 years ahead",
        source="GS1 General Specifications, section 7.12, as described in the source of biip 5.2",
        address="https://github.com/jodal/biip (src/biip/gs1_element_strings.py)",
        evidence="seen",
        basis="derived",
    )
    found = read_device_label(f"(01)51022222233336(17){two_digits}0630", this_year=this_year)
    assert isinstance(found, DeviceIdentifier)
    agrees(row, theirs=date(expected, 6, 30), ours=found.expires)


# HIBC


def test_v12_27_check_character(agrees: Agrees) -> None:
    row = hibc("V12-27", "check character of +A123BJC5D6E71", "Appendix B.2.0", "character")
    agrees(row, theirs="G", ours=check_character("+A123BJC5D6E71"))
    assert read("+A123BJC5D6E71G") == DeviceIdentifier(Standard.HIBC, "A123BJC5D6E71")


def test_v12_29_a_wrong_check_character_in_print_is_refused(differs: Differs) -> None:
    row = Published(
        id="V12-29",
        statement="+H123PARTNO1234567890120/$$420020216LOT123456789012345/SXYZ456789012345678/16D20130202C",
        unit="check character",
        condition="right with H; all else is read",
        source=f"example of HL7 FHIR, Device; {FORMATS}",
        address=FORMATS_ADDRESS,
        evidence="seen",
        basis="published",
    )
    payload, printed = row.statement[:-1], row.statement[-1]
    assert refused(row.statement) is LabelFault.WRONG_CHECK_CHARACTER
    differs(row, theirs=printed, ours=check_character(payload))
    assert said(read(f"{payload}H")) == {
        "device": "H123PARTNO1234567890120",
        "manufactured": "2013-02-02",
        "expires": "2020-02-02",
        "lot": "LOT123456789012345",
        "serial": "XYZ456789012345678",
    }


def test_v12_31_a_day_of_the_year(agrees: Agrees) -> None:
    row = hibc("V12-31", "+A123BJC5D6E71/$$52001510X3 with its check character", "section 4.3.3")
    check = check_character("+A123BJC5D6E71/$$52001510X3")
    found = read(f"+A123BJC5D6E71/$$52001510X3{check}")
    agrees(row, theirs=("C", date(2020, 1, 15), "10X3"), ours=(check, found.expires, found.lot))


@pytest.mark.parametrize(
    ("part", "text", "expected"),
    [
        ("Appendix C.3", "+H123ABC01234567890D", {"device": "H123ABC01234567890"}),
        (
            "section 2.2.1.1",
            "+A99912345/$$52001510X33",
            {"device": "A99912345", "expires": "2020-01-15", "lot": "10X3"},
        ),
        (
            "section 2.3.2",
            "+A99912345/$$52001510X3/16D20111212/S77DEFG457",
            {
                "device": "A99912345",
                "manufactured": "2011-12-12",
                "expires": "2020-01-15",
                "lot": "10X3",
                "serial": "77DEFG45",
            },
        ),
        (
            "section 2.3.2.3",
            "+A99912345/$10X3/16D20111231/14D202001313",
            {"device": "A99912345", "manufactured": "2011-12-31", "expires": "2020-01-31", "lot": "10X3"},
        ),
        (
            "section 2.3.2.4",
            "+A99912349/$10X3/16D20111231/14D20200131/Q500Z",
            {"device": "A99912349", "manufactured": "2011-12-31", "expires": "2020-01-31", "lot": "10X3"},
        ),
    ],
)
def test_worked_examples_of_the_supplier_standard(
    agrees: Agrees, part: str, text: str, expected: dict[str, str]
) -> None:
    agrees(hibc("HIBC-1", text, part), theirs=expected, ours=said(read(text)))


@pytest.mark.parametrize(
    ("second", "expected"),
    [
        ("05271", {"expires": "2005-09-28"}),
        ("$3C001", {"lot": "3C001"}),
        ("$$09053C001", {"expires": "2005-09-30", "lot": "3C001"}),
        ("$$20928053C001", {"expires": "2005-09-28", "lot": "3C001"}),
        ("$$30509283C001", {"expires": "2005-09-28", "lot": "3C001"}),
        ("$$4050928223C001", {"expires": "2005-09-28", "lot": "3C001"}),
        ("$$5052713C001", {"expires": "2005-09-28", "lot": "3C001"}),
        ("$$605271223C001", {"expires": "2005-09-28", "lot": "3C001"}),
        ("$$73C001", {"lot": "3C001"}),
        ("$+0001", {"serial": "0001"}),
        ("$$+09050001", {"expires": "2005-09-30", "serial": "0001"}),
        ("$$+20928050001", {"expires": "2005-09-28", "serial": "0001"}),
        ("$$+30509280001", {"expires": "2005-09-28", "serial": "0001"}),
        ("$$+4050928200001", {"expires": "2005-09-28", "serial": "0001"}),
        ("$$+5052710001", {"expires": "2005-09-28", "serial": "0001"}),
        ("$$+605271200001", {"expires": "2005-09-28", "serial": "0001"}),
        ("$$+70001", {"serial": "0001"}),
    ],
)
def test_every_form_of_the_supplier_standard(agrees: Agrees, second: str, expected: dict[str, str]) -> None:
    row = hibc("HIBC-2", f"secondary data {second}", "Appendix F, Table F1")
    payload = f"+A99912345/{second}"
    found = said(read(payload + check_character(payload)))
    agrees(row, theirs={"device": "A99912345"} | expected, ours=found)


@pytest.mark.parametrize(("text", "right"), [("+A999ABC123DE0/$+1234567Y", True), ("+A999ABC123DE1/$+1234567Y", False)])
def test_a_copied_check_character_in_print_is_refused(
    agrees: Agrees,
    differs: Differs,
    text: str,
    right: bool,  # noqa: FBT001
) -> None:
    row = Published(
        id="HIBC-3",
        statement=f"{text}: the same check character is printed for the product and for its package",
        unit="check character",
        condition="a serial number without a day",
        source=GUIDE.format("Appendix C"),
        address=GUIDE_ADDRESS,
        evidence="seen",
        basis="published",
    )
    ours = check_character(text[:-1])
    if right:
        agrees(row, theirs=text[-1], ours=ours)
        assert said(read(text)) == {"device": "A999ABC123DE0", "serial": "1234567"}
    else:
        differs(row, theirs=text[-1], ours=ours)
        assert refused(text) is LabelFault.WRONG_CHECK_CHARACTER


# ISBT 128


def test_v12_32_a_label_of_the_blood_and_tissue_standard(agrees: Agrees) -> None:
    text = "=/A9999XYZ100T0944=,000025=A99971312345600=>014032=}013032&,1000000000000XYZ123"
    row = formats("V12-32", text)
    agrees(
        row,
        theirs={
            "device": "A9999XYZ100T0944",
            "manufactured": "2013-02-01",
            "expires": "2014-02-01",
            "lot": "000000000000XYZ123",
            "serial": "000025",
            "donation": "A99971312345600",
        },
        ours=said(read(text)),
    )
    assert len(text) == 79, row


def test_a_blood_container_has_fields_of_its_own(agrees: Agrees) -> None:
    row = formats("ISBT128-1", "=)1TE123456A&)RZ12345678")
    agrees(row, theirs={"device": "1TE123456A", "lot": "RZ12345678"}, ours=said(read(row.statement)))
