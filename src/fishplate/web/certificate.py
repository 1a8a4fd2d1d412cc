"""The certificate of a build that is shared on the home network: made on the spot, kept by the user alone, renewed.

No authority vouches for it. A person compares its fingerprint with the one shown on the machine that serves.
"""

from __future__ import annotations

import ipaddress
import os
import secrets
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from ..store.devices import own_folder

# A year: some browsers refuse certificates that last more than 825 days, whoever vouches for them
# (requirements for trusted certificates of a maker of telephones, 2019; from memory).
LASTS: Final = timedelta(days=365)
RENEWED: Final = timedelta(days=60)
FILE: Final = "share-certificate.pem"


@dataclass(frozen=True, slots=True)
class Certificate:
    """A certificate with its key, in one file.

    Parameters
    ----------
    fingerprint : SHA-256 of the certificate as browsers show it
    until : when it ends, in UTC; names : addresses and host names it stands for
    """

    path: Path
    fingerprint: str
    until: datetime
    names: frozenset[str]


def kept_certificate(folder: Path, names: Iterable[str], *, now: datetime | None = None) -> Certificate:
    """The certificate in a folder; a new one if there is none, if it ends soon, or if it stands for other names.

    Parameters
    ----------
    folder : the user's own; made if it is not there, raises Refused if it can't be
    names : addresses and host names
    """
    now, wanted = now or datetime.now(UTC), frozenset(names)
    path = own_folder(folder) / FILE
    held = _read(path)
    if held is None or held.until - now < RENEWED or held.names != wanted:
        _write(path, _made(sorted(wanted), now))
        held = _read(path)
        assert held is not None
    return held


def _read(path: Path) -> Certificate | None:
    try:
        content = path.read_bytes()
        serialization.load_pem_private_key(content, None)
        found = x509.load_pem_x509_certificate(content)
        names = found.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (OSError, ValueError, x509.ExtensionNotFound):
        return None  # not there, or damaged: a new one takes its place
    path.chmod(0o600)
    held = frozenset(str(name.value) for name in names)
    return Certificate(path, found.fingerprint(hashes.SHA256()).hex(":").upper(), found.not_valid_after_utc, held)


def _made(names: list[str], now: datetime) -> bytes:
    """A key on the curve P-256 and a certificate signed with it, as PEM (RFC 5280, RFC 7468)."""
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Fishplate at home")])
    usage = x509.KeyUsage(
        digital_signature=True, content_commitment=False, key_encipherment=False, data_encipherment=False,
        key_agreement=False, key_cert_sign=False, crl_sign=False, encipher_only=False, decipher_only=False,
    )  # fmt: skip
    certificate = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))  # clocks of devices are not all right
        .not_valid_after(now + LASTS)
        .add_extension(x509.SubjectAlternativeName([_general(name) for name in names]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(key, hashes.SHA256())
    )
    private = key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    return private + certificate.public_bytes(serialization.Encoding.PEM)


def _general(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name)


def _write(path: Path, content: bytes) -> None:
    """Put a file in place whole, at no moment readable by others."""
    part = path.with_name(f".{secrets.token_hex(8)}.part")
    with os.fdopen(os.open(part, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    part.replace(path)
