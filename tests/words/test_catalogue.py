"""The catalogue: both languages say the same things, and the page asks only for what is there."""

from __future__ import annotations

import re
import string
import tomllib
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from monitor.alarms.system import Watched, system_rules
from monitor.page.app import PARTS
from monitor.records import QUANTITIES, AlarmEvent, PlaceKind
from monitor.words.catalogue import ENGLISH, LANGUAGES, catalogue
from monitor.words.localizer import Wishes, Words, preferred_language

PACKAGE = Path(__file__).parents[2] / "monitor"
PAGE = PACKAGE / "views" / "page"
OTHERS = sorted(set(LANGUAGES) - {ENGLISH})
REASONS = (
    "a low alarm is acknowledged by clearing",
    "the place is suppressed by design",
    "its shelf still runs",
    "still out of limits",
    "the place is empty",
    "the bin is finishing and meant to dry",
    "its setpoint was changed or its place newly filled a short while ago",
    "the place is in use",
    "the high limit itself is passed, and its own alarm stands",
)
NOW_MS = 1_790_000_000_000


def fields(message: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(message) if name}


@pytest.mark.parametrize("language", OTHERS)
def test_a_language_has_every_message_with_its_values(language: str) -> None:
    english, other = catalogue(ENGLISH).messages, catalogue(language).messages
    assert set(other) == set(english)
    assert {key: fields(text) for key, text in other.items()} == {
        key: fields(text) for key, text in english.items()
    }


@pytest.mark.parametrize("language", OTHERS)
def test_a_language_has_every_sentence_of_the_rules(language: str) -> None:
    rules = [dict(each) for path in (PACKAGE / "species").glob("*.toml") for each in _alarms(path)]
    spoken = [rule.get(key, "") for rule in rules for key in ("consequence", "response", "caution")]
    for rule in system_rules([Watched("node", 300.0, 3.4)], archive_lag_hours=6.0):
        spoken += [rule.consequence, rule.response, rule.caution]
    sources = [path.read_text(encoding="utf-8") for path in PACKAGE.rglob("*.py")]
    assert [each for each in REASONS if not any(f'"{each}"' in source for source in sources)] == []
    spoken += REASONS
    known = catalogue(language).texts
    assert [text for text in spoken if text and text not in known] == []
    assert [text for text in known if text not in spoken] == [], "a translation of what nobody says any more"


def _alarms(path: Path) -> list[dict[str, str]]:
    found = tomllib.loads(path.read_text(encoding="utf-8")).get("alarms", [])
    assert isinstance(found, list)
    return found


def test_the_page_asks_for_no_message_that_is_not_there() -> None:
    known = catalogue(ENGLISH).messages
    plural = {key.rpartition(".")[0] for key in known if key.endswith((".one", ".other"))}
    asked = set()
    for path in (*PAGE.rglob("*.html"), *PAGE.glob("*.py")):
        text = path.read_text(encoding="utf-8")
        asked |= set(
            re.findall(r"""\b(?:t|n|problem)\((?:asked, \d+, )?["']([a-z_]+\.[a-z_0-9]+)["']""", text)
        )
    assert len(asked) > 100
    assert asked - set(known) - plural == set()


def test_names_that_are_put_together_are_there() -> None:
    known = catalogue(ENGLISH).messages
    wanted = [f"event.{event}" for event in AlarmEvent]
    wanted += [f"kind.{kind}" for kind in PlaceKind]
    wanted += [f"quantity.{quantity}" for quantity in QUANTITIES]
    wanted += [f"part.{part.key}" for part in PARTS]
    assert [key for key in wanted if key not in known] == []


def words(language: str = "en", fahrenheit: bool = False) -> Words:
    return Words(Wishes(language, fahrenheit), ZoneInfo("Africa/Gaborone"), NOW_MS)


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


def test_times_as_people_read_them() -> None:
    minute = 60_000
    assert words().length(20_000) == "less than a minute"
    assert words().length(90 * minute).replace("\u00a0", " ") == "1 h 30 min"
    assert words().length(2 * 1440 * minute) == "2 days"
    assert words().clock(NOW_MS - 3 * 1440 * minute).startswith("Fri ")
    assert words("fr").clock(NOW_MS - 30 * 1440 * minute).startswith("22 août")


@pytest.mark.parametrize(
    ("header", "language"),
    [("fr", "fr"), ("FR-be,en", "fr"), ("de,fr;q=0.3", "fr"), ("", "en"), ("*", "en"), ("x" * 9999, "en")],
)
def test_the_language_of_a_browser(header: str, language: str) -> None:
    assert preferred_language(header) == language
