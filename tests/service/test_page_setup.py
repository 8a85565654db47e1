"""`page setup`: what each way writes, the page's certificate over the years, and nginx in front."""

from __future__ import annotations

import os
import re
import shutil
import socket
import ssl
import stat
import subprocess
import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from urllib.parse import urlsplit

import httpx
import pytest
from cryptography import x509
from typer.testing import CliRunner

from monitor.boards import certificates
from monitor.cli.app import build_app
from monitor.errors import MonitorError, UsageError
from monitor.service.page_setup import (
    CERTIFICATE,
    KEY,
    PASSWORD_FILE,
    PageWish,
    Way,
    apply,
    names_for,
    nginx_lines,
    prepare,
    renewed,
)
from monitor.settings.loading import FarmFile, read

NOW = datetime(2026, 11, 26, 12, 0, tzinfo=UTC)
FARM = """
[site]
id = "yard"
title = "The yard"
time_zone = "Africa/Gaborone"

[page]
# true: serve the page
# enabled = false
"""


@pytest.fixture
def farm(tmp_path: Path) -> FarmFile:
    """A farm whose page is off."""
    path = tmp_path / "farm.toml"
    path.write_text(FARM, encoding="utf-8")
    return read(path, {})


def again(farm: FarmFile) -> FarmFile:
    return read(farm.path, {})


def certificate_of(farm: FarmFile) -> x509.Certificate:
    path = farm.settings.broker.boards_folder / CERTIFICATE
    return x509.load_pem_x509_certificate(path.read_bytes())


def files_in(folder: Path) -> set[str]:
    return {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()}


def test_https_writes_ca_certificate_password_and_settings_and_nothing_twice(farm: FarmFile) -> None:
    wish = PageWish(Way.HTTPS, ("farm-pc.local",))
    prepared = prepare(farm, wish, NOW)
    assert files_in(farm.path.parent) == {"farm.toml"}, "nothing is written before it is asked"
    kept = apply(prepared, {})
    assert kept is not None and kept.read_text(encoding="utf-8") == FARM
    page = again(farm).settings.page
    assert (page.enabled, page.listen, page.port, page.https_port) == (True, "0.0.0.0", 8460, 8443)
    assert page.public_address == prepared.address + "/" == "https://farm-pc.local:8443/"
    assert prepared.start == "http://farm-pc.local:8460/phone"
    assert page.password is not None and page.password.get_secret_value() == prepared.password
    folder = farm.settings.broker.boards_folder
    for secret in (folder / KEY, folder / certificates.CA_KEY, farm.path.parent / PASSWORD_FILE):
        assert stat.S_IMODE(secret.stat().st_mode) == 0o600
    assert {"farm-pc.local", "localhost", "127.0.0.1"} <= certificates.names_of(certificate_of(farm))
    assert "# true: serve the page\nenabled = true" in farm.path.read_text(encoding="utf-8")
    assert prepare(again(farm), wish, NOW).is_done


def test_the_certificate_is_one_that_apples_devices_take(farm: FarmFile) -> None:
    """At most 825 days, an alternative name, for servers (support.apple.com/103769)."""
    apply(prepare(farm, PageWish(Way.HTTPS), NOW), {})
    certificate = certificate_of(farm)
    assert certificate.not_valid_after_utc - certificate.not_valid_before_utc <= timedelta(days=825)
    use = certificate.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value
    assert x509.oid.ExtendedKeyUsageOID.SERVER_AUTH in use
    certificate.verify_directly_issued_by(certificates.ca_certificate(farm.settings.broker.boards_folder))


@pytest.mark.parametrize(("days", "anew"), [(390, False), (410, True)])
def test_the_certificate_is_made_anew_long_before_it_ends(farm: FarmFile, days: int, anew: bool) -> None:
    apply(prepare(farm, PageWish(Way.HTTPS), NOW), {})
    before = certificate_of(farm)
    paths = renewed(again(farm).settings, NOW + timedelta(days=days))
    assert (certificate_of(farm).serial_number != before.serial_number) is anew
    ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(*paths)
    # The CA that phones know stays.
    certificate_of(farm).verify_directly_issued_by(
        certificates.ca_certificate(farm.settings.broker.boards_folder)
    )


def test_another_name_or_another_ca_makes_the_certificate_anew(farm: FarmFile) -> None:
    apply(prepare(farm, PageWish(Way.HTTPS), NOW), {})
    settings = again(farm).settings
    page = settings.page.model_copy(update={"https_names": ("shed.local",)})
    renewed(settings.model_copy(update={"page": page}), NOW)
    assert "shed.local" in certificates.names_of(certificate_of(farm))
    assert certificates.BROKER_NAME not in names_for(settings)
    folder = settings.broker.boards_folder
    for file in certificates.planned(folder, "yard", (), NOW, new=True).files:
        file.path.write_bytes(file.content)
    renewed(settings, NOW)
    certificate_of(farm).verify_directly_issued_by(certificates.ca_certificate(folder))


def test_a_good_certificate_serves_without_the_key_of_the_ca(farm: FarmFile) -> None:
    apply(prepare(farm, PageWish(Way.HTTPS), NOW), {})
    (farm.settings.broker.boards_folder / certificates.CA_KEY).unlink()
    renewed(again(farm).settings, NOW)
    with pytest.raises(UsageError, match=r"ca\.key is missing"):
        renewed(again(farm).settings, NOW + timedelta(days=500))


def test_without_a_ca_it_is_said_how_to_make_one(farm: FarmFile) -> None:
    with pytest.raises(UsageError, match="page setup --way https"):
        renewed(farm.settings, NOW)


def test_from_one_way_to_another_and_back(farm: FarmFile) -> None:
    apply(prepare(farm, PageWish(Way.HTTPS, ("farm-pc.local",)), NOW), {})
    apply(prepare(again(farm), PageWish(Way.PROXY, address="https://farm.example/"), NOW), {})
    page = again(farm).settings.page
    assert (page.listen, page.https_port, page.proxies) == ("127.0.0.1", None, ("127.0.0.1",))
    assert page.public_address == "https://farm.example/"
    plain = prepare(again(farm), PageWish(Way.PLAIN), NOW)
    assert not plain.encrypted and plain.password == "", "the page keeps its password"
    apply(plain, {})
    page = again(farm).settings.page
    assert (page.listen, page.https_port, page.proxies) == ("0.0.0.0", None, ())


@pytest.mark.parametrize(
    ("wish", "said"),
    [
        (PageWish(Way.PROXY), "--address https://farm.example"),
        (PageWish(Way.PROXY, address="http://farm.example"), "http://farm.example"),
        (PageWish(Way.HTTPS, port=8443), "two ports; 8443"),
        (PageWish(Way.HTTPS, ("farm pc",)), "farm pc"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_written(farm: FarmFile, wish: PageWish, said: str) -> None:
    with pytest.raises(UsageError, match=re.escape(said)):
        prepare(farm, wish, NOW)
    assert files_in(farm.path.parent) == {"farm.toml"}


def test_when_the_settings_cannot_be_written_nothing_new_stays(farm: FarmFile) -> None:
    prepared = prepare(farm, PageWish(Way.HTTPS), NOW)
    broken = replace(prepared, settings={**prepared.settings, "port": "none"})
    with pytest.raises(MonitorError):
        apply(broken, {})
    assert files_in(farm.path.parent) == {"farm.toml"}
    assert farm.path.read_text(encoding="utf-8") == FARM


def test_the_command_says_what_it_will_write_and_asks(farm: FarmFile) -> None:
    def run(*words: str) -> tuple[int, str]:
        result = CliRunner().invoke(build_app(), ["page", "setup", "--config", str(farm.path), *words])
        return result.exit_code, result.output + str(result.exception or "")

    code, said = run("--way", "https", "--dry-run")
    assert code == 0 and "page.pem" in said and "https_port" in said and "--dry-run" in said
    code, said = run("--way", "https")
    assert code != 0 and "--yes" in said
    code, said = run("--way", "tunnel")
    assert code != 0 and "plain, https, proxy" in said
    assert files_in(farm.path.parent) == {"farm.toml"}
    code, said = run("--way", "https", "--yes")
    assert code == 0 and "SHA-256" in said and "/phone" in said
    secret = (farm.path.parent / PASSWORD_FILE).read_text(encoding="ascii").strip()
    assert secret not in said
    code, said = run("--way", "proxy", "--address", "https://farm.example", "--yes")
    assert code == 0 and "proxy_pass http://127.0.0.1:8460;" in said


# nginx.


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture
def behind_nginx(farm: FarmFile, tmp_path: Path) -> Iterator[tuple[int, int, Path]]:
    """Debian's nginx with our lines, as a process of its own: its port, the port behind it, the CA."""
    program = shutil.which("nginx") or "/usr/sbin/nginx"
    if not Path(program).exists():
        pytest.skip("nginx is not installed (Debian package nginx-light)")
    apply(prepare(farm, PageWish(Way.HTTPS), datetime.now(UTC)), {})
    folder, front, back = farm.settings.broker.boards_folder, free_port(), free_port()
    lines = nginx_lines(f"https://localhost:{front}", back)
    lines = lines.replace("/etc/ssl/farm/fullchain.pem", str(folder / CERTIFICATE))
    lines = lines.replace("/etc/ssl/farm/privkey.pem", str(folder / KEY))
    lines = lines.replace(f"listen {front}", f"listen 127.0.0.1:{front}")
    kinds = ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    temporary = "".join(f"{kind}_temp_path {tmp_path}/{kind};\n" for kind in kinds)
    user = "user root;" if os.geteuid() == 0 else ""
    conf = tmp_path / "nginx.conf"
    conf.write_text(
        f"{user}\ndaemon off;\npid {tmp_path}/nginx.pid;\nerror_log {tmp_path}/error.log;\nevents {{}}\n"
        f"http {{ access_log off;\n{temporary}{lines} }}\n"
    )
    process = subprocess.Popen([program, "-c", str(conf), "-e", str(tmp_path / "error.log")])
    try:
        for _ in range(100):
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", front)) == 0:
                    break
            time.sleep(0.05)
        yield front, back, folder / certificates.CA
    finally:
        process.terminate()
        process.wait(10)


def test_behind_nginx_the_page_knows_its_visitors_and_that_they_are_encrypted(
    behind_nginx: tuple[int, int, Path], tmp_path: Path
) -> None:
    from page_farm import PASSWORD, PageFarm, form_token

    from monitor.page.server import PageServer

    front, back, ca = behind_nginx
    page_farm = PageFarm(tmp_path / "page", history_ms=0)
    page_farm.folder.mkdir()
    page_farm.build()
    server = PageServer(page_farm.context, port=back, proxies=["127.0.0.1"])
    server.start()
    try:
        address = f"https://localhost:{front}"
        context = ssl.create_default_context(cafile=str(ca))
        claims = {"x-forwarded-for": "10.9.9.9", "x-forwarded-proto": "http"}
        with httpx.Client(base_url=address, verify=context, trust_env=False, headers=claims) as client:
            data = {"form_token": form_token(client.get("/login").text), "password": PASSWORD, "name": "Ann"}
            answer = client.post("/login", data=data, headers={"origin": address})
            assert answer.status_code == 303, "a form of this page is one of its own, port and all"
            assert "Secure" in answer.headers["set-cookie"], "what a visitor claims is not passed on"
            assert client.get("/").status_code == 200
            assert f"{address}/" in client.get("/phone").text
            with client.stream("GET", "/live") as stream:
                assert next(stream.iter_text()).startswith("retry:"), "changes are not held back"
    finally:
        server.stop()
        page_farm.close()
    assert urlsplit(address).port == front
