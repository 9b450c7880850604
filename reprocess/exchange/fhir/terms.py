"""The data types of FHIR that every resource is made of, as JSON values; numbers stay decimal.

Sources: HL7 FHIR R5 (5.0.0), pages "datatypes", "references", "extension-data-absent-reason"; units are UCUM
(https://ucum.org), identifiers of single assets are GS1 Digital Link addresses (GS1 Digital Link Standard, URI Syntax).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any, Final

import orjson

from reprocess.terms import as_text

Json = dict[str, Any]

DATA_ABSENT: Final = "http://hl7.org/fhir/StructureDefinition/data-absent-reason"
DATA_ABSENT_CODES: Final = "http://terminology.hl7.org/CodeSystem/data-absent-reason"
AVAILABILITY: Final = "http://hl7.org/fhir/device-availability-status"
SEVERITY: Final = "http://hl7.org/fhir/issue-severity"
UCUM: Final = "http://unitsofmeasure.org"
GIAI: Final = "https://id.gs1.org/8004"
"""Where the ids of individual assets are told apart: application identifier (8004), GIAI."""
_GIAI: Final = re.compile(r"[0-9]{7}[0-9A-Z-]{1,23}")
_OF_A_MODEL: Final = re.compile(r"[0-9]{14}-.+")
"""What `scan.asset` calls a part by its model (a GTIN) and its serial number: no GIAI."""
_ID: Final = re.compile(r"[A-Za-z0-9.-]{1,64}")
NUMBER_MAX: Final = 30
"""Most characters of a number that is sent as one (our choice; FHIR asks for 18 digits)."""


@dataclass(frozen=True, slots=True)
class Seeing:
    """Is what the caller may see: wearers by pseudonym, or masked."""

    wearers: bool = False


@dataclass(frozen=True, slots=True)
class Made:
    """Is one resource and the entry of the record that last changed it."""

    feed: int
    resource: Json


def as_json(value: Any) -> bytes:
    """Returns a resource as JSON, each decimal number exactly as it stands on record."""
    return orjson.dumps(value, default=_number_as_it_stands)


def _number_as_it_stands(value: object) -> orjson.Fragment:
    if isinstance(value, Decimal):
        return orjson.Fragment(format(value, "f").encode())
    raise TypeError(value)


def ours(name: str) -> str:
    """Returns the address of one of our own systems or extensions."""
    return f"urn:reprocess:{name}"


def is_id(text: str) -> bool:
    """Tells whether a text can be the id of a resource (page "datatypes", `id`)."""
    return _ID.fullmatch(text) is not None


def concept(system: str, code: str, text: str | None = None) -> Json:
    """Returns a CodeableConcept of one of our own systems."""
    return {"coding": [{"system": ours(system), "code": code}], **({} if text is None else {"text": text})}


def identifier(item: str) -> Json:
    """Returns the identifier of an item: of GS1 where its id is an individual asset's, else our own."""
    if is_giai(item):
        return {"system": GIAI, "value": item}
    return {"system": ours("item"), "value": item}


def is_giai(item: str) -> bool:
    """Tells whether an id is that of an individual asset (GIAI): it begins with seven digits of a company's prefix.

    Seven is what `scan.asset` takes for the least; no other ids of ours begin so.
    """
    return _GIAI.fullmatch(item) is not None and _OF_A_MODEL.fullmatch(item) is None


def of(kind: str, name: str) -> Json:
    """Returns a reference to a resource that is served here."""
    return {"reference": f"{kind}/{name}", "type": kind}


def named(kind: str, system: str, name: str) -> Json:
    """Returns a logical reference: to what is not served here, by its id (page "references", 2.1.3.0.3)."""
    return {"type": kind, "identifier": {"system": ours(system), "value": name}}


def absent(why: str) -> Json:
    """Returns what stands in the place of a value that is not told, with the reason."""
    return {"extension": [{"url": DATA_ABSENT, "valueCode": why}]}


def staff(person: str) -> Json:
    """Returns a reference to somebody who works here, by id; names never go out."""
    return named("Practitioner", "person", person)


def wearer(seeing: Seeing, pseudonym: str | None) -> Json:
    """Returns a reference to a wearer by pseudonym; masked where the caller may not see it, unknown where nobody is."""
    if not seeing.wearers:
        return absent("masked")
    return absent("unknown") if pseudonym is None else named("Practitioner", "wearer", pseudonym)


def meta(number: int, at_us: int) -> Json:
    """Returns the version and the instant of the latest change."""
    return {"versionId": str(number), "lastUpdated": as_text(at_us)}


def uuid(entry_id: str) -> Json:
    """Returns the id of an entry as an identifier."""
    return {"system": "urn:ietf:rfc:3986", "value": f"urn:uuid:{entry_id}"}


def extension(name: str, **value: Any) -> Json:
    """Returns one extension of our own, such as `extension("evidence", valueCode="measured")`."""
    return {"url": ours(name), **value}


_UNITS: Final[Mapping[str, tuple[str, str]]] = {
    "l_per_min": ("L/min", "L/min"),
    "percent": ("%", "percent"),
    "a0_s": ("s", "s"),
    "mah": ("mA.h", "mAh"),
    "rlu": ("{RLU}", "RLU"),
    "ppm": ("[ppm]", "ppm"),
    "kpa": ("kPa", "kPa"),
    "min": ("min", "min"),
    "ml": ("mL", "mL"),
    "mm": ("mm", "mm"),
    "pa": ("Pa", "Pa"),
    "c": ("Cel", "degC"),
    "h": ("h", "h"),
    "l": ("L", "L"),
    "s": ("s", "s"),
    "v": ("V", "V"),
}
"""How the keys of readings end, the UCUM code of that unit and how it is shown."""
_OF_WORDS: Final = {shown.lower(): (code, shown) for code, shown in _UNITS.values()}


def unit_of(key: str) -> tuple[str, str] | None:
    """Returns (UCUM code, shown unit) of a reading by the end of its key; None where no unit is known."""
    ends = (one for one in _UNITS if key == one or key.endswith(f"_{one}"))
    return next((_UNITS[one] for one in ends), None)


def unit_named(word: str | None) -> tuple[str, str] | None:
    """Returns (UCUM code, shown unit) of a unit as our files write it; None where it is not known."""
    return None if word is None else _OF_WORDS.get(word.lower())


def number_of(text: str) -> Decimal | None:
    """Returns decimal text as a number, or None where it is none."""
    try:
        value = Decimal(text) if len(text) <= NUMBER_MAX else None
    except InvalidOperation:
        return None
    return value if value is not None and value.is_finite() else None


def quantity(text: str, unit: tuple[str, str] | None) -> Json | None:
    """Returns a Quantity, or None where the text is no number."""
    value = number_of(text)
    if value is None:
        return None
    return {"value": value, **({} if unit is None else {"unit": unit[1], "system": UCUM, "code": unit[0]})}
