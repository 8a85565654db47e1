"""The settings as frozen records: names, defaults and limits of every key in `farm.toml`.

Reading the file, secrets and the problem report are in `loading`; this module only says what is legal.
"""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, SecretStr

from monitor.records import PlaceKind, Priority, Side, Stage

Identifier = Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9_.-]{0,39}$")]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]


class Table(BaseModel):
    """A table of the file: unknown keys are errors, values cannot change after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Site(Table):
    """[site]: one farm, one time zone."""

    id: Identifier
    title: str
    time_zone: str
    altitude_m: Annotated[float, Field(ge=-430, le=6000)] = 0.0
    species: Identifier = "black_soldier_fly"


class StoreSettings(Table):
    """[store]: where readings are kept and for how long."""

    path: Path = Path("rearing.sqlite")
    keep_raw_days: Annotated[int, Field(ge=7, le=36500)] = 400
    backup_folder: Path | None = None


class BrokerSettings(Table):
    """[broker]: the MQTT broker that the nodes publish to."""

    embedded: bool = False
    host: str = "127.0.0.1"
    port: Annotated[int, Field(ge=1, le=65535)] = 1883
    listen: str = "0.0.0.0"
    protocol: Literal["auto", "5", "3.1.1"] = "auto"
    client_id: Identifier = "rearing-monitor"
    topic_root: Annotated[str, Field(pattern=r"^[A-Za-z0-9_-]+(/[A-Za-z0-9_-]+)*$")] = "rearing"
    username: str | None = None
    password: SecretStr | None = None
    tls: bool = False
    ca_file: Path | None = None
    client_certificate: Path | None = None
    client_key: Path | None = None
    session_days: Annotated[float, Field(gt=0, le=365)] = 7.0
    keep_alive_s: Annotated[int, Field(ge=5, le=3600)] = 30


class PlainMapping(Table):
    """[[intake.plain]]: a board that sends a bare number or flat JSON. `{node}` captures one topic level."""

    topic: str
    node: Identifier | None = None
    field: str | None = None
    quantity: str
    probe: str = ""
    unit: str | None = None
    scale: float = 1.0
    offset: float = 0.0


class IntakeSettings(Table):
    """[intake]: limits of what is taken in."""

    plain: tuple[PlainMapping, ...] = ()
    oldest_days: Annotated[float, Field(gt=0, le=400)] = 7.0
    newest_minutes: Annotated[float, Field(gt=0, le=1440)] = 5.0


class Place(Table):
    """[[places]]: one cage, tray, bin, box or room."""

    id: Identifier
    kind: PlaceKind
    title: str = ""
    room: Identifier | None = None
    stage: Stage | None = None
    empty: bool = False
    finishing: bool = False
    response_minutes: Annotated[float, Field(gt=0, le=1440)] = 30.0
    surface_colder_by_k: NotNegative | None = None


class Node(Table):
    """[[nodes]]: one board. `probes` puts single probes into other places than the board itself."""

    id: Identifier
    place: Identifier | None = None
    probes: dict[str, Identifier] = Field(default_factory=dict)
    interval_s: Annotated[float, Field(gt=0, le=86400)] = 60.0
    stale_after_s: Positive | None = None
    battery_low_v: Positive | None = None
    out_of_service: bool = False


class RuleOverride(Table):
    """[[rules]]: change, add or remove a rule of one place or of one kind of place."""

    place: Identifier | None = None
    place_kind: PlaceKind | None = None
    quantity: str
    side: Side
    priority: Priority = Priority.MEDIUM
    remove: bool = False
    setpoint: float | None = None
    deadband: NotNegative | None = None
    on_delay_minutes: NotNegative | None = None
    off_delay_minutes: NotNegative | None = None
    consequence: str | None = None
    response: str | None = None
    caution: str | None = None


class QuietHours(Table):
    """Hours in which only `high` messages go out, local time; may span midnight."""

    start: datetime.time
    end: datetime.time


class Recipient(Table):
    """[[recipients]]: a person or a channel. `address` is an apprise URL, read from the environment."""

    id: Identifier
    address: SecretStr
    order: Annotated[int, Field(ge=1)] = 1
    priorities: tuple[Priority, ...] = (Priority.HIGH, Priority.MEDIUM)
    quiet_hours: QuietHours | None = None
    night_report: bool = True
    most_per_hour: Annotated[int, Field(ge=1, le=1000)] = 6


class MessageSettings(Table):
    """[messages]: when the next person is told, when a reminder goes out, heartbeat to the outside."""

    escalate_after_minutes: Annotated[float, Field(gt=0)] = 15.0
    remind_after_minutes: Annotated[float, Field(gt=0)] = 60.0
    heartbeat_url: SecretStr | None = None
    heartbeat_minutes: Annotated[float, Field(gt=0)] = 5.0


class ReportSettings(Table):
    """[report]: the night report. The night runs from `night_start` to `time`."""

    time: datetime.time = datetime.time(6, 30)
    night_start: datetime.time = datetime.time(18, 0)
    enabled: bool = True


class PageSettings(Table):
    """[page]: the page for the phone."""

    enabled: bool = False
    listen: str = "127.0.0.1"
    port: Annotated[int, Field(ge=1, le=65535)] = 8460
    public_address: str | None = None


class ArchiveSettings(Table):
    """[archive]: any server that speaks the InfluxDB v2 write API."""

    url: str
    org: str = ""
    bucket: str
    token: SecretStr | None = None
    batch: Annotated[int, Field(ge=1, le=50000)] = 2000
    lag_alarm_hours: Positive = 6.0


class Settings(Table):
    """The whole file, checked."""

    site: Site
    store: StoreSettings = StoreSettings()
    broker: BrokerSettings = BrokerSettings()
    intake: IntakeSettings = IntakeSettings()
    places: tuple[Place, ...] = ()
    nodes: tuple[Node, ...] = ()
    rules: tuple[RuleOverride, ...] = ()
    recipients: tuple[Recipient, ...] = ()
    messages: MessageSettings = MessageSettings()
    report: ReportSettings = ReportSettings()
    page: PageSettings = PageSettings()
    archive: ArchiveSettings | None = None
