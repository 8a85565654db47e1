"""A place by SFTP, over a real connection that is cut, refused, or answered by another server."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from pathlib import Path

import pytest
from copied_site import CopiedSite
from service_farm import T0
from sftp_server import PASSWORD, USER, SftpServer

from monitor.copies import content, sealed
from monitor.copies.making import make_copies
from monitor.copies.targets import Target, target_of
from monitor.errors import CopyError
from monitor.records import MS_PER_DAY
from monitor.settings.schema import CopyPlace


@pytest.fixture
def server(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[SftpServer]:
    logging.getLogger("paramiko").setLevel(logging.CRITICAL)
    monkeypatch.setattr(sealed, "COST", 2**8)
    (tmp_path / "far").mkdir()
    served = SftpServer(tmp_path / "far")
    yield served
    served.close()


@pytest.fixture
def site(tmp_path: Path) -> Iterator[CopiedSite]:
    with CopiedSite.made(tmp_path / "site") as made:
        yield made


def place(server: SftpServer, password: str = PASSWORD, **options: str) -> Target:
    """The place as the settings would name it."""
    url = f"sftp://{USER}@127.0.0.1:{server.port}/rearing"
    written = {"id": "away", "url": url, "password": password, "options": options}
    return target_of(CopyPlace.model_validate(written), "yard")


def test_a_copy_goes_there_and_comes_back(site: CopiedSite, server: SftpServer, tmp_path: Path) -> None:
    target = place(server)
    target.prepare()
    [outcome] = make_copies(site.wish(T0), [target])
    assert outcome.fault is None
    assert outcome.name is not None
    assert sorted(path.name for path in (server.root / "rearing").iterdir()) == [
        outcome.name.text,
        "rearing-monitor-copies.txt",
        "rearing-photos",
    ]
    manifest = place(server).fetch(outcome.name, tmp_path / "back")
    assert content.missing_photos(tmp_path / "back", manifest) == ()


def test_a_connection_that_is_cut_costs_that_copy_alone(site: CopiedSite, server: SftpServer) -> None:
    target = place(server)
    target.prepare()
    good = next(iter(make_copies(site.wish(T0), [target]))).name
    sent = 0

    def cut(done: int, total: int) -> None:
        nonlocal sent
        sent += 1
        if sent == 6 and done < total:
            server.cut()

    [outcome] = make_copies(site.wish(T0 + MS_PER_DAY), [target], cut)
    assert "does not take or give copies now" in str(outcome.fault)
    assert "see whether the network reaches it" in str(outcome.fault)
    assert target.list_copies() == (good,), "and it is reached again"
    [outcome] = make_copies(site.wish(T0 + 3 * MS_PER_DAY, thins_out=True), [target])
    assert outcome.fault is None
    left = {path.name for path in (server.root / "rearing").iterdir()}
    assert not any(name.endswith(".part") for name in left), "what the cut left is cleared"


def test_what_comes_back_other_than_it_was_sent_is_no_copy(
    site: CopiedSite, server: SftpServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    from monitor.copies.remote import RemoteTarget

    target = place(server)
    target.prepare()
    read = RemoteTarget._read

    def fallen(self: RemoteTarget, path: str) -> Iterator[bytes]:
        for piece in read(self, path):
            yield piece[:-1] + bytes([piece[-1] ^ 1]) if "rearing.sqlite" in path and piece else piece

    monkeypatch.setattr(RemoteTarget, "_read", fallen)
    [outcome] = make_copies(site.wish(T0), [target])
    assert "rearing.sqlite came back other than it was sent, and this copy was thrown away" in str(
        outcome.fault
    )
    assert target.list_copies() == ()


def test_a_wrong_password_is_said_without_it(site: CopiedSite, server: SftpServer) -> None:
    [outcome] = make_copies(site.wish(T0), [place(server, "hush-but-wrong")])
    assert "whether user, password and folder are right" in str(outcome.fault)
    assert "hush" not in str(outcome.fault)


def test_nobody_answers(site: CopiedSite, server: SftpServer) -> None:
    target = place(server)
    server.close()
    [outcome] = make_copies(site.wish(T0), [target])
    assert "does not take or give copies now" in str(outcome.fault)
    server.__init__(server.root)  # type: ignore[misc]


def test_another_server_gets_neither_password_nor_copy(
    site: CopiedSite, server: SftpServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = place(server)
    first.prepare()
    key = first.new_key()
    assert key is not None
    known = place(server, host_key=key)
    assert known.new_key() is None
    [outcome] = make_copies(site.wish(T0), [known])
    assert outcome.fault is None
    asked: list[str] = []
    monkeypatch.setattr(
        "sftp_server._Door.check_auth_password", lambda _self, _user, word: asked.append(word)
    )
    with pytest.raises(CopyError, match=r"has the key SHA256:.*, not SHA256:other, and got neither"):
        place(server, host_key="SHA256:other").list_copies()
    assert asked == []
