"""A certificate for the loopback address, made for one test run: some engines keep no secure cookie without HTTPS."""

from __future__ import annotations

import ipaddress
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

LOOPBACK = "127.0.0.1"


def write_certificate(folder: Path) -> tuple[Path, Path]:
    """A self-signed certificate and its key, valid for a day; gives the two files."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, LOOPBACK)])
    alternative = x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address(LOOPBACK))])
    begins = datetime.now(UTC) - timedelta(hours=1)
    made = x509.CertificateBuilder().subject_name(name).issuer_name(name).public_key(key.public_key())
    made = made.serial_number(x509.random_serial_number()).add_extension(alternative, critical=False)
    made = made.not_valid_before(begins).not_valid_after(begins + timedelta(days=1))
    files = folder / "certificate.pem", folder / "certificate-key.pem"
    files[0].write_bytes(made.sign(key, hashes.SHA256()).public_bytes(serialization.Encoding.PEM))
    plain = serialization.NoEncryption()
    files[1].write_bytes(key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, plain))
    files[1].chmod(0o600)
    return files
