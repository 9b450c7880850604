"""Published check characters come out of `reprocess.scan.check_character`."""

from dataclasses import replace

import pytest

from reprocess.scan.check_character import check_character
from tests.published.report import Agrees
from tests.published.source import Published

SYSTEM = "ISO/IEC 7064, MOD 37,36"


def worked_example(number: int, source: str, address: str) -> Published:
    return Published(
        id=f"ISO7064-{number}",
        statement="check character of a published identifier",
        unit="one of 0 to 9 and A to Z",
        condition=f"{SYSTEM}, separators left out",
        source=source,
        address=address,
        evidence="seen",
        basis="published",
    )


RECORDING = worked_example(
    1,
    "Global Release Identifier, encyclopedia article, section on its construction",
    "https://en.wikipedia.org/wiki/Global_Release_Identifier",
)
AUDIOVISUAL = worked_example(
    2,
    "International Standard Audiovisual Number, examples of the python-stdnum documentation",
    "http://arthurdejong.org/python-stdnum/doc/1.1/stdnum.isan.html",
)


@pytest.mark.parametrize(
    ("row", "payload", "expected"),
    [
        (RECORDING, "A12425GABC1234002", "M"),
        (AUDIOVISUAL, "00000000D07A0090", "Q"),
        (AUDIOVISUAL, "00000000D07A009000000000", "X"),
        (AUDIOVISUAL, "000000018CFA0000", "I"),
        (AUDIOVISUAL, "0000000189470000", "8"),
        (AUDIOVISUAL, "000000018947000000000000", "D"),
    ],
    ids=str,
)
def test_the_check_character_is_the_published_one(agrees: Agrees, row: Published, payload: str, expected: str) -> None:
    agrees(replace(row, statement=f"{row.statement} {payload}"), theirs=expected, ours=check_character(payload))
