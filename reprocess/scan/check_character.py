"""The check character that our printed codes end in.

Source: ISO/IEC 7064:2003, MOD 37,36: a hybrid system that puts one of the same 36 characters after
a string of digits and capital letters. It notices every single wrong character.
"""

from string import ascii_uppercase, digits

ALPHABET = digits + ascii_uppercase
"""0 to 9, then A to Z: a character's place is its value."""

_MODULUS = len(ALPHABET)


def check_character(payload: str) -> str:
    """Returns the character that ISO/IEC 7064 MOD 37,36 puts after the payload.

    Raises:
        ValueError: the payload holds something else than 0 to 9 and A to Z.
    """
    product = _MODULUS
    for character in payload:
        total = (product + ALPHABET.index(character)) % _MODULUS or _MODULUS
        product = total * 2 % (_MODULUS + 1)
    return ALPHABET[(_MODULUS + 1 - product) % _MODULUS]
