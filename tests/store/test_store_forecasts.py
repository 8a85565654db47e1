"""Forecasts as they were made: the first one of a day stays, whatever is said later that day."""

from __future__ import annotations

from pathlib import Path

from monitor.store import Store
from monitor.store.logbook import MadeForecast

FIRST = MadeForecast("c", "2026-09-22", "hatch", 100, 1000, 900, 1100)


def test_the_first_forecast_of_a_day_stays(tmp_path: Path) -> None:
    later = MadeForecast("c", "2026-09-22", "hatch", 200, 2000, 1900, 2100)
    other = MadeForecast("c", "2026-09-23", "hatch", 300, 1500, 1400, 1600)
    with Store.open(tmp_path / "rearing.sqlite") as store:
        assert not store.forecasts.has("2026-09-22")
        assert store.forecasts.keep([FIRST]) == 1
        assert store.forecasts.keep([later, other]) == 1
        assert store.forecasts.has("2026-09-22")
    with Store.read_only(tmp_path / "rearing.sqlite") as store:
        assert store.forecasts.every() == (FIRST, other)
        assert store.forecasts.every("d") == ()
