"""`sites` as its user calls it: text, JSON, exit codes, a first settings file, the watch."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest
from many_sites import NOW_MS, ManySites, write_settings

from monitor.cli.app import run
from monitor.records import MS_PER_HOUR
from monitor.sites.running import SitesService
from monitor.sites.settings import SitesSettings, read
from monitor.sites.template import TEMPLATE

PEOPLE = """
[[people]]
id = "ben"
sites = { "*" = "care", "hot-yard" = "none" }
password = "four plain words"
[[people]]
id = "amina"
sites = { "*" = "full" }
address_file = "amina.address"
"""


@pytest.fixture
def many(monkeypatch: pytest.MonkeyPatch) -> ManySites:
    """An archive in memory behind the commands, at a clock that stands."""
    made = ManySites()
    made.a_few()
    monkeypatch.setattr("monitor.sites.lookout.open_reader", lambda _access: made.archive)
    monkeypatch.setattr("monitor.cli.sites.clock_ms", lambda: NOW_MS)
    return made


@pytest.fixture
def config(tmp_path: Path) -> str:
    secret = tmp_path / "amina.address"
    secret.write_text(f"folder://{tmp_path}/inbox\n", encoding="utf-8")
    secret.chmod(0o600)
    return str(write_settings(tmp_path, "http://127.0.0.1:9", PEOPLE))


def test_the_list_is_worst_first_and_its_end_says_that_somebody_is_needed(
    many: ManySites, config: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert many
    assert run(["sites", "--config", config]) == 1
    said = capsys.readouterr().out
    order = [said.index(site) for site in ("hot-yard", "quiet-yard", "seen-yard", "dry-yard", "fine-yard")]
    assert order == sorted(order)
    assert "5 sites: 1 needs somebody, 1 is silent" in said


def test_a_person_is_shown_the_own_sites(
    many: ManySites, config: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert many
    run(["sites", "--config", config, "--as", "ben"])
    said = capsys.readouterr().out
    assert "hot-yard" not in said and "eggs" not in said and "fine-yard" in said
    assert run(["sites", "hot-yard", "--config", config, "--as", "ben"]) == 2
    assert "knows no site hot-yard" in capsys.readouterr().err
    assert run(["sites", "--config", config, "--as", "nobody"]) == 2
    assert "allowed: ben, amina" in capsys.readouterr().err


def test_one_site_whole_and_as_json(many: ManySites, config: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert many
    assert run(["sites", "hot-yard", "--config", config]) == 0
    assert "node-3: needs a hand" in capsys.readouterr().out
    assert run(["sites", "hot-yard", "--config", config, "--json"]) == 0
    picture = json.loads(capsys.readouterr().out)
    assert picture["line"]["standing"] == "high"
    assert run(["sites", "--config", config, "--json"]) == 1
    told = json.loads(capsys.readouterr().out)
    quiet = next(line for line in told["overview"]["lines"] if line["figures"]["site"] == "quiet-yard")
    assert quiet["silent_ms"] == 3 * MS_PER_HOUR and quiet["figures"]["open_alarms"]["at_ms"] < NOW_MS
    assert "four plain words" not in json.dumps(told)


def test_an_archive_that_does_not_answer_is_another_end(
    many: ManySites, config: str, capsys: pytest.CaptureFixture[str]
) -> None:
    many.archive.is_silent = True
    assert run(["sites", "--config", config]) == 5
    assert "nothing was read before" in capsys.readouterr().err
    many.archive.is_silent = False
    run(["sites", "--config", config])
    capsys.readouterr()
    many.archive.is_silent = True
    assert run(["sites", "--config", config]) == 5
    said = capsys.readouterr().out
    assert "The archive has not answered since" in said and "hot-yard" in said


def test_a_first_settings_file_is_written_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(["sites", "init"]) == 0
    assert (tmp_path / "sites.toml").stat().st_mode & 0o777 == 0o600
    assert read(tmp_path / "sites.toml").settings.watch.silent_minutes == 60.0
    (tmp_path / "sites.toml").write_text("mine", encoding="utf-8")
    assert run(["sites", "init"]) == 2
    assert "is there already" in capsys.readouterr().err
    assert (tmp_path / "sites.toml").read_text(encoding="utf-8") == "mine"


def test_the_first_file_explains_every_key() -> None:
    assert SitesSettings.model_validate(tomllib.loads(TEMPLATE))
    bare = TEMPLATE.replace("# [[", "[[").replace("\n# ", "\n").replace('address_file = "amina.address"', "")
    schema = SitesSettings.model_json_schema()["$defs"]
    secrets = {"password", "address", "token", "read_token", "org", "kind", "batch", "lag_alarm_hours"}
    for table in ("Group", "Watch", "SitesPage", "KnownSite", "Person"):
        for key in schema[table]["properties"]:
            assert key in secrets or f"{key} =" in bare, f"{table}.{key}"
    for key in ("password_file", "address_file", "token_file"):
        assert key in TEMPLATE


def test_the_watch_tells_of_silence_by_a_real_channel_and_serves_the_page(
    many: ManySites, config: str, tmp_path: Path
) -> None:
    path = Path(config)
    path.write_text(
        path.read_text(encoding="utf-8") + "[page]\nport = 1\nenabled = false\n", encoding="utf-8"
    )
    service = SitesService(read(path, {}), lambda _settings: many.archive)
    rounds = iter([False] * 8)
    service.run(lambda: next(rounds, True), lambda: NOW_MS)
    letters = sorted((tmp_path / "inbox").glob("*.txt"))
    assert [letter.read_text(encoding="utf-8").splitlines()[0] for letter in letters] == [
        "quiet-yard: silent"
    ]
    again = iter([False] * 8)
    SitesService(read(path, {}), lambda _settings: many.archive).run(
        lambda: next(again, True), lambda: NOW_MS
    )
    assert len(sorted((tmp_path / "inbox").glob("*.txt"))) == 1
