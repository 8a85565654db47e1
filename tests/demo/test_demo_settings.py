"""The demo's settings are legal, name what the farm sends, and stay inside the demo's folder."""

import datetime
import tomllib
from pathlib import Path

from monitor.demo.runner import DemoPlan, demo_environment, demo_settings
from monitor.demo.script import BOARDS, PLACES, SITE_ID, TOPIC_ROOT
from monitor.settings.loading import load
from monitor.settings.schema import Settings
from monitor.settings.template import saltbush_yard

START = datetime.datetime(2026, 9, 22, 7, 0, tzinfo=datetime.UTC)


def _settings(folder: Path) -> Settings:
    path = folder / "farm.toml"
    path.write_text(demo_settings(DemoPlan(folder, start=START), 18830), encoding="utf-8")
    return load(path, demo_environment(folder))


def test_the_farm_sends_from_the_places_and_nodes_of_the_settings(tmp_path: Path) -> None:
    settings = _settings(tmp_path)
    assert [place.id for place in settings.places] == [place.id for place in PLACES]
    assert [place.room for place in settings.places] == [place.room for place in PLACES]
    assert [(node.id, node.place) for node in settings.nodes] == [
        (board.id, board.sensors[0].place) for board in BOARDS
    ]
    for node, board in zip(settings.nodes, BOARDS, strict=True):
        assert sorted(node.measures) == sorted(sensor.name for sensor in board.sensors)
        for sensor in board.sensors:
            assert sensor.place == node.probes.get(sensor.probe, node.place)


def test_topics_of_the_farm_are_those_of_the_settings(tmp_path: Path) -> None:
    settings = _settings(tmp_path)
    assert (settings.broker.topic_root, settings.site.id) == (TOPIC_ROOT, SITE_ID)
    assert (settings.broker.host, settings.broker.port) == ("127.0.0.1", 18830)


def test_everything_stays_in_the_folder_and_is_called_invented(tmp_path: Path) -> None:
    settings = _settings(tmp_path)
    assert settings.store.path.parent == tmp_path
    assert "invented" in settings.site.title
    for recipient in settings.recipients:
        assert recipient.address.get_secret_value().startswith(f"folder://{tmp_path.resolve()}/inbox/")


def test_the_demo_is_the_example_farm(tmp_path: Path) -> None:
    example, tables = saltbush_yard(), tomllib.loads(demo_settings(DemoPlan(tmp_path, start=START), 18830))
    assert tables["places"] == example["places"]
    assert tables["nodes"] == example["nodes"]
