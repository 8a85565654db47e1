"""What `check` says of the broker's files: nothing while they are right, and each fault with its remedy."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from service_farm import farm
from tls_broker import MONITOR_PASSWORD, TlsBroker

from monitor.boards import broker_files, broker_warnings, certificates
from monitor.settings.schema import Settings

NOW = datetime(2026, 9, 21, tzinfo=UTC)
BOARDS = [f"node-{number}" for number in range(1, 6)]


@pytest.fixture
def made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> TlsBroker:
    """The files of a broker that does not run, with every board of the farm."""
    monkeypatch.setattr(certificates, "own_names", lambda: ("farm-pc.local",))
    broker = TlsBroker(tmp_path / "broker", "yard", names=("farm-pc.local",))
    for board in BOARDS:
        broker_files.add(broker.files, board, "x")
    return broker


def settings_of(broker: TlsBroker, **keys: Any) -> Settings:
    table = broker.settings()
    table.pop("password_file")
    return farm(broker.folder, broker={**table, "password": MONITOR_PASSWORD, **keys})


def said(broker: TlsBroker, now: datetime = NOW, **keys: Any) -> list[str]:
    settings = settings_of(broker, **keys)
    if settings.broker.files is not None:
        assert {node.id for node in settings.nodes} == set(BOARDS)
    return [str(each) for each in broker_warnings.broker_warnings(settings, now)]


def test_nothing_is_said_of_what_is_right_or_kept_by_others(made: TlsBroker) -> None:
    assert said(made) == []
    made.files.access.unlink()
    assert said(made, files=None) == []
    assert said(made, embedded=True) == []


def _gone(name: str) -> Callable[[TlsBroker], None]:
    return lambda made: (made.files.folder / name).unlink()


def _changed(name: str, old: str, new: str) -> Callable[[TlsBroker], None]:
    def change(made: TlsBroker) -> None:
        path = made.files.conf if name == "conf" else made.files.folder / name
        text = path.read_text()
        assert old in text
        path.write_text(text.replace(old, new))

    return change


FAULTS: dict[str, tuple[Callable[[TlsBroker], object], str]] = {
    "no users": (_gone("users"), "users is missing. To mend: rearing-monitor broker setup"),
    "no rules": (_gone("access"), "access is missing. To mend: rearing-monitor broker setup"),
    "no certificate": (_gone("server.pem"), "mosquitto has another certificate than"),
    "rules of before": (
        _changed("access", "rearing/yard", "rearing/old"),
        "access are not those of this site. To mend: rearing-monitor broker setup",
    ),
    "a board is missing": (
        lambda made: broker_files.remove(made.files, "node-2"),
        "in: node-2. To mend, for the first: rearing-monitor board add node-2 --place bin-2 --sensor",
    ),
    "the monitor is missing": (
        lambda made: broker_files.remove(made.files, "rearing-monitor"),
        "does not know the monitor itself",
    ),
    "a trial is left": (
        lambda made: broker_files.add(made.files, "rearing-trial-1", "x"),
        "a trial that was ended in the middle",
    ),
    "no CA": (
        lambda made: made.boards.rename(made.folder / "elsewhere"),
        "ca.pem is missing",
    ),
    "half a CA": (lambda made: (made.boards / "ca.key").unlink(), "is missing beside the other half"),
    "one connection": (
        _changed("conf", "# Boards", "use_username_as_clientid true\n# Boards"),
        "lets the monitor have one connection only",
    ),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_each_fault_is_said_once_with_its_remedy(made: TlsBroker, fault: str) -> None:
    spoil, wanted = FAULTS[fault]
    spoil(made)
    (line,) = said(made)
    assert wanted in line
    assert "To mend" in line


def test_a_board_with_a_card_gets_its_user_by_that(made: TlsBroker) -> None:
    (made.boards / "cards").mkdir()
    (made.boards / "cards" / "node-2.json").touch()
    for board in ("node-2", "node-4"):
        broker_files.remove(made.files, board)
    (line,) = said(made)
    assert "node-2, node-4. To mend, for the first: rearing-monitor board card node-2" in line


def test_a_certificate_that_ends_or_lacks_a_name(made: TlsBroker, monkeypatch: pytest.MonkeyPatch) -> None:
    (line,) = said(made, datetime(2069, 12, 20, tzinfo=UTC))
    assert "ends soon" in line
    (line,) = said(made, boards_hosts=["barn lan"])
    assert '"barn lan" is no name or address' in line
    (line,) = said(made, boards_hosts=["barn.lan"])
    assert "does not bear all names of this computer (rearing-broker, barn.lan, farm-pc.local" in line
    monkeypatch.setattr(certificates, "own_names", lambda: ("farm-pc.local", "10.0.0.9"))
    (line,) = said(made)
    assert "10.0.0.9" in line
