"""Which PINs are taken, and how they are kept."""

from __future__ import annotations

import re
import threading

import pytest

from reprocess.errors import WrongUseError
from reprocess.signing_in.pins import DIGITS_LEAST, TOGETHER, Pins, must_be_good
from tests.signing_in.people import CHEAP_KIB

KEY = bytes(range(32))


def test_a_pin_has_eight_digits_at_least() -> None:
    """OWASP ASVS 5.0, 6.2.1: user set passwords are at least 8 characters in length."""
    assert DIGITS_LEAST == 8
    must_be_good("60418275", ["B-A"])
    for short in (
        "",
        "6041827",
        "6041827a",
        "60418 275",
        "6041827\n",
        "6" * 33,
        "\uff16\uff10\uff14\uff11\uff18\uff12\uff17\uff15",
    ):
        with pytest.raises(WrongUseError):
            must_be_good(short, [])


@pytest.mark.parametrize(
    "pin",
    [
        "12345678", "23456789", "87654321", "90123456", "13579135", "00000000", "77777777", "12121212",
        "12341234", "123123123", "11221112", "17051984", "05171984", "19840517", "31122026",
    ],
)  # fmt: skip
def test_sequences_repeats_and_dates_are_not_taken(pin: str) -> None:
    with pytest.raises(WrongUseError) as told:
        must_be_good(pin, [])
    assert pin not in told.value.sentence


def test_the_digits_of_ones_own_badge_are_not_taken() -> None:
    for badge in ("B-604182", "6041-8275", "X-60418275-99"):
        with pytest.raises(WrongUseError):
            must_be_good("60418275", [badge])
    must_be_good("60418275", ["B-604", "B-9999"])


def test_days_that_no_calendar_has_are_no_dates() -> None:
    must_be_good("31022847", [])
    must_be_good("45671399", [])


def test_pins_are_kept_as_argon2id_with_at_least_what_owasp_asks() -> None:
    """OWASP Password Storage Cheat Sheet: Argon2id, 19 MiB of memory, 2 iterations, 1 degree of parallelism."""
    kept = Pins(KEY).kept("60418275")
    found = re.match(r"\$argon2id\$v=19\$m=(\d+),t=(\d+),p=(\d+)\$", kept)
    assert found is not None
    memory, passes, lanes = (int(one) for one in found.groups())
    assert memory >= 19 * 1024
    assert passes >= 2
    assert lanes == 1


def test_the_same_pin_is_kept_differently_each_time_and_under_each_key() -> None:
    pins = Pins(KEY, memory_kib=CHEAP_KIB)
    one, two = pins.kept("60418275"), pins.kept("60418275")
    assert one != two
    assert pins.matches(one, "60418275")
    assert not pins.matches(one, "60418276")
    assert not Pins(bytes(32), memory_kib=CHEAP_KIB).matches(one, "60418275"), "without the key nothing can be tried"
    assert not pins.matches("no hash at all", "60418275")
    assert not pins.matches(None, "nobody has this PIN")


def test_where_no_pin_is_kept_none_is_right(monkeypatch: pytest.MonkeyPatch) -> None:
    """Not even the one that is compared in its place."""
    pins = Pins(KEY, memory_kib=CHEAP_KIB)
    monkeypatch.setattr(pins, "_keyed", lambda _: b"nobody has this PIN")
    assert not pins.matches(None, "60418275")


def test_a_hash_with_other_parameters_is_renewed_at_the_next_sign_in() -> None:
    cheap = Pins(KEY, memory_kib=CHEAP_KIB)
    assert Pins(KEY, memory_kib=2 * CHEAP_KIB).outdated(cheap.kept("60418275"))
    assert not cheap.outdated(cheap.kept("60418275"))


def test_two_are_hashed_at_a_time(monkeypatch: pytest.MonkeyPatch) -> None:
    pins = Pins(KEY, memory_kib=CHEAP_KIB)
    inside, most, lock = 0, 0, threading.Lock()
    met = threading.Barrier(TOGETHER)

    def keyed(_: str) -> bytes:
        nonlocal inside, most
        with lock:
            inside += 1
            most = max(most, inside)
        met.wait(timeout=10)
        with lock:
            inside -= 1
        return b"k"

    monkeypatch.setattr(pins, "_keyed", keyed)
    threads = [threading.Thread(target=pins.kept, args=("60418275",)) for _ in range(2 * TOGETHER)]
    for one in threads:
        one.start()
    for one in threads:
        one.join(timeout=20)
    assert most == TOGETHER
