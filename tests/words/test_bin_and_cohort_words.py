"""Every state, event and temperature of a bin or a cohort has its words in each language."""

from __future__ import annotations

from typing import get_args

import pytest

from monitor.bins.substrate import Zone
from monitor.charts.calendar import BREEDING, FEED
from monitor.development.events import Event
from monitor.development.forecast import Cause
from monitor.farm.bins import BinState
from monitor.farm.cohorts import Driven
from monitor.page.bins import SHAPES
from monitor.records import Stage
from monitor.settings.plan import OWN_MARK
from monitor.settings.species import Mark, available_substrates
from monitor.words.catalogue import LANGUAGES, catalogue, entry_id


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
    assert [key for key in keys if not catalogue(language).has(entry_id(key))] == []


def test_every_state_of_a_bin_has_a_shape_and_every_zone_is_a_state() -> None:
    assert set(SHAPES) == set(BinState)
    assert {zone.value for zone in Zone} <= {state.value for state in BinState}
