"""The farm's own authority (CA) and the broker's certificate: how a board knows that it speaks to the farm.

Both are P-256 keys, valid from 1970 to 2070, since a board without a clock checks them with whatever time it
has. The authority is made once and stands on every board's card; the broker's certificate is made anew by the
same authority whenever the computer gets another name or address.
"""

from __future__ import annotations

import ipaddress
import socket
import struct
from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from monitor.errors import Phrase, UsageError, sentence
from monitor.settings.writing import NewFile, give_to_owner

BROKER_NAME = "rearing-broker"
"""The broker's certificate always bears this name; a board asks for it whatever address it reached."""
FIRST, LAST = datetime(1970, 1, 1, tzinfo=UTC), datetime(2070, 1, 1, tzinfo=UTC)
CA, CA_KEY, SERVER, SERVER_KEY = "ca.pem", "ca.key", "server.pem", "server.key"
SOON = timedelta(days=30)
"""Own choice: a certificate that ends sooner is made anew."""
OWNER_ONLY, FOLDER_OF_OWNER, FOR_ALL = 0o600, 0o700, 0o644
LONGEST_COMMON_NAME = 64  # RFC 5280, upper bound of a common name
_ASK_FOR_ADDRESS = 0x8915  # SIOCGIFADDR, see netdevice(7)
_NOT_OF_THE_FARM = ("lo", "docker", "veth", "br-", "virbr", "lxc")

PrivateKey = ec.EllipticCurvePrivateKey


@dataclass(frozen=True, slots=True)
class Authority:
    """The certificate of the farm's authority and its private key."""

    certificate: x509.Certificate
    key: PrivateKey


def own_names() -> tuple[str, ...]:
    """Names and addresses under which boards find this computer, found without asking anybody."""
    name = socket.gethostname().partition(".")[0].lower()
    names = [f"{name}.local", name] if is_usable(name) and name != "localhost" else []
    return tuple(dict.fromkeys([*names, *own_addresses()]))


def own_addresses() -> tuple[str, ...]:
    """The IPv4 addresses of this computer in the networks that it stands in."""
    return tuple(dict.fromkeys(_addresses()))


def _addresses() -> Iterator[str]:
    try:
        import fcntl
    except ImportError:  # Elsewhere than on Linux they are given by option.
        return
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        for _, interface in socket.if_nameindex():
            if interface.startswith(_NOT_OF_THE_FARM):
                continue
            with suppress(OSError):
                request = struct.pack("256s", interface.encode()[:15])
                address = socket.inet_ntoa(fcntl.ioctl(asked, _ASK_FOR_ADDRESS, request)[20:24])
                if not ipaddress.ip_address(address).is_loopback:
                    yield address


def all_names(names: Iterable[str]) -> tuple[str, ...]:
    """What the broker's certificate bears: the names given, `rearing-broker`, and this computer itself."""
    usable = [name.strip().lower().rstrip(".") for name in names]
    for name in usable:
        if not is_usable(name):
            raise UsageError(
                '"{name}" is no name or address of a computer; allowed: such as farm-pc.local or '
                "192.168.1.20",
                name=name,
            )
    return tuple(dict.fromkeys([BROKER_NAME, *usable, "localhost", "127.0.0.1"]))


def is_usable(name: str) -> bool:
    """Whether a certificate can bear it: an address, or a name of the DNS in lower case."""
    letters = set("abcdefghijklmnopqrstuvwxyz0123456789-_")
    labels = name.split(".")
    is_name = len(name) < 254 and all(0 < len(label) < 64 and not set(label) - letters for label in labels)
    return is_name or _address(name) is not None


def _address(name: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    try:
        return ipaddress.ip_address(name)
    except ValueError:
        return None


def make_authority(site: str) -> Authority:
    """A new authority; every card that was made by another one is void with it."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = _name(f"rearing CA {site}"[:LONGEST_COMMON_NAME])
    usage = x509.KeyUsage(False, False, False, False, False, True, True, False, False)
    builder = _builder(name, name, key.public_key())
    builder = builder.add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
    builder = builder.add_extension(usage, critical=True)
    own = x509.SubjectKeyIdentifier.from_public_key(key.public_key())
    return Authority(builder.add_extension(own, critical=False).sign(key, hashes.SHA256()), key)


def make_server(authority: Authority, names: Sequence[str]) -> tuple[x509.Certificate, PrivateKey]:
    """A certificate for the broker under these names, signed by the authority, and its key."""
    key = ec.generate_private_key(ec.SECP256R1())
    builder = _builder(_name(BROKER_NAME), authority.certificate.subject, key.public_key())
    usage = x509.KeyUsage(True, False, False, False, False, False, False, False, False)
    signer = x509.AuthorityKeyIdentifier.from_issuer_public_key(authority.key.public_key())
    extensions: list[tuple[x509.ExtensionType, bool]] = [
        (x509.BasicConstraints(ca=False, path_length=None), True),
        (usage, True),
        (x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), False),
        (x509.SubjectAlternativeName([_general_name(name) for name in names]), False),
        (signer, False),
    ]
    for extension, critical in extensions:
        builder = builder.add_extension(extension, critical=critical)
    return builder.sign(authority.key, hashes.SHA256()), key


def _general_name(name: str) -> x509.GeneralName:
    address = _address(name)
    return x509.DNSName(name) if address is None else x509.IPAddress(address)


def _name(common: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, common)])


def _builder(
    subject: x509.Name, issuer: x509.Name, key: ec.EllipticCurvePublicKey
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key)
        .serial_number(x509.random_serial_number())
        .not_valid_before(FIRST)
        .not_valid_after(LAST)
    )


# What lies in the folder.


@dataclass(frozen=True, slots=True)
class Keys:
    """The authority, the broker's names, and the files that are new."""

    authority: Authority
    names: tuple[str, ...]
    new_authority: bool
    files: list[NewFile]


def planned(folder: Path, site: str, names: Iterable[str], now: datetime, *, new: bool = False) -> Keys:
    """The authority and the broker's certificate for these names; what is missing or does not fit is new.

    Nothing is written yet: `files` are to be. An authority that cannot be used is refused with the way to
    mend it: only `new` replaces it, since every board needs another card then.
    """
    wanted = all_names(names)
    known = None if new else load_authority(folder, now)
    authority = known or make_authority(site)
    files = [] if known else _authority_files(folder, authority)
    if known is None or not server_fits(folder, authority, wanted, now):
        files += server_files(folder, authority, wanted)
    return Keys(authority, wanted, known is None, files)


def make_folder(folder: Path) -> None:
    """A folder that its owner alone may look into."""
    if not folder.is_dir():
        folder.mkdir(parents=True)
        give_to_owner(folder, folder.parent)
    folder.chmod(FOLDER_OF_OWNER)


def _authority_files(folder: Path, authority: Authority) -> list[NewFile]:
    return [
        NewFile(folder / CA_KEY, _pem_of_key(authority.key), OWNER_ONLY),
        NewFile(folder / CA, authority.certificate.public_bytes(serialization.Encoding.PEM), FOR_ALL),
    ]


def server_files(folder: Path, authority: Authority, names: Sequence[str]) -> list[NewFile]:
    """A new certificate for the broker with its key, to be written into a folder."""
    certificate, key = make_server(authority, names)
    return [
        NewFile(folder / SERVER_KEY, _pem_of_key(key), OWNER_ONLY),
        NewFile(folder / SERVER, certificate.public_bytes(serialization.Encoding.PEM), FOR_ALL),
    ]


def _pem_of_key(key: PrivateKey) -> bytes:
    return key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )


def load_authority(folder: Path, now: datetime) -> Authority | None:
    """The authority of this folder; None where there is none yet; UsageError where it cannot be used."""
    certificate_file, key_file = folder / CA, folder / CA_KEY
    missing = [path for path in (certificate_file, key_file) if not path.exists()]
    if len(missing) == 2:
        return None
    if missing:
        raise _unusable(missing[0], sentence("is missing beside the other half of the farm's CA"))
    certificate, key = _certificate(certificate_file), _key(key_file)
    if certificate.public_key() != key.public_key():
        raise _unusable(key_file, sentence("is not the key of {certificate}", certificate=certificate_file))
    _refuse_outside_its_time(certificate_file, certificate, now)
    return Authority(certificate, key)


def ca_certificate(folder: Path) -> x509.Certificate:
    """The certificate of the authority alone, for who only trusts it."""
    return _certificate(folder / CA)


def ca_pem(folder: Path) -> str:
    """The same as text."""
    return ca_certificate(folder).public_bytes(serialization.Encoding.PEM).decode()


def pem_of(authority: Authority) -> str:
    """The certificate of an authority as text."""
    return authority.certificate.public_bytes(serialization.Encoding.PEM).decode()


def _refuse_outside_its_time(path: Path, certificate: x509.Certificate, now: datetime) -> None:
    if certificate.not_valid_after_utc <= now:
        day = f"{certificate.not_valid_after_utc:%Y-%m-%d}"
        raise _unusable(path, sentence("has expired on {day}", day=day))
    if certificate.not_valid_before_utc > now:
        day = f"{certificate.not_valid_before_utc:%Y-%m-%d}"
        raise _unusable(path, sentence("holds only from {day} on", day=day))


def _unusable(path: Path, why: Phrase) -> UsageError:
    return UsageError(
        "{file} {why}; nothing was changed. To mend: put the right file back from a copy, or make a new CA "
        "with `rearing-monitor broker setup --new-ca`; then every board needs a new card",
        file=str(path),
        why=why,
    )


def _certificate(path: Path) -> x509.Certificate:
    try:
        return x509.load_pem_x509_certificate(path.read_bytes())
    except OSError as error:
        raise _unreadable(path, error) from None
    except ValueError:
        raise _unusable(path, sentence("is not a certificate")) from None


def _key(path: Path) -> PrivateKey:
    try:
        key = serialization.load_pem_private_key(path.read_bytes(), None)
    except OSError as error:
        raise _unreadable(path, error) from None
    except (ValueError, TypeError, UnsupportedAlgorithm):
        raise _unusable(path, sentence("is not a private key without a password")) from None
    if not isinstance(key, PrivateKey):
        raise _unusable(path, sentence("is not a P-256 key"))
    return key


def _unreadable(path: Path, error: OSError) -> UsageError:
    if isinstance(error, FileNotFoundError):
        return UsageError(
            "{file} is missing. To mend: put the folder {folder} back from its copy; without one, "
            "`rearing-monitor broker setup` makes it anew, and then every board needs a new card",
            file=str(path),
            folder=str(path.parent),
        )
    return UsageError(
        "{file} cannot be read: {why}. To mend: run this as the user who owns that file",
        file=str(path),
        why=error.strerror or str(error),
    )


def server_fits(folder: Path, authority: Authority, names: Iterable[str], now: datetime) -> bool:
    """Whether the broker's certificate is there with its key, ours, in its time, and bears all the names."""
    try:
        certificate, key = _certificate(folder / SERVER), _key(folder / SERVER_KEY)
        certificate.verify_directly_issued_by(authority.certificate)
    except (UsageError, InvalidSignature, ValueError, TypeError):
        return False
    in_time = certificate.not_valid_before_utc <= now < certificate.not_valid_after_utc - SOON
    return in_time and certificate.public_key() == key.public_key() and set(names) <= names_of(certificate)


def names_of(certificate: x509.Certificate) -> frozenset[str]:
    """The names and addresses that a certificate bears."""
    try:
        held = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except x509.ExtensionNotFound:
        return frozenset()
    addresses = map(str, held.get_values_for_type(x509.IPAddress))
    return frozenset([*held.get_values_for_type(x509.DNSName), *addresses])
