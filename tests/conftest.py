"""Options of the whole run; fixtures stand in the folder that uses them."""

import pytest


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the options that let a test reach the network, take long, or print what it compared."""
    parser.addoption(
        "--bare-clone",
        action="store_true",
        help="also set up a clone from nothing, through the package index",
    )
    parser.addoption(
        "--fuzz",
        type=int,
        default=0,
        metavar="REQUESTS",
        help="make at least so many random requests for each sort of caller (tests/service/test_fuzz.py)",
    )
    parser.addoption(
        "--long",
        action="store_true",
        help="play fifty times as many random scripts, other ones in every run",
    )
    parser.addoption(
        "--published",
        action="store_true",
        help="print every published value beside ours (with tests/published alone, in one process)",
    )
