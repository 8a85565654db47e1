"""`check` and `send-test` know the phones with the installed page."""

from __future__ import annotations

from pathlib import Path

import pytest
from push_service import Browser

from monitor.cli import run
from monitor.notify import push
from monitor.settings.loading import load
from monitor.store import Store

YES = ("init", "--yes", "--time-zone", "Africa/Gaborone")
NOW_MS = 1_790_000_000_000


@pytest.fixture(autouse=True)
def _own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "none"))
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))


def store() -> Store:
    return Store.open(load(Path("farm.toml"), {}).store.path)


def settings_with(address: str) -> None:
    run(list(YES))
    with Path("farm.toml").open("a", encoding="utf-8") as file:
        file.write(f'\n[[recipients]]\nid = "ann"\naddress = "{address}"\n')


def test_check_warns_of_who_is_told_by_phones_alone(capsys: pytest.CaptureFixture[str]) -> None:
    settings_with("webpush://")
    Path("farm.toml").chmod(0o644)
    capsys.readouterr()
    assert run(["check", "--quiet"]) == 0
    said = " ".join(capsys.readouterr().err.split())
    assert "ann is told by the page on the phone alone" in said
    assert "stands in the file itself" not in said, "this address is no secret"
    with store() as opened:
        opened.runs.start(NOW_MS)
    run(["check", "--quiet"])
    assert "ann is told nothing: no phone takes messages" in " ".join(capsys.readouterr().err.split())
    with store() as opened:
        number = opened.phones.add(Browser().phone("https://updates.push.example.com/secret"))
    run(["check", "--quiet"])
    said = " ".join(capsys.readouterr().err.split())
    assert "is told nothing" not in said and "ann is told by the page on the phone alone" in said
    with store() as opened:
        opened.phones.lost(number, NOW_MS)
    run(["check", "--quiet"])
    said = " ".join(capsys.readouterr().err.split())
    assert "a phone of ann takes messages no more, since" in said and "is told nothing" in said


def test_a_test_goes_to_phones_too_without_the_service(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings_with(f"folder://{tmp_path / 'inbox'}")
    with store() as opened:
        opened.phones.add(Browser().phone("https://updates.push.example.com/secret"))
    taken = list[str]()

    def answer(_sender: object, _phone: object, data: bytes, *_more: object) -> object:
        taken.append(data.decode())
        return push._Answer(201, {})

    monkeypatch.setattr(push, "_handed_over", answer)
    capsys.readouterr()
    assert run(["send-test"]) == 0
    printed = capsys.readouterr().out
    assert "ann: sent" in printed and "ann (phone): sent" in printed
    assert len(taken) == 1 and '"tag":"test"' in taken[0]
    assert len(list((tmp_path / "inbox").iterdir())) == 1
    monkeypatch.setattr(push, "_handed_over", lambda *_: push._Answer(500, {}))
    assert run(["send-test", "ann"]) == 5
    err = capsys.readouterr().err
    assert "answer 500" in err and "secret" not in err


def test_a_test_to_who_has_no_phone_yet_says_what_to_do(capsys: pytest.CaptureFixture[str]) -> None:
    settings_with("webpush://")
    capsys.readouterr()
    assert run(["send-test"]) == 5
    assert "turn on messages on this phone" in capsys.readouterr().err
