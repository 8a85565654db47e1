"""How phones reach the page: the ways to choose from, the certificate of the page, what each way writes.

The page's certificate is made by the farm's own CA, which signs the broker's too. It does not last as long as
that one: Apple's devices take none that is valid for more than 825 days (support.apple.com/103769, seen in
2026; not tried on such a phone). So it is made anew, by itself, at a start of the service.
"""

from __future__ import annotations

import ipaddress
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from enum import StrEnum
from pathlib import Path
from urllib.parse import urlsplit

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from monitor.boards import certificates
from monitor.errors import Sentence, UsageError, one_a_line, sentence
from monitor.page.accounts import fingerprint
from monitor.page.security import first_password
from monitor.settings.loading import FarmFile
from monitor.settings.schema import Settings
from monitor.settings.writing import NewFile, free_name, set_in_table, write_all

CERTIFICATE, KEY = "page.pem", "page.key"
PASSWORD_FILE = Path("secrets") / "page-password"
ALL, LOOPBACK = "0.0.0.0", "127.0.0.1"
HTTPS_PORT = 8443
"""Own choice; often taken for HTTPS where port 443 is for root alone."""
VALID = timedelta(days=800)
"""Own choice, below the 825 days of Apple."""
RENEW = timedelta(days=400)
"""Own choice: with fewer left the certificate is made anew."""
BEFORE = timedelta(days=1)
"""So much earlier it begins to be valid, for phones whose clock is behind. Own choice."""


class Way(StrEnum):
    """How phones reach the page."""

    PLAIN = "plain"
    HTTPS = "https"
    PROXY = "proxy"


# The certificate.


def names_for(settings: Settings, given: Sequence[str] = ()) -> tuple[str, ...]:
    """What the certificate of the page bears: the names given, else of the settings; and this computer's."""
    named = given or settings.page.https_names or settings.broker.boards_hosts
    bears = certificates.all_names([*named, *certificates.own_names()])
    return tuple(name for name in bears if name != certificates.BROKER_NAME)


def make_certificate(
    authority: certificates.Authority, names: Sequence[str], now: datetime
) -> tuple[x509.Certificate, ec.EllipticCurvePrivateKey]:
    """A certificate of the page under these names, signed by the farm's CA, and its key."""
    key = ec.generate_private_key(ec.SECP256R1())
    usage = x509.KeyUsage(True, False, False, False, False, False, False, False, False)
    signer = x509.AuthorityKeyIdentifier.from_issuer_public_key(authority.key.public_key())
    builder = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, names[0][:64])]))
        .issuer_name(authority.certificate.subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - BEFORE)
        .not_valid_after(now - BEFORE + VALID)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName([_in_certificate(name) for name in names]), critical=False)
        .add_extension(signer, critical=False)
    )
    return builder.sign(authority.key, hashes.SHA256()), key


def _in_certificate(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name)


def certificate_files(
    folder: Path, authority: certificates.Authority, names: Sequence[str], now: datetime
) -> list[NewFile]:
    """A new certificate of the page with its key, to be written."""
    certificate, key = make_certificate(authority, names, now)
    text = key.private_bytes(Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    return [
        NewFile(folder / KEY, text, certificates.OWNER_ONLY),
        NewFile(
            folder / CERTIFICATE,
            certificate.public_bytes(Encoding.PEM),
            certificates.FOR_ALL,
        ),
    ]


def fits(folder: Path, names: Sequence[str], now: datetime) -> bool:
    """Whether the page's certificate is there with its key, of this CA, long enough, under all the names."""
    try:
        certificate = x509.load_pem_x509_certificate((folder / CERTIFICATE).read_bytes())
        key = serialization.load_pem_private_key((folder / KEY).read_bytes(), None)
        certificate.verify_directly_issued_by(certificates.ca_certificate(folder))
    except (OSError, ValueError, TypeError, InvalidSignature, UsageError):
        return False
    in_time = certificate.not_valid_before_utc <= now < certificate.not_valid_after_utc - RENEW
    bears = set(names) <= certificates.names_of(certificate)
    return in_time and bears and certificate.public_key() == key.public_key()


def renewed(settings: Settings, now: datetime) -> tuple[Path, Path]:
    """The files of the certificate and its key, made anew where they no longer fit; UsageError."""
    folder, names = settings.broker.boards_folder, names_for(settings)
    if not fits(folder, names, now):
        authority = certificates.load_authority(folder, now)
        if authority is None:
            raise UsageError(
                "the farm has no CA yet in {folder}, so the page cannot be served over HTTPS. To mend: "
                "rearing-monitor page setup --way https",
                folder=folder,
            )
        try:
            write_all(certificate_files(folder, authority, names, now))
        except OSError as error:
            raise _not_written(error, folder) from None
    return folder / CERTIFICATE, folder / KEY


def ca_fingerprint(settings: Settings) -> str:
    """The SHA-256 of the farm's CA, to be compared on the phone."""
    return fingerprint(certificates.ca_certificate(settings.broker.boards_folder).public_bytes(Encoding.DER))


# What a way writes.


@dataclass(frozen=True, slots=True)
class PageWish:
    """What a person asks for; what is None stays as it is."""

    way: Way
    names: tuple[str, ...] = ()
    port: int | None = None
    https_port: int | None = None
    address: str = ""


@dataclass(frozen=True, slots=True)
class PageSetup:
    """What will be written: keys of [page] (`gone` are taken out), files, a password where there was none."""

    farm: FarmFile
    way: Way
    settings: Mapping[str, object]
    gone: tuple[str, ...]
    files: tuple[NewFile, ...]
    password: str
    address: str
    start: str
    """Where a phone begins: the steps and the CA, over plain HTTP."""
    names: tuple[str, ...] = ()
    new_authority: bool = False
    nginx: str = field(default="", repr=False)

    @property
    def by_number(self) -> bool:
        """Whether phones are given a number, which the router may change."""
        host = urlsplit(self.address).hostname or ""
        return host.replace(".", "").isdigit()

    @property
    def encrypted(self) -> bool:
        """Whether phones reach the page over HTTPS."""
        return self.address.startswith("https:")

    @property
    def password_file(self) -> Path:
        """Where a new password is written."""
        return self.farm.path.absolute().parent / PASSWORD_FILE

    @property
    def is_done(self) -> bool:
        """Whether nothing is left to be written."""
        return not (self.settings or self.gone or self.files)


def prepare(farm: FarmFile, wish: PageWish, now: datetime) -> PageSetup:
    """Work out what to write. UsageError with every reason why it cannot be done."""
    port = wish.port or farm.settings.page.port
    https_port = wish.https_port or farm.settings.page.https_port or HTTPS_PORT
    problems = list(_problems(wish, port, https_port))
    if problems:
        raise UsageError(one_a_line(problems))
    names = names_for(farm.settings, wish.names)
    host = _host(farm.settings, wish.names, names)
    plain = f"http://{_in_address(host)}:{port}"
    address = {
        Way.PLAIN: plain,
        Way.HTTPS: f"https://{_in_address(host)}:{https_port}",
        Way.PROXY: wish.address.rstrip("/"),
    }[wish.way]
    wanted = _wanted(farm, wish, port, https_port, address)
    password = "" if farm.settings.page.password else first_password()
    files, new_authority = _files(farm, wish, names, now)
    if password:
        wanted["password_file"] = str(PASSWORD_FILE)
        secret = farm.path.absolute().parent / PASSWORD_FILE
        files.append(NewFile(secret, f"{password}\n".encode(), certificates.OWNER_ONLY))
    present = _keys(farm)
    gone = [key for key in _no_use(wish.way) if key in present]
    return PageSetup(
        farm,
        wish.way,
        {key: value for key, value in wanted.items() if present.get(key) != value},
        tuple(gone),
        tuple(files),
        password,
        address,
        f"{address}/phone" if wish.way is Way.PROXY else f"{plain}/phone",
        names if wish.way is Way.HTTPS else (),
        new_authority,
        nginx_lines(address, port) if wish.way is Way.PROXY else "",
    )


def _host(settings: Settings, given: Sequence[str], names: Sequence[str]) -> str:
    """The name or address that phones are given: what a person chose, else a number, which always works.

    A name that ends in .local needs a service on this computer that answers for it, and not every phone asks.
    """
    chosen = given or settings.page.https_names or settings.broker.boards_hosts
    outside = [name for name in names if name not in ("localhost", LOOPBACK)]
    numbers = [name for name in outside if name in certificates.own_addresses()]
    return next(iter([*chosen, *numbers, *outside]), LOOPBACK)


def _in_address(host: str) -> str:
    return f"[{host}]" if ":" in host else host


def _problems(wish: PageWish, port: int, https_port: int) -> Iterator[Sentence]:
    if wish.way is Way.HTTPS and port == https_port:
        yield sentence("plain and encrypted need two ports; {port} was given for both", port=port)
    parts = urlsplit(wish.address)
    if wish.way is Way.PROXY and not (parts.scheme == "https" and parts.hostname):
        yield sentence(
            "behind another web server the page needs the address under which phones reach that one, not "
            '"{address}". To mend: --address https://farm.example',
            address=wish.address,
        )


def _wanted(farm: FarmFile, wish: PageWish, port: int, https_port: int, address: str) -> dict[str, object]:
    wanted: dict[str, object] = {
        "enabled": True,
        "listen": LOOPBACK if wish.way is Way.PROXY else ALL,
        "port": port,
        "public_address": f"{address}/",
    }
    if wish.way is Way.HTTPS:
        wanted["https_port"] = https_port
        if wish.names:
            wanted["https_names"] = list(wish.names)
    if wish.way is Way.PROXY:
        wanted["proxies"] = [LOOPBACK]
    listen = farm.settings.page.listen
    if wish.way is not Way.PROXY and listen not in (LOOPBACK, "localhost", "::1"):
        wanted["listen"] = listen
    return wanted


def _no_use(way: Way) -> tuple[str, ...]:
    """Keys that another way had written."""
    if way is Way.HTTPS:
        return ("proxies",)
    return ("https_port", "https_names") if way is Way.PROXY else ("https_port", "https_names", "proxies")


def _keys(farm: FarmFile) -> Mapping[str, object]:
    import tomllib

    try:
        found = tomllib.loads(farm.path.read_text(encoding="utf-8-sig")).get("page", {})
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def _files(farm: FarmFile, wish: PageWish, names: Sequence[str], now: datetime) -> tuple[list[NewFile], bool]:
    """The certificate of the page, and the CA where the farm has none yet."""
    if wish.way is not Way.HTTPS:
        return [], False
    folder = farm.settings.broker.boards_folder
    authority = certificates.load_authority(folder, now)
    if authority is not None:
        return ([] if fits(folder, names, now) else certificate_files(folder, authority, names, now)), False
    keys = certificates.planned(folder, farm.settings.site.id, (), now)
    return [*keys.files, *certificate_files(folder, keys.authority, names, now)], True


def nginx_lines(address: str, port: int) -> str:
    """What nginx needs in front of the page. Tried with nginx 1.22 of Debian 12."""
    parts = urlsplit(address)
    return f"""\
server {{
    listen {parts.port or 443} ssl;
    server_name {parts.hostname};
    ssl_certificate     /etc/ssl/farm/fullchain.pem;
    ssl_certificate_key /etc/ssl/farm/privkey.pem;

    location / {{
        proxy_pass http://{LOOPBACK}:{port};
        proxy_http_version 1.1;
        proxy_set_header Host $http_host;
        # Set, not added to: what a visitor claims of itself is not passed on.
        proxy_set_header X-Forwarded-For $remote_addr;
        proxy_set_header X-Forwarded-Proto $scheme;
        proxy_set_header Connection "";
        # Changes reach the open page at once; a stream lasts ten minutes.
        proxy_buffering off;
        proxy_read_timeout 660s;
    }}
}}
"""


def apply(setup: PageSetup, environ: Mapping[str, str]) -> Path | None:
    """Write everything or nothing; gives where the old settings are kept."""
    path = setup.farm.path
    changes = list(setup.files)
    made = _make_folders(changes)
    backup = None
    try:
        if setup.settings or setup.gone:
            backup = free_name(path.with_name(path.name + ".backup"))
            mode = path.stat().st_mode & 0o777
            write_all([NewFile(backup, path.read_bytes(), mode)])
            # The password is named by the settings, so it is there when they are checked.
            write_all(changes)
            text = set_in_table(path, "page", setup.settings, setup.gone, environ)
            changes = [NewFile(path, text.encode(), mode)]
        write_all(changes)
    except BaseException as error:
        _undo(setup, backup, made)
        if isinstance(error, OSError):
            raise _not_written(error, path) from None
        raise
    return backup


def _make_folders(changes: Sequence[NewFile]) -> list[Path]:
    made = []
    for folder in dict.fromkeys(change.path.parent for change in changes):
        if not folder.exists():
            certificates.make_folder(folder)
            made.append(folder)
    return made


def _undo(setup: PageSetup, backup: Path | None, made: Sequence[Path]) -> None:
    """What was new goes again."""
    gone = [file.path for file in setup.files if setup.new_authority or file.path.name == PASSWORD_FILE.name]
    for path in [*gone, *([backup] if backup else [])]:
        with suppress(OSError):
            path.unlink(missing_ok=True)
    for folder in reversed(made):
        with suppress(OSError):
            folder.rmdir()


def _not_written(error: OSError, path: Path) -> UsageError:
    return UsageError(
        "{file} cannot be written: {why}; nothing was changed",
        file=str(error.filename or path),
        why=error.strerror or str(error),
    )
