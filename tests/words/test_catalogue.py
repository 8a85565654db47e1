"""The catalogue: all languages say the same things, and the page asks only for what is there."""

from __future__ import annotations

import ast
import inspect
import re
import string
import subprocess
import sys
import tomllib
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import get_args
from zoneinfo import ZoneInfo

import pytest
import typer.main
from command_help import help_texts
from pydantic import ValidationError
from settings_files import meanings

from monitor import errors
from monitor.alarms.rules import doubt_rules
from monitor.alarms.system import Watched, system_rules
from monitor.cli.app import COMMANDS, build_app, load_command
from monitor.notify.policy import RecipientPolicy
from monitor.page.app import PARTS
from monitor.records import QUANTITIES, AlarmEvent, PlaceKind
from monitor.settings.schema import Language, Settings
from monitor.terminal.context import ARGUMENTS, EXAMPLES, HELP_OPTION, OPTIONS
from monitor.words.catalogue import (
    ENGLISH,
    LANGUAGES,
    STAYS_ENGLISH,
    UNREAD,
    catalogue,
    entry_id,
    sentence_id,
)
from monitor.words.localizer import (
    DisplayPreferences,
    Localizer,
    entry,
    environment_language,
    preferred_language,
)

PACKAGE = Path(__file__).parents[2] / "monitor"
PAGE = PACKAGE / "page"
WORDS = PACKAGE / "words"
OTHERS = sorted(set(LANGUAGES) - {ENGLISH})
REASONS = (
    "a low alarm is acknowledged by clearing",
    "the place is suppressed by design",
    "its shelf still runs",
    "still out of limits",
    "it was said that no animals are in it",
    "farm.toml says that no animals are in it",
    "it was never heard; one alarm names all such boards",
    "the place was put aside for a while",
    "the board was put aside for a while",
    "the bin is finishing and meant to dry",
    "its setpoint was changed or its place newly filled a short while ago",
    "the place is in use",
    "the high limit itself is passed, and its own alarm stands",
    "one alarm about power or network stands for it",
    "the logbook says that the bin is finishing and meant to dry",
    "the bin is in use",
    "the reading is marked suspect",
    "not known when it sent while the monitor was away; the time of arrival was used",
)
NOW_MS = 1_790_000_000_000


def messages(language: str) -> Mapping[str, frozenset[str]]:
    """The entries of a language that have a key in the code: those that English has too."""
    english = catalogue(ENGLISH).variables()
    return {name: values for name, values in catalogue(language).variables().items() if name in english}


def entries_of(path: Path) -> set[str]:
    """The ids of the entries of one file."""
    return set(re.findall(r"^([a-zA-Z][\w-]*) *=", path.read_text(encoding="utf-8"), re.MULTILINE))


def may_stay_english(language: str) -> set[str]:
    """The entries that a language may lack: those of the files that are named, help, and settings keys."""
    if language not in STAYS_ENGLISH:
        return set()
    named = [WORDS / full / f"{stem}.ftl" for full in (ENGLISH, "fr") for stem in STAYS_ENGLISH[language]]
    free = {name for path in named if path.exists() for name in entries_of(path)}
    return free | {sentence_id(each) for each in (*help_sentences(), *meanings())}


def rule_sentences() -> list[str]:
    """Every sentence of the rules that come with the program, and the reasons that the journal gives."""
    rules = [dict(each) for path in (PACKAGE / "species").glob("*.toml") for each in _alarms(path)]
    spoken = [rule.get(key, "") for rule in rules for key in ("consequence", "response", "caution")]
    for rule in system_rules([Watched("node", 300.0, 3.4)], 6.0, copies_wanted=True, several_places=True):
        spoken += [rule.consequence, rule.response, rule.caution]
    spoken += [said for rule in doubt_rules(["bin-1"]) for said in (rule.consequence, rule.response)]
    rows = [row for path in (PACKAGE / "species").glob("*.toml") for row in _published(path)]
    spoken += [row.get(key, "") for row in rows for key in ("condition", "reason")]
    return [each for each in (*spoken, *REASONS) if each]


def error_sentences() -> list[str]:
    """The English of every error and of every `sentence(...)` in the program."""
    found = []
    for path in PACKAGE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.args:
                first = node.args[0]
                if _says(node.func.id) and isinstance(first, ast.Constant) and isinstance(first.value, str):
                    found.append(first.value)
    return found


def help_sentences() -> set[str]:
    """Every text that `--help` shows of the program, its commands and their options."""
    commands = [typer.main.get_command(build_app()), *(load_command(name) for name in COMMANDS)]
    found = {text for command in commands for text in help_texts(command)}
    return found | {HELP_OPTION, ARGUMENTS, OPTIONS, *(start.strip() for start in EXAMPLES)}


def _says(name: str) -> bool:
    error = getattr(errors, name, None)
    return name == "sentence" or (inspect.isclass(error) and issubclass(error, errors.MonitorError))


@pytest.mark.parametrize("language", OTHERS)
def test_a_language_has_every_message_with_its_values(language: str) -> None:
    english, free = catalogue(ENGLISH).variables(), may_stay_english(language)
    lacked = set(english) - set(messages(language))
    assert sorted(lacked - free) == []
    assert messages(language) == {name: values for name, values in english.items() if name not in lacked}


@pytest.mark.parametrize("language", OTHERS)
def test_a_language_has_every_sentence(language: str) -> None:
    sources = [path.read_text(encoding="utf-8") for path in PACKAGE.rglob("*.py")]
    assert [each for each in REASONS if not any(f'"{each}"' in source for source in sources)] == []
    spoken = {
        sentence_id(each) for each in (*rule_sentences(), *error_sentences(), *help_sentences(), *meanings())
    }
    known = set(catalogue(language).variables()) - set(messages(language))
    assert sorted(spoken - known - may_stay_english(language)) == []
    assert sorted(known - spoken) == [], "a translation of what nobody says any more"


def test_what_may_stay_english_is_named_openly() -> None:
    for language, stems in STAYS_ENGLISH.items():
        assert language not in (ENGLISH, "fr"), "English is whole, and French is what the list is made from"
        there = {path.stem for full in (ENGLISH, "fr") for path in (WORDS / full).glob("*.ftl")}
        assert stems <= there
        named = [WORDS / ENGLISH / f"{stem}.ftl" for stem in stems]
        free = {name for path in named if path.exists() for name in entries_of(path)}
        areas = {name.partition("-")[0] for name in free}
        shown = {"now", "night", "bins", "cohorts", "alarm", "message", "logbook", "nodes", "me", "login"}
        assert not areas & shown, "the page, messages and the report are in every language"


@pytest.mark.parametrize("language", sorted(STAYS_ENGLISH))
def test_a_gap_is_said_in_english(language: str) -> None:
    free = set(catalogue(ENGLISH).variables()) - set(catalogue(language).variables())
    gap = "demo-page"
    assert gap in free
    values = {"address": "http://127.0.0.1", "password": "x"}
    said, english = words(language), words(ENGLISH)
    assert said.has("demo.page")
    assert said.t("demo.page", **values) == english.t("demo.page", **values)
    with pytest.raises(KeyError):
        said.t("demo.no_such_entry")
    assert not said.has("demo.no_such_entry")


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_entry_can_be_said(language: str) -> None:
    for name, values in catalogue(language).variables().items():
        assert catalogue(language).format(name, dict.fromkeys(values, 2))


def test_a_language_that_nobody_uses_is_not_read() -> None:
    program = (
        "from zoneinfo import ZoneInfo; from monitor.words.catalogue import catalogue; "
        "from monitor.words.localizer import Localizer; "
        "Localizer.plain('fr', ZoneInfo('UTC'), 0).t('now.fine'); print(catalogue.cache_info().currsize)"
    )
    read = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert read.stdout.strip() == "1"


@pytest.mark.parametrize("language", LANGUAGES)
def test_an_entry_stands_once_in_all_files(language: str) -> None:
    texts = [path.read_text(encoding="utf-8") for path in (PACKAGE / "words" / language).glob("*.ftl")]
    entries = [name for text in texts for name in re.findall(r"^([a-zA-Z][\w-]*) *=", text, re.MULTILINE)]
    assert sorted({name for name in entries if entries.count(name) > 1}) == []


@pytest.mark.parametrize("language", OTHERS)
def test_a_translated_sentence_takes_the_values_of_the_english(language: str) -> None:
    known = catalogue(language).variables()
    wanted = {sentence_id(each): _fields(each) for each in error_sentences()}
    assert {name: known[name] for name in wanted if name in known} == {
        name: values for name, values in wanted.items() if name in known
    }


def _fields(english: str) -> frozenset[str]:
    return frozenset(name for _, name, _, _ in string.Formatter().parse(english) if name)


def _alarms(path: Path) -> list[dict[str, str]]:
    found = tomllib.loads(path.read_text(encoding="utf-8")).get("alarms", [])
    assert isinstance(found, list)
    return found


def _published(path: Path) -> list[dict[str, str]]:
    found = tomllib.loads(path.read_text(encoding="utf-8")).get("published", [])
    assert isinstance(found, list)
    return found


def test_the_page_asks_for_no_message_that_is_not_there() -> None:
    known = set(catalogue(ENGLISH).variables())
    asked = set()
    for path in (*PAGE.rglob("*.html"), *PAGE.glob("*.py")):
        text = path.read_text(encoding="utf-8")
        asked |= set(
            re.findall(r"""\b(?:t|n|problem)\((?:request, \d+, )?["']([a-z_]+\.[a-z_0-9]+)["']""", text)
        )
    assert len(asked) > 100
    assert sorted(key for key in asked if entry_id(key) not in known) == []


def test_names_that_are_put_together_are_there() -> None:
    known = set(catalogue(ENGLISH).variables())
    wanted = [f"event.{event}" for event in AlarmEvent]
    wanted += [f"kind.{kind}" for kind in PlaceKind]
    wanted += [f"quantity.{quantity}" for quantity in QUANTITIES]
    wanted += [f"part.{part.key}" for part in PARTS]
    assert [key for key in wanted if entry_id(key) not in known] == []


def words(language: str = "en", fahrenheit: bool = False) -> Localizer:
    return Localizer(DisplayPreferences(language, fahrenheit), ZoneInfo("Africa/Gaborone"), NOW_MS)


@pytest.mark.parametrize(
    ("quantity", "value", "against", "said"),
    [
        ("air_temperature", 21.04, None, "21.0 °C"),
        ("air_temperature", -0.04, None, "0.0 °C"),
        ("air_temperature", -5.0, None, "−5.0 °C"),
        ("air_temperature", 42.04, 42.0, "42.04 °C"),
        ("air_humidity", 61.4, None, "61 %"),
        ("substrate_moisture", 0.634, None, "63 %"),
        ("battery", 3.7, None, "3.70 V"),
        ("light", 1234.0, None, "1234 lx"),
        ("air_temperature", None, None, "no value"),
        ("air_temperature", float("nan"), None, "no value"),
        ("something_else", 1.5, None, "1.5"),
    ],
)
def test_values_as_people_read_them(
    quantity: str, value: float | None, against: float | None, said: str
) -> None:
    assert words().value(quantity, value, against).replace("\u00a0", " ") == said


def test_values_in_other_words() -> None:
    assert words("fr").value("air_temperature", 21.5) == "21,5\u00a0°C"
    assert words("en", True).value("air_temperature", 21.5) == "70.7\u00a0°F"
    assert words("en", True).limit("air_temperature", 42.0) == "107.6\u00a0°F"
    assert words("en", True).value("condensation_margin", 1.0) == "1.8\u00a0°F", "a difference has no 32"
    assert words("fr").n("now.need", 0) == "0 lieu a besoin de vous"
    assert words("en").n("now.need", 0) == "0 places need you"
    assert words("sw").value("air_temperature", 21.5) == "21.5\u00a0°C"
    assert words("sw").n("now.need", 1) == "Sehemu 1 inakuhitaji"
    assert words("sw").n("now.need", 2) == "Sehemu 2 zinakuhitaji"


def test_times_as_people_read_them() -> None:
    minute = 60_000
    assert words().length(20_000) == "less than a minute"
    assert words().length(90 * minute).replace("\u00a0", " ") == "1 h 30 min"
    assert words().length(2 * 1440 * minute) == "2 days"
    assert words().clock(NOW_MS - 3 * 1440 * minute).startswith("Fri ")
    assert words("fr").clock(NOW_MS - 30 * 1440 * minute).startswith("22 août")
    assert words("sw").clock(NOW_MS - 3 * 1440 * minute).startswith("Iju ")
    assert words("sw").clock(NOW_MS - 30 * 1440 * minute).startswith("22 Ago")
    for language in LANGUAGES:
        days = [words(language).weekday(date(2026, 11, 23 + day)) for day in range(7)]
        assert max(map(len, days)) <= 5 and len(set(days)) == 7, "seven fit on the axis of a phone"
    assert words("sw").length(90 * minute).replace("\u00a0", " ") == "saa 1 dk 30"
    assert words("sw").ago(NOW_MS - 4 * minute).replace("\u00a0", " ").endswith("(dk 4 zilizopita)")


@pytest.mark.parametrize(
    ("header", "language"),
    [
        ("fr", "fr"),
        ("FR-be,en", "fr"),
        ("de,fr;q=0.3", "fr"),
        ("", "en"),
        ("*", "en"),
        ("x" * 9999, "en"),
        ("sw-KE,en;q=0.8", "sw"),
    ],
)
def test_the_language_of_a_browser(header: str, language: str) -> None:
    assert preferred_language(header) == language


@pytest.mark.parametrize(
    ("environment", "language"),
    [
        ({}, "en"),
        ({"LANG": "fr_FR.UTF-8"}, "fr"),
        ({"LANG": "fr_FR.UTF-8", "LC_MESSAGES": "en_GB.UTF-8"}, "en"),
        ({"LANG": "en_GB.UTF-8", "LC_MESSAGES": "en_GB.UTF-8", "LC_ALL": "fr_CA"}, "fr"),
        ({"LANG": "fr_FR.UTF-8", "LC_ALL": ""}, "fr"),
        ({"LANG": "sw_TZ.UTF-8"}, "sw"),
        ({"LANG": "C.UTF-8"}, "en"),
        ({"LANG": "de_DE.UTF-8"}, "en"),
    ],
)
def test_the_language_of_a_terminal(environment: Mapping[str, str], language: str) -> None:
    assert environment_language(environment) == language


def test_the_settings_take_every_language_of_the_catalogue() -> None:
    assert set(get_args(Language)) == set(LANGUAGES)
    assert set(LANGUAGES) - {ENGLISH} >= UNREAD


def settings_with(site_language: str, recipient: Mapping[str, object]) -> Settings:
    site = {"id": "farm", "title": "Farm", "time_zone": "Africa/Gaborone", "language": site_language}
    person = {"id": "anna", "address": "folder:///tmp/anna", **recipient}
    return Settings.model_validate({"site": site, "recipients": [person]})


def test_messages_are_in_the_language_of_the_person_else_of_the_site() -> None:
    for site_language, recipient, language in (
        ("en", {}, "en"),
        ("fr", {}, "fr"),
        ("fr", {"language": "en"}, "en"),
        ("en", {"language": "fr"}, "fr"),
        ("sw", {}, "sw"),
        ("fr", {"language": "sw"}, "sw"),
    ):
        settings = settings_with(site_language, recipient)
        assert Localizer.of_site(settings, NOW_MS).language == site_language
        policy = RecipientPolicy.of(settings)
        assert policy.words(settings.recipients[0], NOW_MS).language == language
    with pytest.raises(ValidationError):
        settings_with("xx", {})


def test_plain_text_has_ordinary_spaces_and_signs() -> None:
    french = Localizer.plain("fr", ZoneInfo("Africa/Gaborone"), NOW_MS)
    assert french.value("air_temperature", -5.0) == "-5,0 °C"
    assert french.length(90 * 60_000) == "1 h 30 min"
    assert french.quantity_name("air_temperature") == "température de l’air"
    assert all("\u00a0" not in french.t(key, **values) for key, values in PLAIN_SAMPLES)


PLAIN_SAMPLES: tuple[tuple[str, dict[str, object]], ...] = (
    ("alarm.do", {}),
    ("length.ago", {"at": "02:10", "length": "4 min"}),
)


def test_a_number_and_its_unit_stay_on_one_line() -> None:
    lines = entry("- ", "Substrate of the third bin on the left: 42.6 °C now, and the limit is 42 °C.", 48)
    assert lines == ["- Substrate of the third bin on the left:", "  42.6 °C now, and the limit is 42 °C."]
    assert entry("Head: ", "", 80) == ["Head:"]


def test_every_reason_of_the_journal_is_among_those_that_are_translated() -> None:
    given = set()
    for path in (PACKAGE / "alarms").glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.keyword) and node.arg == "reason":
                given |= texts_of(node.value)
            if isinstance(node, ast.Assign) and any(
                isinstance(target, ast.Name) and target.id == "reason" for target in node.targets
            ):
                given |= texts_of(node.value)
    assert len(given) >= 5
    assert sorted(given - set(REASONS)) == []


def texts_of(value: ast.expr) -> set[str]:
    """The texts that stand in an expression as they are."""
    return {
        part.value
        for part in ast.walk(value)
        if isinstance(part, ast.Constant) and isinstance(part.value, str) and part.value
    }
