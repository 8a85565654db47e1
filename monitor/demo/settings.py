"""The settings file of the demo: the example farm, with messages that go into a folder."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from pathlib import Path

from monitor.demo.layout import SITE_TITLE
from monitor.settings.planning import PlainTables, saltbush_yard
from monitor.settings.template import render

KEEPER_ADDRESS, NEIGHBOUR_ADDRESS = "REARING_DEMO_KEEPER", "REARING_DEMO_NEIGHBOUR"

_NOTE = """\
Settings of the demo. Saltbush Yard, its boards and its people are invented; so is every reading.
Simulated time starts at {start}. Messages go into the folder {inbox}.
"""


def inbox_folder(folder: Path) -> Path:
    """Where the demo's messages are put, one folder for each person."""
    return folder / "inbox"


def demo_environment(folder: Path) -> Mapping[str, str]:
    """Addresses of the demo's people, as the settings ask for them in the environment."""
    inbox = inbox_folder(folder).resolve()
    return {
        KEEPER_ADDRESS: f"folder://{inbox / 'keeper'}",
        NEIGHBOUR_ADDRESS: f"folder://{inbox / 'neighbour'}",
    }


def demo_settings(folder: Path, port: int, start: datetime.datetime, page_port: int | None = None) -> str:
    """The demo's `farm.toml`: broker and page on these ports, store and inbox in this folder."""
    tables: PlainTables = saltbush_yard()
    tables["site"] = tables["site"] | {"title": SITE_TITLE}
    tables["store"] = {"path": str(folder / "rearing.sqlite")}
    tables["broker"] = {"embedded": False, "host": "127.0.0.1", "port": port}
    tables["recipients"] = [
        {"id": "keeper", "address_env": KEEPER_ADDRESS, "order": 1, "most_per_hour": 12},
        {
            "id": "neighbour",
            "address_env": NEIGHBOUR_ADDRESS,
            "order": 2,
            "priorities": ["high"],
            "night_report": False,
        },
    ]
    if page_port is not None:
        tables["page"] = {"enabled": True, "port": page_port}
    note = _NOTE.format(start=start.isoformat(" ", "minutes"), inbox=inbox_folder(folder))
    return render(tables, note)
