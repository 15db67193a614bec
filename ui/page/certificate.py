"""A certificate of our own, so that what a phone sends is encrypted.

Nobody vouches for it: the person compares its fingerprint once.
"""

from __future__ import annotations

import datetime as dt
import ipaddress
from typing import TYPE_CHECKING

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

if TYPE_CHECKING:
    from pathlib import Path

VALID_DAYS = 365
RENEW_DAYS = 14


def certificate_for(names: tuple[str, ...], keep: Path) -> tuple[Path, Path, str]:
    """Give a self-signed certificate for these names, an old one if it still serves.

    Parameters
    ----------
    names : tuple of str
        Addresses and names.
    keep : Path
        Folder that only its owner may read.

    Returns
    -------
    (Path, Path, str)
        Certificate, key, and the SHA-256 fingerprint in pairs.
    """
    certificate_path, key_path = keep / "certificate.pem", keep / "key.pem"
    found = _kept_certificate(certificate_path, key_path, names)
    if found is None:
        key = ec.generate_private_key(ec.SECP256R1())
        found = _signed(key, names)
        key_path.unlink(missing_ok=True)
        key_path.touch(mode=0o600)
        key_path.write_bytes(
            key.private_bytes(
                serialization.Encoding.PEM,
                serialization.PrivateFormat.PKCS8,
                serialization.NoEncryption(),
            )
        )
        pem = found.public_bytes(serialization.Encoding.PEM)
        certificate_path.write_bytes(pem)
    fingerprint = found.fingerprint(hashes.SHA256()).hex(":").upper()
    return certificate_path, key_path, fingerprint


def _signed(
    key: ec.EllipticCurvePrivateKey, names: tuple[str, ...]
) -> x509.Certificate:
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "dotward page")])
    now = dt.datetime.now(tz=dt.UTC)
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - dt.timedelta(days=1))
        .not_valid_after(now + dt.timedelta(days=VALID_DAYS))
        .add_extension(
            x509.SubjectAlternativeName([_general(name) for name in names]),
            critical=False,
        )
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(
            x509.ExtendedKeyUsage([x509.oid.ExtendedKeyUsageOID.SERVER_AUTH]),
            critical=False,
        )
        .sign(key, hashes.SHA256())
    )


def _kept_certificate(
    path: Path, key_path: Path, names: tuple[str, ...]
) -> x509.Certificate | None:
    try:
        found = x509.load_pem_x509_certificate(path.read_bytes())
        serialization.load_pem_private_key(key_path.read_bytes(), None)
        extension = found.extensions.get_extension_for_class(
            x509.SubjectAlternativeName
        )
    except (OSError, ValueError, x509.ExtensionNotFound):
        return None
    now = dt.datetime.now(tz=dt.UTC)
    soon = now + dt.timedelta(days=RENEW_DAYS)
    known = set(extension.value)
    if found.not_valid_after_utc < soon or not {_general(n) for n in names} <= known:
        return None
    return found


def _general(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name)
