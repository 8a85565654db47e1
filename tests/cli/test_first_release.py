"""The farm of the first release, settings and database, under the commands of now."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from first_release import STEP, first_farm

from monitor.cli.app import run
from monitor.settings.loading import load
from monitor.store import Store
from monitor.store.update import kept_before
from monitor.terminal.output import ExitCode

SECRETS = ("REARING_DEMO_KEEPER", "REARING_DEMO_NEIGHBOUR")


@pytest.fixture
def settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for name in SECRETS:
        monkeypatch.setenv(name, "json://127.0.0.1:9")
    return first_farm(tmp_path)


def test_who_only_looks_is_told_to_start_the_service_once(
    settings: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["now", "--config", str(settings)]) == ExitCode.STORE
    assert "start the service once, it brings the file up to date" in capsys.readouterr().err
    assert list(settings.parent.glob("*before-update*")) == []


def test_settings_and_database_of_the_first_release_go_on(
    settings: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = load(settings).store.path
    Store.open(path).close()
    assert kept_before(path, STEP).is_file()
    assert run(["cohort", "list", "--all", "--json", "--config", str(settings)]) == 0
    cohorts = json.loads(capsys.readouterr().out)
    assert "b19" in json.dumps(cohorts)
    assert run(["now", "--config", str(settings)]) in (0, ExitCode.SOMETHING_WRONG)
    assert "Saltbush Yard" in capsys.readouterr().out
    assert run(["check", "--quiet", "--config", str(settings)]) == 0
    assert run(["note", "bin-6", "carried over", "--config", str(settings)]) == 0
