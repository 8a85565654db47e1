"""Every state, event and temperature of a bin or a cohort has its words in each language."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, get_args
from zoneinfo import ZoneInfo

import pytest

from monitor.bins.harvest import HarvestOutlook, LarvaeKg
from monitor.bins.substrate import Zone
from monitor.charts.calendar import BREEDING, FEED
from monitor.development.events import Event
from monitor.development.forecast import Cause
from monitor.farm.bins import BinState
from monitor.farm.cohorts import Driven
from monitor.page.bins import SHAPES
from monitor.records import MS_PER_DAY, MS_PER_HOUR, Stage
from monitor.settings.plan import OWN_MARK
from monitor.settings.species import Mark, available_substrates
from monitor.words import localizer
from monitor.words.bins import harvest_sentences
from monitor.words.catalogue import LANGUAGES, catalogue, entry_id
from monitor.words.localizer import Localizer

NOW_MS = 472_222 * MS_PER_HOUR


@pytest.mark.parametrize("language", LANGUAGES)
def test_what_is_put_together_is_there(language: str) -> None:
    zones = {zone.value for zone in Zone}
    keys = [f"zone.{zone}" for zone in Zone]
    keys += [f"bins.{state}" for state in BinState if state.value not in zones]
    keys += [f"driven.{driven}" for driven in Driven]
    keys += [f"seen.{event}" for event in Event]
    keys += [f"stage.{stage}" for stage in Stage]
    keys += [f"substrate.{name}" for name in available_substrates()]
    keys += [f"calendar.{event}" for event in BREEDING] + [f"calendar.feed_{event}" for event in FEED]
    keys += [f"cohorts.stands_{cause}" for cause in Cause]
    keys += [f"mark.{mark.replace(' ', '_')}" for mark in (*get_args(Mark), OWN_MARK)]
    keys += [f"published.{verdict}" for verdict in ("inside", "held", "outside")]
    keys += [f"published.from_{stage}" for stage in (Stage.EGG, Stage.LARVA, Stage.PREPUPA)]
    assert [key for key in keys if not catalogue(language).has(entry_id(key))] == []


def test_every_state_of_a_bin_has_a_shape_and_every_zone_is_a_state() -> None:
    assert set(SHAPES) == set(BinState)
    assert {zone.value for zone in Zone} <= {state.value for state in BinState}


# --- kilograms of larvae ---


def harvest(**changes: Any) -> HarvestOutlook:
    now, ripe = LarvaeKg(0.41, 0.523, 0.69, 52.0), LarvaeKg(4.51, 6.234, 8.42, 183.0)
    ripe_ms, until_ms = NOW_MS + 4 * MS_PER_DAY, NOW_MS + 10 * MS_PER_DAY
    return replace(
        HarvestOutlook(now, ripe, ripe_ms, until_ms, is_past=False, missing_feed_kg=0.0), **changes
    )


@pytest.mark.parametrize(
    ("language", "changes", "said"),
    [
        ("en", {}, "about 520 g now, and about 6.2 kg by {day} (4.5 kg to 8.4 kg), when they are heaviest."),
        ("en", {"ripe_ms": None}, "by {later} (4.5 kg to 8.4 kg); they grow on then."),
        ("en", {"is_past": True}, "about 520 g now (410 g to 690 g). They have been at their heaviest"),
        (
            "en",
            {"missing_feed_kg": 1.23},
            "about 1.2 kg of dry feed more. Without it they stay at about 180 mg.",
        ),
        ("fr", {}, "environ 520 g maintenant, et environ 6,2 kg d’ici {day} (de 4,5 kg à 8,4 kg)"),
        ("fr", {"missing_feed_kg": 1.23}, "environ 1,2 kg d’aliment sec de plus. Sans cela"),
    ],
)
def test_a_harvest_is_said_with_its_band_and_what_limits_it(
    language: str, changes: dict[str, Any], said: str
) -> None:
    words = Localizer.plain(language, ZoneInfo("UTC"), NOW_MS)
    expected = harvest(**changes)
    text = " ".join(harvest_sentences(expected, words)).replace("\u00a0", " ").replace("\u202f", " ")
    days = {"day": NOW_MS + 4 * MS_PER_DAY, "later": expected.until_ms}
    shown = {name: localizer.day(words, at_ms).replace("\u00a0", " ") for name, at_ms in days.items()}
    assert said.format(**shown) in text
    assert ("dry feed" in text or "aliment sec" in text) == bool(expected.missing_feed_kg)
