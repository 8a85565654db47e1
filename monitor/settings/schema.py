"""The settings as frozen records: names, meanings, defaults and limits of every key in `farm.toml`.

The text below each key is what the example file and the error messages tell a person (`problems`).
`loading` reads the file and its secrets; `consistency` checks what must fit together.
"""

from __future__ import annotations

import datetime
import re
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, SecretStr

from monitor.records import PlaceKind, Priority, Side, Stage

IDENTIFIER = r"^[A-Za-z0-9][A-Za-z0-9_.-]{0,39}$"
TOPIC = r"^[A-Za-z0-9_-]+(/[A-Za-z0-9_-]+)*$"
_CLOCK_TIME = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)(:00)?")


def _local_time(value: object) -> object:
    # pydantic alone would read 630 as seconds since midnight, which nobody who writes a settings file means.
    if isinstance(value, datetime.time):
        return value
    written = _CLOCK_TIME.fullmatch(value) if isinstance(value, str) else None
    if written is None:
        raise ValueError('a local time of day such as "06:30"')
    return datetime.time(int(written[1]), int(written[2]))


BOARD_INTERVALS_S = (10, 3600)
"""Limits of the board's program."""
BOARD_PROBE = r"^[A-Za-z0-9][A-Za-z0-9_.-]{0,15}$"
BoardProbe = Annotated[str, Field(pattern=BOARD_PROBE)]
Identifier = Annotated[str, Field(pattern=IDENTIFIER)]
Text = Annotated[str, Field(min_length=1)]
Secret = Annotated[SecretStr, Field(min_length=1)]
Positive = Annotated[float, Field(gt=0)]
NotNegative = Annotated[float, Field(ge=0)]
Port = Annotated[int, Field(ge=1, le=65535)]
Language = Literal["en", "fr", "sw"]
LocalTime = Annotated[datetime.time, BeforeValidator(_local_time)]


class Table(BaseModel):
    """A table of the file: unknown keys are errors, values cannot change after reading."""

    # The texts below the keys are read by `problems` when they are needed: to do it here slows every start.
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, defer_build=True)


class Site(Table):
    """The farm: one place on the map, one time zone."""

    id: Identifier
    """short name of the farm, part of every MQTT topic"""
    title: Text
    """name of the farm as it stands in messages and in the night report"""
    time_zone: Text
    """time zone of the farm as region/city, for the night report and quiet hours"""
    altitude_m: Annotated[float, Field(ge=-430, le=6000)] = 0.0
    """height above sea level in m; thinner air changes how fast things dry"""
    species: Identifier = "black_soldier_fly"
    """which insect lives here; decides the setpoints that alarms start from"""
    eggs_g_a_week: Annotated[float, Field(gt=0, le=100_000)] | None = None
    """grams of eggs wanted in a week, to sell and to hatch; says how many prepupae to keep, and by when"""
    language: Language = "en"
    """language of messages, the night report and the command line; the page follows each phone"""


class StoreSettings(Table):
    """Where readings are kept, and for how long."""

    path: Path = Path("rearing.sqlite")
    """the database file; a relative path starts at the folder of this file"""
    keep_raw_days: Annotated[int, Field(ge=7, le=36500)] = 400
    """how many days every single reading is kept; hourly summaries are kept for ever"""
    backup_folder: Path | None = None
    """folder for a copy each day, prepared once with `backup --prepare`; an alarm comes when copies fail"""
    backup_passphrase: Secret | None = None
    """passphrase that seals keys and passwords into copies, which else hold none; note it elsewhere too"""
    photos_mb: Annotated[int, Field(ge=0, le=900_000)] = 1000
    """room for photos of entries [MB], in a folder beside the database; when full, no more are taken"""


class BrokerSettings(Table):
    """The MQTT broker: the post office that the nodes send to and that this program reads from."""

    embedded: bool = False
    """true: this program runs a small broker of its own; false: a broker such as mosquitto runs already"""
    host: Text = "127.0.0.1"
    """computer on which the broker runs, unless embedded"""
    port: Port = 1883
    """port of the broker; with TLS it is usually 8883"""
    listen: Text = "0.0.0.0"
    """only if embedded: address on which it listens; 0.0.0.0 is every network of this computer"""
    protocol: Literal["auto", "5", "3.1.1"] = "auto"
    """version of MQTT; auto tries 5 first"""
    client_id: Identifier = "rearing-monitor"
    """name under which the broker keeps messages for this program while it is away; leave it alone"""
    topic_root: Annotated[str, Field(pattern=TOPIC)] = "rearing"
    """first part of every topic: {topic_root}/{site id}/{node}/readings"""
    username: str | None = None
    """user name at the broker, if it asks for one"""
    password: Secret | None = None
    """password at the broker, kept outside this file"""
    tls: bool = False
    """true: encrypted connection to the broker"""
    ca_file: Path | None = None
    """only with tls: certificate of the authority that signed the broker's certificate"""
    client_certificate: Path | None = None
    """only with tls: this program's own certificate, if the broker asks for one"""
    client_key: Path | None = None
    """only with tls: the private key of client_certificate"""
    session_days: Annotated[float, Field(gt=0, le=365)] = 7.0
    """days for which the broker keeps messages while this program is away"""
    keep_alive_s: Annotated[int, Field(ge=5, le=3600)] = 30
    """seconds after which a silent connection is tested"""
    boards_folder: Path = Path("boards")
    """folder of what boards need: the farm's own CA, the broker's certificate, the boards' cards"""
    boards_hosts: tuple[Text, ...] = ()
    """names and addresses under which boards find the broker, first the best; else those of this computer"""
    boards_port: Port = 8883
    """port at which boards find the broker, encrypted"""
    files: Path | None = None
    """folder from which mosquitto reads users and rules, written by `broker setup`; else others keep them"""


class PlainMapping(Table):
    """A board that already sends a bare number or one flat JSON object on a topic of its own."""

    topic: Text
    """its MQTT topic; {node} stands for one level and becomes the name of the node"""
    node: Identifier | None = None
    """name of the node, if the topic has no {node}"""
    field: str | None = None
    """name of the field, if the payload is a JSON object; left out for a bare number"""
    quantity: str
    """what the number is, such as air_temperature or air_humidity"""
    probe: str = ""
    """name of the probe, if the board has several of the same quantity"""
    unit: str | None = None
    """unit in which the board sends, if not the usual one: Cel, K, degF, %RH, /, lx, V, ppm"""
    scale: float = 1.0
    """the number is multiplied by this"""
    offset: float = 0.0
    """and then this is added"""


class IntakeSettings(Table):
    """What is taken in from the nodes."""

    plain: tuple[PlainMapping, ...] = ()
    """boards that do not send SenML; see [[intake.plain]]"""
    oldest_days: Annotated[float, Field(gt=0, le=400)] = 7.0
    """a reading older than so many days is dated by its arrival, and its node's clock is reported as wrong"""
    newest_minutes: Annotated[float, Field(gt=0, le=1440)] = 5.0
    """likewise a reading that claims to come from so many minutes in the future"""


class Place(Table):
    """A room, cage, tray, bin or box that is guarded."""

    id: Identifier
    """short name, also written on the box itself; never reuse one for another place"""
    kind: PlaceKind
    """what it is; decides what it is guarded for"""
    title: str = ""
    """name in messages; without one the id is used"""
    room: Identifier | None = None
    """id of the room in which it stands, if it stands in one"""
    stage: Stage | None = None
    """stage of the animals in it, if you want setpoints for that stage"""
    empty: bool = False
    """true: no animals in it, so no climate alarms"""
    finishing: bool = False
    """true: animals are about to be taken out; alarms about drying are held back"""
    response_minutes: Annotated[float, Field(gt=0, le=1440)] = 30.0
    """minutes that you need to be there and mend something; a bin is warned of that much earlier"""
    surface_colder_by_k: NotNegative | None = None
    """by how many K its coldest wall or lid is below its air, for the warning of condensation"""
    least_flies: NotNegative | None = None
    """of a love cage: living flies below which `supply` warns"""


class Node(Table):
    """A board with sensors."""

    id: Identifier
    """name of the board, as it stands in its topic"""
    place: Identifier | None = None
    """id of the place in which its sensors are; left out: stored, but guards nothing yet"""
    probes: dict[str, Identifier] = Field(default_factory=dict)
    """single probes that hang in another place than the board: { probe name = place id }"""
    measures: tuple[str, ...] = ()
    """what it measures, as quantity or probe/quantity; lets `check` say beforehand what is missing"""
    interval_s: Annotated[float, Field(gt=0, le=86400)] = 60.0
    """seconds between two measurements of the board, each sent at once unless send_every says otherwise"""
    send_every: Annotated[int, Field(ge=1, le=60)] = 1
    """measurements that are sent in one go; more of them save a battery, and alarms come that much later"""
    probe_codes: dict[str, BoardProbe] = Field(default_factory=dict)
    """names for its one-wire probes by the serial number in the report: { 28ff641dc1160364 = "p1" }"""
    buzzer: bool = True
    """false: the buzzer on the board stays quiet"""
    stale_after_s: Positive | None = None
    """seconds of silence after which it counts as silent; left out: worked out from interval_s"""
    battery_low_v: Positive | None = None
    """battery voltage in V below which you are told to charge it; left out for a board on the mains"""
    out_of_service: bool = False
    """true: taken out on purpose, its silence is no alarm"""

    @property
    def board_interval_s(self) -> int | None:
        """The interval as the board's program takes it; None where it would refuse it."""
        seconds = round(self.interval_s)
        low, high = BOARD_INTERVALS_S
        return seconds if seconds == self.interval_s and low <= seconds <= high else None

    @property
    def message_s(self) -> float:
        """Seconds between two sendings."""
        return self.interval_s * self.send_every


class OwnNumber(Table):
    """A number of your farm in place of one in the species file, for forecasts."""

    number: Text
    """name of the number as in the species file, such as thermal_constant_dd or female_life_days"""
    value: float
    """its value, in the unit at the end of its name"""
    stage: Stage | None = None
    """stage that it belongs to; left out for a number that belongs to none"""
    feed: Identifier | None = None
    """feed on which it holds, if the species file knows several; left out: on a feed that is not named"""
    source: str = ""
    """where it is from, so that you know it in a year"""


class RuleOverride(Table):
    """Change, add or remove one alarm of one place, or of every place of one kind."""

    place: Identifier | None = None
    """id of the place; give this or place_kind"""
    place_kind: PlaceKind | None = None
    """kind of place; give this or place"""
    quantity: str
    """what is watched: a measured quantity, or a computed one such as minutes_to_overheating"""
    side: Side
    """which side of the setpoint is the dangerous one"""
    priority: Priority = Priority.MEDIUM
    """how urgent; high comes at night too"""
    remove: bool = False
    """true: do not watch this at all"""
    setpoint: float | None = None
    """the alarm comes beyond this value, in the unit of the quantity; left out: as in the species file"""
    deadband: NotNegative | None = None
    """how far the value must come back before the alarm goes, in the unit of the quantity"""
    on_delay_minutes: NotNegative | None = None
    """minutes for which the value must be wrong before the alarm comes"""
    off_delay_minutes: NotNegative | None = None
    """minutes for which the value must be right before the alarm goes"""
    realarm_after_hours: NotNegative | None = None
    """hours in which an alarm that somebody has seen is told again only if it grew worse; 0: always"""
    realarm_step: NotNegative | None = None
    """how much worse that is, in the unit of the quantity"""
    consequence: str | None = None
    """what happens if nobody acts, for the message"""
    response: str | None = None
    """what the person should do, for the message"""
    caution: str | None = None
    """what to beware of while doing it, for the message"""


class QuietHours(Table):
    """Hours in which only `high` messages go out, local time; may span midnight."""

    start: LocalTime
    """when quiet begins, local time"""
    end: LocalTime
    """when quiet ends, local time"""


WEB_PUSH = "webpush://"
"""The address of a person who is reached by messages to the installed page alone."""


class Recipient(Table):
    """A person (or a shared phone) to whom messages go."""

    id: Identifier
    """short name of the person"""
    address: Secret
    """where messages go: an apprise URL like mailtos://..., kept outside this file; webpush:// is the page"""
    language: Language | None = None
    """language of this person's messages; left out: that of the farm"""
    order: Annotated[int, Field(ge=1)] = 1
    """1 is told first; 2 is told when nobody acknowledged in time, and so on"""
    priorities: tuple[Priority, ...] = (Priority.HIGH, Priority.MEDIUM)
    """which alarms this person gets"""
    quiet_hours: QuietHours | None = None
    """hours in which only high alarms go to this person: { start = "21:00", end = "05:30" }, local time"""
    night_report: bool = True
    """true: gets the night report in the morning"""
    most_per_hour: Annotated[int, Field(ge=1, le=1000)] = 6
    """messages in one hour; the rest is folded into one, but a new high alarm always goes out"""

    @property
    def by_page_alone(self) -> bool:
        """Whether only the page on this person's phone takes messages."""
        return self.address.get_secret_value().strip() == WEB_PUSH


class MessageSettings(Table):
    """When somebody else is told, when you are reminded, and who notices if this computer dies."""

    escalate_after_minutes: Positive = 15.0
    """minutes without acknowledgement after which the next person is told"""
    remind_after_minutes: Positive = 60.0
    """minutes after which an alarm that is still there is told again"""
    heartbeat_url: Secret | None = None
    """web address that is called while all is well, so that an outside service can notice silence"""
    heartbeat_minutes: Positive = 5.0
    """minutes between two such calls"""


class ReportSettings(Table):
    """The night report."""

    time: LocalTime = datetime.time(6, 30)
    """when it is sent, local time"""
    night_start: LocalTime = datetime.time(18, 0)
    """when the night begins that it reports on, local time"""
    enabled: bool = True
    """false: no report is sent; the command `night` still shows it"""


class PageSettings(Table):
    """The page for the phone."""

    enabled: bool = False
    """true: serve the page"""
    listen: Text = "127.0.0.1"
    """address on which it listens; 127.0.0.1 is this computer alone, 0.0.0.0 every network of it"""
    port: Port = 8460
    """port on which it listens"""
    https_port: Port | None = None
    """port on which it listens besides, encrypted, with a certificate of the farm's own CA (`page setup`)"""
    https_names: tuple[Text, ...] = ()
    """names and addresses under which phones find this computer, for its certificate; none: found"""
    password: Secret | None = None
    """password of the page, kept outside this file; needed before it may listen wider than 127.0.0.1"""
    public_address: str | None = None
    """web address under which your phone reaches the page; puts a link to acknowledge into messages"""
    proxies: tuple[Text, ...] = ()
    """addresses of a web server in front of the page; whose visitors it names is believed only from these"""


class ArchiveSettings(Table):
    """Readings, alarms and forecasts on a server of yours that speaks the InfluxDB v2 write API."""

    url: Text
    """web address of the server"""
    org: str = ""
    """organisation at the server, if it has them"""
    bucket: Text
    """bucket at the server"""
    token: Secret | None = None
    """access token, kept outside this file"""
    read_url: Text | None = None
    """web address at which the archive is read back, if that is another one"""
    read_token: Secret | None = None
    """access token for reading, if that is another one; kept outside this file"""
    kind: Literal["victoria", "influx2"] | None = None
    """what the server is, for reading; without it the server is asked"""
    batch: Annotated[int, Field(ge=1, le=50000)] = 2000
    """readings in one call"""
    lag_alarm_hours: Positive = 6.0
    """hours by which the copy may lag before you are told"""


class CopyPlace(Table):
    """A further place for the copy of each day, such as a second stick or a server."""

    id: Identifier
    """short name of the place"""
    folder: Path | None = None
    """a folder on a stick, a disk or a network drive; give this or url"""
    url: str | None = None
    """an address: sftp://user@host/folder, s3://bucket/folder, webdav://host/folder; give this or folder"""
    username: str | None = None
    """only with url: user name there, or the id of the key for S3"""
    password: Secret | None = None
    """only with url: password there, or the secret key for S3, kept outside this file"""
    options: dict[str, str | int | float | bool] = Field(default_factory=dict)
    """only with url: what else it needs, as fsspec names it: { endpoint_url = "https://..." }"""


class Prices(Table):
    """What the farm earns and pays; without this table nothing speaks of money."""

    currency: Annotated[str, Field(min_length=1, max_length=12)]
    """how the money is called beside an amount, such as P or EUR"""
    egg_gram: NotNegative | None = None
    """earned for a gram of eggs"""
    larvae_kg: NotNegative | None = None
    """earned for a kilogram of fresh larvae, or saved where they take the place of bought feed"""
    feed_kg: NotNegative | None = None
    """paid for a kilogram of feed as it is put in; feed that costs nothing is 0"""
    feeds: dict[str, NotNegative] = Field(default_factory=dict)
    """paid for a kilogram of feeds with another price: { bran = 0.5 }, named as in the logbook"""


class Settings(Table):
    """The whole file, checked."""

    site: Site
    store: StoreSettings = Field(default_factory=StoreSettings)
    broker: BrokerSettings = Field(default_factory=BrokerSettings)
    intake: IntakeSettings = Field(default_factory=IntakeSettings)
    places: tuple[Place, ...] = ()
    nodes: tuple[Node, ...] = ()
    rules: tuple[RuleOverride, ...] = ()
    own_numbers: tuple[OwnNumber, ...] = ()
    recipients: tuple[Recipient, ...] = ()
    messages: MessageSettings = Field(default_factory=MessageSettings)
    report: ReportSettings = Field(default_factory=ReportSettings)
    page: PageSettings = Field(default_factory=PageSettings)
    archive: ArchiveSettings | None = None
    copies: tuple[CopyPlace, ...] = ()
    prices: Prices | None = None
