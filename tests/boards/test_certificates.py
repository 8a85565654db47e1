"""The farm's CA and the broker's certificate: valid for a board without a clock, renewed without a new CA."""

from __future__ import annotations

import ssl
import subprocess
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec, rsa
from tls_broker import made_keys

from monitor.boards import certificates
from monitor.boards.certificates import CA, CA_KEY, SERVER, SERVER_KEY, Keys
from monitor.errors import UsageError

NOW = datetime(2026, 9, 21, tzinfo=UTC)
NAMES = ("farm-pc.local", "192.168.1.20")


def made(folder: Path, *names: str, now: datetime = NOW, new: bool = False) -> Keys:
    return made_keys(folder, "saltbush-yard", names or NAMES, now, new=new)


def server(folder: Path) -> x509.Certificate:
    return x509.load_pem_x509_certificate((folder / SERVER).read_bytes())


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_what_is_made_the_first_time(tmp_path: Path) -> None:
    folder = tmp_path / "boards"
    keys = made(folder)
    assert (keys.new_authority, bool(keys.files)) == (True, True)
    assert {path.name: path.stat().st_mode & 0o777 for path in folder.iterdir()} == {
        CA: 0o644, CA_KEY: 0o600, SERVER: 0o644, SERVER_KEY: 0o600,
    }  # fmt: skip
    assert folder.stat().st_mode & 0o777 == 0o700
    for certificate in (keys.authority.certificate, server(folder)):
        key = certificate.public_key()
        assert isinstance(key, ec.EllipticCurvePublicKey)
        assert key.curve.name == "secp256r1"
        assert certificate.not_valid_before_utc == datetime(1970, 1, 1, tzinfo=UTC)
        assert certificate.not_valid_after_utc == datetime(2070, 1, 1, tzinfo=UTC)
    wanted = {"rearing-broker", "localhost", "127.0.0.1", *NAMES}
    assert certificates.names_of(server(folder)) == wanted
    assert set(keys.names) == wanted
    assert certificates.ca_certificate(folder) == keys.authority.certificate


def test_the_ca_fits_on_a_card(tmp_path: Path) -> None:
    """A card has 1500 bytes, and the CA stands on it in base64."""
    longest = certificates.make_authority("x" * 40)
    assert len(longest.certificate.public_bytes(serialization.Encoding.DER)) < 500
    assert len(made(tmp_path).authority.certificate.public_bytes(serialization.Encoding.DER)) < 450


@pytest.mark.parametrize("at", ["1971-01-01", "2000-01-01", "2026-09-21", "2050-01-01", "2069-06-01"])
@pytest.mark.parametrize("name", ["rearing-broker", "farm-pc.local", "192.168.1.20"])
def test_openssl_trusts_it_whatever_the_clock_says(tmp_path: Path, at: str, name: str) -> None:
    made(tmp_path)
    kind = "-verify_ip" if name[0].isdigit() else "-verify_hostname"
    moment = str(int(datetime.fromisoformat(at).replace(tzinfo=UTC).timestamp()))
    command = ["openssl", "verify", "-x509_strict", "-attime", moment, "-purpose", "sslserver"]
    done = subprocess.run(
        [*command, kind, name, "-CAfile", str(tmp_path / CA), str(tmp_path / SERVER)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr


def test_a_name_that_it_does_not_bear_is_not_trusted(tmp_path: Path) -> None:
    made(tmp_path)
    done = subprocess.run(
        ["openssl", "verify", "-verify_hostname", "other.local", "-CAfile", tmp_path / CA, tmp_path / SERVER],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert "hostname mismatch" in done.stdout.lower() + done.stderr.lower()


def test_the_same_again_changes_nothing(tmp_path: Path) -> None:
    made(tmp_path)
    before = contents(tmp_path)
    again = made(tmp_path)
    assert (again.new_authority, bool(again.files)) == (False, False)
    assert contents(tmp_path) == before
    assert not made(tmp_path, "farm-pc.local").files, "it bears more names than are wanted"
    assert contents(tmp_path) == before


def test_another_address_renews_the_certificate_of_the_same_ca(tmp_path: Path) -> None:
    made(tmp_path)
    before = contents(tmp_path)
    again = made(tmp_path, "farm-pc.local", "192.168.7.4")
    assert (again.new_authority, bool(again.files)) == (False, True)
    after = contents(tmp_path)
    assert {name for name in after if after[name] != before.get(name)} == {SERVER, SERVER_KEY}
    assert {"192.168.7.4", "rearing-broker"} <= certificates.names_of(server(tmp_path))
    server(tmp_path).verify_directly_issued_by(again.authority.certificate)
    ssl.create_default_context(cafile=str(tmp_path / CA)).load_verify_locations(str(tmp_path / CA))


def test_a_key_of_another_certificate_is_no_half(tmp_path: Path) -> None:
    made(tmp_path / "own")
    made(tmp_path / "other")
    (tmp_path / "own" / SERVER_KEY).write_bytes((tmp_path / "other" / SERVER_KEY).read_bytes())
    assert made(tmp_path / "own").files
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(tmp_path / "own" / SERVER, tmp_path / "own" / SERVER_KEY)


@pytest.mark.parametrize("gone", [SERVER, SERVER_KEY])
def test_half_of_the_brokers_certificate_is_made_anew(tmp_path: Path, gone: str) -> None:
    made(tmp_path)
    (tmp_path / gone).unlink()
    assert made(tmp_path).files
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(tmp_path / SERVER, tmp_path / SERVER_KEY)


def test_a_certificate_of_another_ca_or_that_ends_soon_is_made_anew(tmp_path: Path) -> None:
    made(tmp_path / "own")
    made(tmp_path / "other")
    for name in (SERVER, SERVER_KEY):
        (tmp_path / "own" / name).write_bytes((tmp_path / "other" / name).read_bytes())
    assert made(tmp_path / "own").files
    late = datetime(2069, 12, 20, tzinfo=UTC)
    authority = certificates.load_authority(tmp_path / "own", late)
    assert authority is not None
    wanted = certificates.all_names(NAMES)
    assert certificates.server_fits(tmp_path / "own", authority, wanted, late - timedelta(days=30))
    assert not certificates.server_fits(tmp_path / "own", authority, wanted, late)


def _write_ca(folder: Path, first: datetime, last: datetime) -> None:
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "old CA")])
    builder = x509.CertificateBuilder().subject_name(name).issuer_name(name).public_key(key.public_key())
    dated = builder.serial_number(7).not_valid_before(first).not_valid_after(last)
    (folder / CA).write_bytes(dated.sign(key, hashes.SHA256()).public_bytes(serialization.Encoding.PEM))
    (folder / CA_KEY).write_bytes(_pem(key))


def _pem(key: ec.EllipticCurvePrivateKey | rsa.RSAPrivateKey) -> bytes:
    kind = serialization.PrivateFormat.PKCS8
    return key.private_bytes(serialization.Encoding.PEM, kind, serialization.NoEncryption())


def _other_key(folder: Path) -> None:
    (folder / CA_KEY).write_bytes(_pem(ec.generate_private_key(ec.SECP256R1())))


def _rsa_key(folder: Path) -> None:
    (folder / CA_KEY).write_bytes(_pem(rsa.generate_private_key(65537, 2048)))


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda folder: _write_ca(folder, NOW - timedelta(days=900), NOW), "has expired on 2026-09-21"),
        (
            lambda folder: _write_ca(folder, NOW + timedelta(days=3), NOW + timedelta(days=9)),
            "holds only from 2026-09-24 on",
        ),
        (_other_key, "is not the key of"),
        (_rsa_key, "is not a P-256 key"),
        (lambda folder: (folder / CA_KEY).unlink(), "is missing beside the other half"),
        (lambda folder: (folder / CA).unlink(), "is missing beside the other half"),
        (lambda folder: (folder / CA).write_text("rubbish"), "is not a certificate"),
        (lambda folder: (folder / CA_KEY).write_bytes(b"\0\1"), "is not a private key"),
        (lambda folder: (folder / CA).write_bytes((folder / CA).read_bytes()[:200]), "is not a certificate"),
    ],
)
def test_a_ca_that_cannot_be_used_is_said_and_left_alone(tmp_path: Path, spoil: object, said: str) -> None:
    made(tmp_path)
    assert callable(spoil)
    spoil(tmp_path)
    before = contents(tmp_path)
    with pytest.raises(UsageError, match=said) as refused:
        made(tmp_path)
    assert "rearing-monitor broker setup --new-ca" in str(refused.value)
    assert contents(tmp_path) == before
    keys = made(tmp_path, new=True)
    assert keys.new_authority
    assert not made(tmp_path).files


def test_a_folder_that_cannot_be_written_keeps_what_was_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made(tmp_path)
    before = contents(tmp_path)
    rename = Path.replace

    def full(own: Path, target: Path) -> Path:
        if target.name == SERVER and own.read_bytes() != before[SERVER]:
            raise OSError(28, "No space left on device")
        return rename(own, target)

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(OSError, match="No space"):
        made(tmp_path, "192.168.7.4")
    assert contents(tmp_path) == before


@pytest.mark.parametrize(
    "name", ["farm pc", "a..b", "x" * 64, "https://farm", "", "farm;pc", "192.168.1.20/24"]
)
def test_what_is_no_name_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(UsageError, match="no name or address"):
        made(tmp_path / "boards", name)
    assert not (tmp_path / "boards").exists()


def test_the_names_of_this_computer_are_found_without_asking_anybody(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("socket.gethostname", lambda: "Farm-PC.lan")
    monkeypatch.setattr("socket.getaddrinfo", lambda *_: pytest.fail("asks the network"))
    names = certificates.own_names()
    assert names[:2] == ("farm-pc.local", "farm-pc")
    assert not [name for name in names if name.startswith("127.")]
    certificates.all_names(names)
    monkeypatch.setattr("socket.gethostname", lambda: "ferme du sable")
    assert certificates.own_names() == certificates.own_addresses(), "no name that a certificate cannot bear"
