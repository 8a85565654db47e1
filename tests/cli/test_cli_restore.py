"""The command `restore`: shown and asked first, then in place; then what is missing and what comes next."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from archive_memory import MemoryArchive
from copied_site import PASSPHRASE
from restored_site import copied, has_notes, tree_of
from service_farm import T0

from monitor.cli.app import run
from monitor.copies.placing import BEGUN, JOURNAL
from monitor.store import Store
from monitor.terminal.output import ExitCode

ADDRESS = "json://127.0.0.1:9"
ARCHIVE = '[archive]\nurl = "http://127.0.0.1:9"\nkind = "victoria"\nbucket = "b"\norg = "o"\ntoken = "t"\n'


@pytest.fixture
def words_only(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[str]]:
    """The checks at the end, noted in place of carried out."""
    done: list[str] = []
    monkeypatch.setattr(
        "monitor.cli.setup.check", lambda config, quiet: done.append(f"check {config}{' quiet' * quiet}")
    )
    monkeypatch.setattr(
        "monitor.cli.setup.send_test", lambda to, config: done.append(f"send-test {to}{config}")
    )
    yield done


def _restore(stick: Path, file: Path, *more: str) -> int:
    return run(["restore", str(stick), "--config", str(file), *more])


def test_it_shows_what_is_in_the_copy_and_without_a_yes_nothing_is_changed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    stick = copied(tmp_path, PASSPHRASE)
    monkeypatch.setattr("builtins.input", lambda: "n")
    assert _restore(stick, tmp_path / "site" / "farm.toml") == ExitCode.USAGE
    said = capsys.readouterr()
    for part in ("Copy of Yard (yard)", "readings until", "no living cohort", "no open alarm", "one photo"):
        assert part in said.out
    assert "secrets, but not opened" in said.out
    assert "Nothing was changed" in said.out and "Put all this in its place" in said.err
    assert not (tmp_path / "site").exists()


def test_with_a_yes_the_site_is_back_looked_over_and_told_what_comes_next(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    words_only: list[str],
) -> None:
    stick, file = copied(tmp_path, PASSPHRASE), tmp_path / "site" / "farm.toml"
    (tmp_path / "pass").write_text(PASSPHRASE + "\n")
    monkeypatch.setenv("REARING_KEEPER", ADDRESS)
    assert _restore(stick, file, "--yes", "--passphrase-file", str(tmp_path / "pass")) == 0
    said = capsys.readouterr().out
    assert words_only == [f"check {file} quiet", f"send-test {file}"]
    assert "Boards need nothing new" in said and f"rearing-monitor run --config {file}" in said
    assert "broker setup" in said and "What is missing" not in said
    assert "hush" not in said
    assert tree_of(tmp_path / "site").keys() - {"rearing.sqlite.lock"} == tree_of(tmp_path / "gone").keys()


def test_the_passphrase_of_this_computer_is_tried_before_anybody_is_asked(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    words_only: list[str],
) -> None:
    stick, site = copied(tmp_path, PASSPHRASE), tmp_path / "site"
    (tmp_path / "gone").rename(site)
    (site / "rearing.sqlite").write_bytes(b"damaged")
    monkeypatch.setenv("REARING_KEEPER", ADDRESS)
    assert _restore(stick, site / "farm.toml", "--yes") == 0
    said = capsys.readouterr().out
    assert "secrets: opened" in said and "broker setup" not in said
    with Store.open(site / "rearing.sqlite") as store:
        assert store.meta.get("page_key") == "hush-page_key"
    (site / "passphrase").write_text("another since then\n")
    assert _restore(stick, site / "farm.toml", "--yes") == 0
    assert "secrets, but not opened" in capsys.readouterr().out
    assert len(words_only) == 4


def test_without_secrets_it_says_what_to_give_again(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words_only: list[str]
) -> None:
    stick = copied(tmp_path)
    assert _restore(stick, tmp_path / "site" / "farm.toml", "--yes") == ExitCode.SOMETHING_WRONG
    said = capsys.readouterr().out
    assert "no secrets: keys, passwords and addresses have to be given again" in said
    assert "broker-password" in said and "[page] password" in said and "REARING_KEEPER" in said
    assert "board card NAME" in said and "Boards need nothing new" not in said
    assert len(words_only) == 2


def test_readings_since_the_copy_come_from_the_archive(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    words_only: list[str],
) -> None:
    stick, file = copied(tmp_path, PASSPHRASE, ARCHIVE), tmp_path / "site" / "farm.toml"
    with Store.open(tmp_path / "gone" / "rearing.sqlite") as store:
        (sensor,) = store.readings.sensors()
    archive = MemoryArchive()
    for minute in range(1, 6):
        archive.write_reading("yard", sensor, T0 + minute * 60_000, 27.5 + minute)
    monkeypatch.setattr("monitor.archive.access.open_reader", lambda _: archive)
    (tmp_path / "pass").write_text(PASSPHRASE)
    monkeypatch.setenv("REARING_KEEPER", ADDRESS)
    assert _restore(stick, file, "--yes", "--passphrase-file", str(tmp_path / "pass")) == 0
    assert "Fetched from the archive: 5 readings" in capsys.readouterr().out
    with Store.open(tmp_path / "site" / "rearing.sqlite") as store:
        values = [value for _, value, _ in store.readings.iterate(sensor, T0, T0 + 10 * 60_000)]
        assert values == [28.0, 28.5, 29.5, 30.5, 31.5, 32.5]
    assert len(words_only) == 2


def test_an_archive_that_does_not_answer_is_said_and_the_rest_is_back(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    words_only: list[str],
) -> None:
    stick, file = copied(tmp_path, None, ARCHIVE), tmp_path / "site" / "farm.toml"
    monkeypatch.setattr("monitor.cli.restore.PAUSES_S", ())
    assert _restore(stick, file, "--yes") == ExitCode.SOMETHING_WRONG
    said = capsys.readouterr()
    assert "No reading was taken from the archive" in said.err
    assert f"rearing-monitor refill --config {file}" in said.out
    assert (tmp_path / "site" / "rearing.sqlite").exists() and len(words_only) == 2


def test_a_monitor_that_runs_is_not_robbed_of_its_database(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from monitor.cli.running import only_service

    stick = copied(tmp_path)
    (tmp_path / "gone").rename(tmp_path / "site")
    before = tree_of(tmp_path / "site")
    monkeypatch.setattr("monitor.cli.running.PATIENCE_S", 0.0)
    with only_service(tmp_path / "site" / "rearing.sqlite"):
        assert _restore(stick, tmp_path / "site" / "farm.toml", "--yes") == ExitCode.STORE
    assert "a monitor runs on this database already" in capsys.readouterr().err
    after = dict(tree_of(tmp_path / "site"))
    del after["rearing.sqlite.lock"]
    assert after == before


@pytest.mark.parametrize(
    ("command", "code"), [(["cohort", "list"], 0), (["send-test"], 5), (["init", "--yes"], ExitCode.USAGE)]
)
def test_any_command_finishes_a_restore_that_was_cut_before_it_looks(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: list[str], code: int
) -> None:
    copied(tmp_path)
    monkeypatch.setenv("REARING_KEEPER", ADDRESS)
    site = tmp_path / "site"
    (tmp_path / "gone").rename(site)
    file, new = site / "farm.toml", site / ".farm.toml.new"
    file.rename(new)
    (site / BEGUN).write_text(f'{{"file": "{new}"}}\n')
    (site / JOURNAL).write_text(f'{{"stamp": "s", "moves": [["{new}", "{file}"]]}}')
    assert run([*command, "--config", str(file)]) == code
    assert file.exists() and not has_notes(site)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], "where is the copy?"),
        (["nowhere"], "does not exist"),
        ([__file__], "is no database of this program"),
        (["sftp://copies.example/rearing", "--option", "port"], "is not KEY=VALUE"),
        (["s3://bucket/x", "--password-file", "nowhere"], "cannot be read"),
    ],
)
def test_a_wrong_call_says_what_to_do(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    arguments: list[str],
    said: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(["restore", *arguments, "--config", str(tmp_path / "site" / "farm.toml")]) != 0
    assert said in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
