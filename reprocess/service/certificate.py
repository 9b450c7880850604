"""A certificate of our own for a node that nobody else certifies; stations pin its fingerprint."""

from __future__ import annotations

import ipaddress
import os
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from reprocess.errors import LedgerError, WrongUseError

DAYS: Final = 397
"""The longest life that browsers take of a public certificate (CA/Browser Forum, Baseline Requirements 6.3.2, 2020,
from memory)."""
RENEW_DAYS: Final = 30
NAMES_MOST: Final = 60


@dataclass(frozen=True, slots=True)
class Made:
    """Is a certificate with its key, as files, and the SHA-256 of it in pairs of hexadecimal digits."""

    certificate: Path
    key: Path
    fingerprint: str


def beside(path: Path, names: Iterable[str], at_s: int) -> Made:
    """Returns the certificate that lies beside a department, made anew where there is none or it soon runs out.

    Args:
        path: the department's file.
        names: host names and addresses that it is for.
        at_s: now, in seconds since 1970 by the computer's own clock.

    Raises:
        WrongUseError: what lies there is no certificate.
        LedgerError: it cannot be written.
    """
    certificate, key = path.with_name(f"{path.name}.certificate.pem"), path.with_name(f"{path.name}.certificate.key")
    now = datetime.fromtimestamp(at_s, UTC)
    try:
        found = x509.load_pem_x509_certificate(certificate.read_bytes()) if certificate.exists() else None
        if found is None or not key.exists() or found.not_valid_after_utc < now + timedelta(days=RENEW_DAYS):
            found = _made(certificate, key, sorted(set(names))[:NAMES_MOST], now)
    except OSError as fault:
        message = f"{certificate.name} cannot be made: {fault.strerror}."
        raise LedgerError(message) from fault
    except ValueError as fault:
        message = f"{certificate.name} is no certificate; remove it, then one is made."
        raise WrongUseError(message) from fault
    return Made(certificate, key, found.fingerprint(hashes.SHA256()).hex(":").upper())


def _made(certificate: Path, key: Path, names: list[str], now: datetime) -> x509.Certificate:
    secret = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "reprocess node")])
    usage = x509.KeyUsage(
        digital_signature=True,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=False,
        crl_sign=False,
        encipher_only=False,
        decipher_only=False,
    )
    made = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(secret.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(hours=1))
        .not_valid_after(now + timedelta(days=DAYS))
        .add_extension(x509.SubjectAlternativeName([_general(one) for one in names]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(secret, hashes.SHA256())
    )
    private = secret.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    _write(key, private)
    _write(certificate, made.public_bytes(serialization.Encoding.PEM))
    return made


def _general(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name)


def _write(place: Path, content: bytes) -> None:
    """Writes a file that only its owner reads, whole or not at all."""
    aside = place.with_name(place.name + ".aside")
    aside.unlink(missing_ok=True)
    with os.fdopen(os.open(aside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    aside.replace(place)
