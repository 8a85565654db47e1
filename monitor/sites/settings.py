"""`sites.toml`: where the archive of many sites is, who may see which of them, and who is told of silence."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from fnmatch import fnmatchcase
from pathlib import Path
from zoneinfo import ZoneInfo

from pydantic import Field

from monitor.errors import Problem, Sentence, SettingsError, sentence
from monitor.records import MS_PER_MINUTE
from monitor.settings.consistency import Finding, wrong_time_zone
from monitor.settings.loading import check_as, user_folder
from monitor.settings.problems import Source
from monitor.settings.schema import (
    ArchiveSettings,
    Identifier,
    Language,
    Port,
    Positive,
    QuietHours,
    Recipient,
    Secret,
    Table,
    Text,
)

FILE_NAME = "sites.toml"
SYSTEM_FILE = Path("/etc/rearing-monitor") / FILE_NAME
VARIABLE = "REARING_SITES"
SECRETS: Mapping[str, tuple[str, ...]] = {
    "archive": ("token", "read_token"),
    "people": ("password", "address"),
}


class Right(StrEnum):
    """What a person may know of a site: everything, all but what it yields, or nothing."""

    FULL = "full"
    CARE = "care"
    NONE = "none"


class Group(Table):
    """The sites together: a cooperative, a family with several yards."""

    title: Text = "Sites"
    """name that stands above the overview and in messages"""
    time_zone: Text = "UTC"
    """time zone as region/city in which times are shown, and for quiet hours"""
    language: Language = "en"
    """language of messages and of the command line; the page follows each phone"""
    folder: Path = Path("sites")
    """folder for what was read last and for messages that wait; a relative path starts beside this file"""


class Watch(Table):
    """When a site counts as silent."""

    silent_minutes: Positive = 60.0
    """minutes without a sign of a site after which it counts as silent and people are told"""
    look_minutes: Positive = 1.0
    """minutes between two looks at the archive"""
    days_back: Positive = 30.0
    """days for which a site that fell silent stays in the overview; named sites stay for ever"""


class SitesPage(Table):
    """The page of the overview."""

    enabled: bool = True
    """false: `sites run` only watches"""
    listen: Text = "127.0.0.1"
    """address on which it listens; 127.0.0.1 is this computer alone, 0.0.0.0 every network of it"""
    port: Port = 8470
    """port on which it listens"""
    public_address: str = ""
    """web address under which phones reach the page; stands in messages"""
    proxies: tuple[Text, ...] = ()
    """addresses of a web server in front of the page; whose visitors it names is believed only from these"""


class KnownSite(Table):
    """What the archive does not know of a site. One that is named is awaited even if it never wrote."""

    id: Identifier
    """short name of the site, as in its own settings"""
    title: str = ""
    """name that people know it by; left out: the short name"""
    silent_minutes: Positive | None = None
    """minutes of silence for this site; left out: those of [watch]"""
    watched: bool = True
    """false: nobody is told when it falls silent, such as between two seasons"""


class Person(Table):
    """Somebody who sees the overview, or is told when a site falls silent, or both."""

    id: Identifier
    """short name of the person, also for logging in"""
    sites: dict[str, Right] = Field(default_factory=dict)
    """rights by site: { "*" = "full" } all; "care" without what is yielded; "none"; "north-*" for several"""
    password: Secret | None = None
    """password for the page, kept outside this file; without one the person cannot log in"""
    address: Secret | None = None
    """where messages go: an apprise URL like mailtos://..., kept outside this file"""
    language: Language | None = None
    """language of this person's messages; left out: that of the group"""
    quiet_hours: QuietHours | None = None
    """hours in which no message goes out: { start = "21:00", end = "05:30" }"""
    most_per_hour: int = Field(default=6, ge=1, le=1000)
    """messages in one hour; the rest is folded into one"""

    def right(self, site: str) -> Right:
        """What this person may know of a site: by its name, else by the longest pattern that fits."""
        if site in self.sites:
            return self.sites[site]
        fitting = (pattern for pattern in self.sites if fnmatchcase(site, pattern))
        return self.sites.get(max(fitting, key=len, default=""), Right.NONE)

    @property
    def recipient(self) -> Recipient | None:
        """The person as one to whom messages go; None without an address."""
        if self.address is None:
            return None
        return Recipient(
            id=self.id,
            address=self.address,
            language=self.language,
            quiet_hours=self.quiet_hours,
            most_per_hour=self.most_per_hour,
        )


class SitesSettings(Table):
    """The whole file, checked."""

    archive: ArchiveSettings
    group: Group = Field(default_factory=Group)
    watch: Watch = Field(default_factory=Watch)
    page: SitesPage = Field(default_factory=SitesPage)
    sites: tuple[KnownSite, ...] = ()
    people: tuple[Person, ...] = ()

    @property
    def zone(self) -> ZoneInfo:
        """The time zone in which people read times."""
        return ZoneInfo(self.group.time_zone)

    def known(self, site: str) -> KnownSite:
        """What is said of a site; the usual where it is not named."""
        return next((each for each in self.sites if each.id == site), KnownSite(id=site))

    def silent_after_ms(self, site: str) -> int:
        """After how much silence a site counts as silent."""
        minutes = self.known(site).silent_minutes or self.watch.silent_minutes
        return round(minutes * MS_PER_MINUTE)

    def person(self, name: str) -> Person | None:
        """The person of that name."""
        return next((each for each in self.people if each.id == name), None)


@dataclass(frozen=True, slots=True)
class SitesFile:
    """A settings file without a problem; `warnings` are about how its secrets are kept."""

    path: Path
    settings: SitesSettings
    warnings: tuple[Sentence, ...] = ()

    @property
    def folder(self) -> Path:
        """Where what was read last is kept."""
        return self.path.absolute().parent / self.settings.group.folder.expanduser()


def find(given: Path | None = None, environ: Mapping[str, str] = os.environ) -> Path:
    """The settings file: the given one, else ./sites.toml, the user's own, else that of the system."""
    named = environ.get(VARIABLE)
    candidates = (
        [given or Path(str(named))]
        if given or named
        else [Path(FILE_NAME), user_folder(environ) / FILE_NAME, SYSTEM_FILE]
    )
    for path in candidates:
        if path.is_file():
            return path
    raise SettingsError([_missing(candidates)])


def _missing(candidates: list[Path]) -> Problem:
    return Problem(
        ", ".join(str(path) for path in candidates),
        sentence("the settings file of many sites"),
        sentence("not there"),
        sentence("a file {name} with at least [archive] url and bucket", name=FILE_NAME),
        sentence("run `rearing-monitor sites init` to write one with every key explained"),
    )


def read(path: Path, environ: Mapping[str, str] = os.environ) -> SitesFile:
    """The settings; raises SettingsError with every problem at once."""
    source, settings, problems, warnings = check_as(SitesSettings, path, SECRETS, environ)
    if settings is not None:
        problems += list(_contradictions(settings, source, problems))
    if problems or settings is None:
        raise SettingsError(sorted(problems, key=lambda problem: problem.line or 0))
    return SitesFile(path, settings, tuple(warnings))


def _contradictions(settings: SitesSettings, source: Source, known: list[Problem]) -> Iterator[Problem]:
    """What cannot be as it stands, but nothing that was reported already."""
    reported = [str(problem.key).partition(" ")[0] for problem in known]
    for finding in _findings(settings):
        problem = source.problem(finding.location, finding.found, finding.allowed, finding.remedy)
        key = str(problem.key).partition(" ")[0]
        if not any(each == key or each.startswith(f"{key}.") for each in reported):
            yield problem


def _findings(settings: SitesSettings) -> Iterator[Finding]:
    yield from wrong_time_zone(settings.group.time_zone, ("group", "time_zone"))
    for table, names in (
        ("sites", [each.id for each in settings.sites]),
        ("people", [each.id for each in settings.people]),
    ):
        for index, name in enumerate(names):
            if name in names[:index]:
                yield Finding(
                    (table, index, "id"),
                    f'"{name}"',
                    sentence("a name that no other has"),
                    sentence("remove one of the two, or name it otherwise"),
                )
    for index, person in enumerate(settings.people):
        yield from _of_person(person, index)


def _of_person(person: Person, index: int) -> Iterator[Finding]:
    if not any(right is not Right.NONE for right in person.sites.values()):
        yield Finding(
            ("people", index, "sites"),
            sentence("no site"),
            sentence("the sites that this person may see, such as {example}", example='{ "*" = "full" }'),
            sentence("add a line beginning with: {key} =", key="sites"),
        )
    if person.password is None and person.address is None:
        yield Finding(
            ("people", index, "password"),
            sentence("missing, and so is {key}", key="address"),
            sentence("a password for the page, or an address for messages, or both"),
            sentence("add a line beginning with: {key} =", key="password_file"),
        )
