"""What is said of the heat of a feeding bin: worth knowing, beside what is usual, and no alarm."""

from __future__ import annotations

from datetime import UTC

import numpy as np
import pytest

from monitor.climate.heat import USUAL_HOURS, HeatPast, heat_past
from monitor.records import MS_PER_HOUR
from monitor.words.bins import heat_past_text
from monitor.words.localizer import Localizer

T0 = 1_700_000_000_000 // MS_PER_HOUR * MS_PER_HOUR


def past(*means_c: float) -> HeatPast:
    hours_ms = T0 + np.arange(len(means_c)) * MS_PER_HOUR
    found = heat_past(hours_ms, np.array(means_c), np.array(means_c) + 0.4)
    assert found is not None
    return found


def test_hours_above_each_level_and_the_highest_are_counted() -> None:
    found = past(37.0, 38.0, 39.0, 41.0, 43.0, 39.0)
    assert found.hours_above == ((38.0, 4.0), (40.0, 2.0), (42.0, 1.0))
    assert (found.highest_c, found.highest_ms) == (pytest.approx(43.4), T0 + 4 * MS_PER_HOUR)
    assert heat_past(np.empty(0, dtype=np.int64), np.empty(0), np.empty(0)) is None


def test_a_bin_as_hot_as_good_batches_is_said_to_be_usual() -> None:
    text = heat_past_text(past(*[41.0] * 40, *[43.0] * 10), Localizer.plain("en", UTC, T0))
    assert "50 h above 38 °C, 50 h above 40 °C, 10 h above 42 °C" in text
    assert "That is usual" in text and "24–56 h above 40 °C" in text


@pytest.mark.parametrize("means_c", [[43.0] * 38, [41.0] * 57, [45.2]])
def test_hotter_or_longer_hot_is_said_to_be_more_than_usual(means_c: list[float]) -> None:
    assert "more than usual" in heat_past_text(past(*means_c), Localizer.plain("en", UTC, T0))
    assert "plus que d’habitude" in heat_past_text(past(*means_c), Localizer.plain("fr", UTC, T0))


def test_a_cool_bin_is_not_worth_a_word() -> None:
    assert heat_past_text(past(*[37.9] * 100), Localizer.plain("en", UTC, T0)) == ""


def test_the_longest_hot_comes_first() -> None:
    found = sorted((past(41.0), past(43.0), past(43.0, 43.0)), key=lambda each: each.heat_rank)
    assert [each.hours_above[-1][1] for each in found] == [0.0, 1.0, 2.0]


def test_what_is_usual_are_the_nine_measured_bins() -> None:
    """Alciatore et al. 2024, Waste Management, open data: least and most of nine bins over eight days."""
    assert USUAL_HOURS == {38.0: (39.0, 84.0), 40.0: (24.0, 56.0), 42.0: (0.0, 37.0)}
