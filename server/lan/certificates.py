"""A private certificate authority, made once, and a certificate for this machine's names and addresses, renewed as they change (RFC 5280). Files only; knows no server.

The authority may sign for local names and private addresses alone (name constraints, RFC 5280 4.2.1.10), so that whoever gets hold of its key cannot pose as anybody else.
"""

import hashlib
import ipaddress
import os
import re
import ssl
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from server.errors import Refused, Unavailable

AUTHORITY_YEARS = 10
LEAF_DAYS = 397  # iPadOS takes no more than 825, browsers advise 398
RENEW_BEFORE_DAYS = 60
LOCAL_NAMES = ("local", "home.arpa", "localhost")
PRIVATE_RANGES = ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8", "fc00::/7", "fe80::/10", "::1/128")
A_LITTLE = timedelta(hours=26)  # a tablet's clock may be a day behind


@dataclass(frozen=True)
class Files:
    """Where the authority and the certificate lie."""

    folder: Path

    @property
    def authority(self) -> Path:
        return self.folder / "authority.pem"

    @property
    def authority_key(self) -> Path:
        return self.folder / "authority.key"

    @property
    def certificate(self) -> Path:
        return self.folder / "server.pem"

    @property
    def key(self) -> Path:
        return self.folder / "server.key"


def _write(path: Path, data: bytes, mode: int = 0o644) -> None:
    """Whole or not at all; a key is never readable for others, not even for a moment."""
    part = path.with_name(f".{path.name}.part")
    part.unlink(missing_ok=True)
    with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode), "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    os.replace(part, path)


def _pem_of(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())


def may_be_signed(address: str) -> bool:
    """Whether the authority may sign for an address: a private one."""
    return any(ipaddress.ip_address(address) in ipaddress.ip_network(text) for text in PRIVATE_RANGES)


def is_host(name: str) -> bool:
    """Whether a name is one that a machine can have (RFC 1123 2.1), and no number."""
    labels = name.split(".")
    return all(re.fullmatch(r"[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?", label) for label in labels) and not labels[-1].isdigit()


def is_local(name: str) -> bool:
    """Whether an authority with limits may sign for a host name."""
    return is_host(name) and (name == "localhost" or name.endswith(tuple(f".{one}" for one in LOCAL_NAMES)))


def covers(held: list[str], name: str) -> bool:
    """Whether a certificate for these names is one for that host: a star stands for one label (RFC 9525 6.3)."""
    return name in held or f"*.{name.partition('.')[2]}" in held


def _limits() -> x509.NameConstraints:
    names: list[x509.GeneralName] = [x509.DNSName(name) for name in LOCAL_NAMES]
    return x509.NameConstraints([*names, *(x509.IPAddress(ipaddress.ip_network(text)) for text in PRIVATE_RANGES)], None)


def _begun(subject: x509.Name, issuer: x509.Name, key, now: datetime, days: int) -> x509.CertificateBuilder:
    builder = x509.CertificateBuilder().subject_name(subject).issuer_name(issuer).public_key(key.public_key()).serial_number(x509.random_serial_number())
    builder = builder.not_valid_before(now - A_LITTLE).not_valid_after(now - A_LITTLE + timedelta(days=days))
    return builder.add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)


def _usage(signs: bool) -> x509.KeyUsage:
    return x509.KeyUsage(not signs, False, False, False, False, signs, signs, False, False)


def make_authority(machine: str, now: datetime, limited: bool = True) -> tuple[bytes, bytes]:
    """(certificate, key) as PEM. limited: sign for local names and private addresses alone."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"Isokom on {machine}"[:64]), x509.NameAttribute(NameOID.ORGANIZATIONAL_UNIT_NAME, f"made {now:%Y-%m-%d}")])
    builder = _begun(name, name, key, now, 365 * AUTHORITY_YEARS).add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True).add_extension(_usage(signs=True), critical=True)
    if limited:
        builder = builder.add_extension(_limits(), critical=True)
    return builder.sign(key, hashes.SHA256()).public_bytes(serialization.Encoding.PEM), _pem_of(key)


def _alternatives(names: list[str]) -> list[x509.GeneralName]:
    """Names and addresses as a certificate holds them."""
    found: list[x509.GeneralName] = []
    for name in names:
        try:
            found.append(x509.IPAddress(ipaddress.ip_address(name)))
        except ValueError:
            found.append(x509.DNSName(name))
    return found


def make_certificate(authority_pem: bytes, authority_key_pem: bytes, names: list[str], now: datetime) -> tuple[bytes, bytes]:
    """(certificate, key) as PEM for these host names and addresses, signed by the authority."""
    authority, signer = x509.load_pem_x509_certificate(authority_pem), serialization.load_pem_private_key(authority_key_pem, None)
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, names[0][:64])])
    days = min(LEAF_DAYS, (authority.not_valid_after_utc - now + A_LITTLE).days)
    builder = _begun(subject, authority.subject, key, now, days).add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True).add_extension(_usage(signs=False), critical=True)
    builder = builder.add_extension(x509.SubjectAlternativeName(_alternatives(names)), critical=False).add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
    builder = builder.add_extension(x509.AuthorityKeyIdentifier.from_issuer_subject_key_identifier(authority.extensions.get_extension_for_class(x509.SubjectKeyIdentifier).value), critical=False)
    return builder.sign(signer, hashes.SHA256()).public_bytes(serialization.Encoding.PEM), _pem_of(key)


def names_in(certificate: x509.Certificate) -> list[str]:
    """Host names and addresses that a certificate is for."""
    try:
        held = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except x509.ExtensionNotFound:
        return []
    return [*(one.lower() for one in held.get_values_for_type(x509.DNSName)), *(str(one) for one in held.get_values_for_type(x509.IPAddress))]


def _is_good(files: Files, names: list[str], now: datetime) -> bool:
    """Whether the certificate that lies there is from this authority, for these names, and long enough to come."""
    try:
        authority = x509.load_pem_x509_certificate(files.authority.read_bytes())
        found = x509.load_pem_x509_certificate(files.certificate.read_bytes())
        key = serialization.load_pem_private_key(files.key.read_bytes(), None)
        found.verify_directly_issued_by(authority)
    except (OSError, ValueError, TypeError, InvalidSignature):
        return False
    ends_late = found.not_valid_after_utc - now > timedelta(days=RENEW_BEFORE_DAYS) or found.not_valid_after_utc >= authority.not_valid_after_utc - timedelta(days=1)
    return ends_late and found.not_valid_before_utc <= now and set(names) <= set(names_in(found)) and key.public_key() == found.public_key()


def prepare(folder: Path, machine: str, names: list[str], now: datetime | None = None, limited: bool = True) -> Files:
    """The authority, made where there is none, and a certificate that is good for these names and addresses, renewed where it is not. The authority is never made anew by itself: every tablet trusts this one.

    raises Unavailable where the folder cannot be written, or the authority's time is over.
    """
    now, files = now or datetime.now(UTC), Files(folder)
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if not files.authority.exists() or not files.authority_key.exists():
            certificate, key = make_authority(machine, now, limited)
            _write(files.authority_key, key, 0o600)
            _write(files.authority, certificate)
        if x509.load_pem_x509_certificate(files.authority.read_bytes()).not_valid_after_utc <= now:
            raise Unavailable(f"The authority in {folder} is older than {AUTHORITY_YEARS} years and no longer counts. Move that folder away, start again, and let every tablet trust the new one.")
        if not _is_good(files, names, now):
            certificate, key = make_certificate(files.authority.read_bytes(), files.authority_key.read_bytes(), names, now)
            _write(files.key, key, 0o600)
            _write(files.certificate, certificate)
    except OSError as error:
        raise Unavailable(f"The certificates in {folder} cannot be kept ({error.strerror}). Without them tablets have no secure address.") from error
    except ValueError as error:
        raise Unavailable(f"What lies in {folder} is no certificate that can be read. Move that folder away and start again; every tablet then has to trust the new one.") from error
    return files


def fingerprint(authority_pem: bytes) -> str:
    """SHA-256 of the authority's certificate (DER), hex."""
    return hashlib.sha256(der(authority_pem)).hexdigest()


def der(pem: bytes) -> bytes:
    """A certificate as tablets take it in."""
    return x509.load_pem_x509_certificate(pem).public_bytes(serialization.Encoding.DER)


def is_limited(pem: bytes) -> bool:
    """Whether an authority may sign for local names and private addresses alone."""
    try:
        x509.load_pem_x509_certificate(pem).extensions.get_extension_for_class(x509.NameConstraints)
    except x509.ExtensionNotFound:
        return False
    return True


def ends(pem: bytes) -> datetime:
    """When a certificate's time is over."""
    return x509.load_pem_x509_certificate(pem).not_valid_after_utc


def own_files(certificate: Path, key: Path, now: datetime | None = None) -> list[str]:
    """Names in a certificate of somebody's own, after a look at it. Raises Refused with one sentence."""
    for path in (certificate, key):
        if not path.is_file():
            raise Refused(f"{path} is no file. Name the certificate (PEM, with its chain) and its private key.")
    try:
        found = x509.load_pem_x509_certificate(certificate.read_bytes())
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(certificate, key, password=lambda: "")
    except (ValueError, ssl.SSLError, OSError):
        raise Refused(f"{certificate} and {key} are not a certificate in PEM and its private key without a password.") from None
    now = now or datetime.now(UTC)
    if found.not_valid_before_utc > now:
        raise Refused(f"The certificate {certificate} counts from {found.not_valid_before_utc:%d %B %Y} on. Use one that counts today, or put this machine's clock right.")
    if found.not_valid_after_utc <= now:
        raise Refused(f"The certificate {certificate} ended on {found.not_valid_after_utc:%d %B %Y}. Renew it first.")
    names = names_in(found)
    if not names:
        raise Refused(f"The certificate {certificate} names no host that a browser would accept.")
    return names
