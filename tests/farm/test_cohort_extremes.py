"""What a person reads of a cohort in great heat and in the cold: list, report, due events, JSON."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from cohort_farm import NOW_MS, ZONE, CohortFarm, make_farm, printed_json

from monitor.cli.forecast import forecast_lines
from monitor.farm.cohorts import ForecastView, forecast_view
from monitor.farm.today import Outlook
from monitor.page.cohorts import cohort_card
from monitor.records import Stage
from monitor.store import Store
from monitor.words.localizer import DisplayPreferences, Localizer
from monitor.words.today import due_sections

Printed = pytest.CaptureFixture[str]
ENGLISH, FRENCH = (Localizer.plain(language, ZONE, NOW_MS) for language in ("en", "fr"))


def view_of(farm: CohortFarm) -> ForecastView:
    with Store.read_only(farm.database) as store:
        return forecast_view(store, farm.plan(), NOW_MS, 300)


def said_of(farm: CohortFarm, words: Localizer = ENGLISH) -> str:
    return "\n".join(forecast_lines(view_of(farm), words, 400))


def everywhere(temperature_c: float) -> Callable[[str, float], float]:
    return lambda *_: temperature_c


def pupae_at(folder: Path, temperature_c: float) -> CohortFarm:
    """Pupae of four days in a box of which the last two were so hot on the mean, with 2 °C up and down."""
    farm = make_farm(folder, lambda _, day: temperature_c if day > -2.0 else 27.0)
    farm.write("p", "start", 4.0, stage="pupa", place="box-1", animals=2000, purpose="breeding")
    return farm


def test_four_heats_are_four_sentences(tmp_path: Path) -> None:
    """36, 38, 41 and 45 °C said the same: "48 h above the heat limit: few or no flies may come out of it"."""
    said = {}
    for temperature_c in (36.0, 38.0, 41.0, 45.0):
        folder = tmp_path / f"{temperature_c:g}"
        folder.mkdir()
        text = said_of(pupae_at(folder, temperature_c))
        said[temperature_c] = text[text.index("h above the heat limit") :].partition("Rests on")[0]

    assert len(set(said.values())) == 4
    assert "live through this heat" in said[36.0] and "live through this heat" in said[38.0]
    assert all("hardly an animal lives through this heat" in said[t] for t in (41.0, 45.0))
    now = {t: text.partition("half of those that cannot flee die within ")[2] for t, text in said.items()}
    assert now[36.0] == "" and " h " in now[41.0] and " h " not in now[45.0] and "min" in now[45.0]


def test_larvae_of_a_hot_bin_grow_on_in_a_warm_room(tmp_path: Path) -> None:
    """They flee from a spot of 43 °C, so nothing of it is called damage; the same air around it kills."""
    warm, hot = tmp_path / "warm", tmp_path / "hot"
    for folder in (warm, hot):
        folder.mkdir()
    fleeing = make_farm(warm, lambda place, day: 43.0 if place == "bin-1" and day > -5.0 else 28.5)
    trapped = make_farm(hot, lambda _, day: 43.0 if day > -5.0 else 28.5)
    for farm in (fleeing, trapped):
        farm.write("l", "start", 8.0, stage="larva", place="bin-1", animals=2000, purpose="breeding")

    assert "heat" not in said_of(fleeing)
    assert "Next: first dark larvae" in said_of(fleeing)
    assert "hardly an animal lives through this heat" in said_of(trapped)


def test_a_bin_without_any_air_measured_is_taken_to_be_like_others(tmp_path: Path) -> None:
    measured = {"room-1": float("nan"), "bin-1": 40.0}
    farm = make_farm(tmp_path, lambda place, _: measured.get(place, 27.0))
    farm.write("l", "start", 8.0, stage="larva", place="bin-1", animals=2000)

    (view,) = view_of(farm).cohorts

    assert view.stage is Stage.LARVA and view.forecast is not None
    assert view.forecast.standstill is None


class TestCold:
    """It gave half emergence in 290 days at 14 °C and never said a word."""

    @pytest.fixture
    def farm(self, tmp_path: Path) -> CohortFarm:
        farm = make_farm(tmp_path, everywhere(13.5))
        farm.write("l", "start", 8.0, stage="larva", place="bin-1", animals=2000, purpose="breeding")
        return farm

    def test_in_the_list(self, farm: CohortFarm) -> None:
        said = said_of(farm)

        assert "Will not finish at this temperature: as larvae it would take more than 120 days." in said
        assert "Next:" not in said and "no day in sight" not in said
        assert "Nothing is due in the next seven days." in said

    def test_in_french(self, farm: CohortFarm) -> None:
        assert "N’aboutira pas à cette température : au stade larves" in said_of(farm, FRENCH)

    def test_on_the_page(self, farm: CohortFarm) -> None:
        (view,) = view_of(farm).cohorts
        words = Localizer(DisplayPreferences(), ZONE, NOW_MS)

        card = cohort_card(view, tuple(Stage), words)

        assert card.next == "" and card.lines == ()
        assert any("Will not finish" in warning for warning in card.warnings)

    def test_in_the_report_and_its_message(self, farm: CohortFarm) -> None:
        with Store.read_only(farm.database) as store:
            sections = due_sections(Outlook(store, farm.plan(), NOW_MS).today(), ENGLISH)

        lines = [line for section in sections for line in section.lines]
        assert any("l: will not finish at this temperature" in line for line in lines)

    def test_nothing_of_it_is_due(self, farm: CohortFarm) -> None:
        view = view_of(farm)

        assert (view.today, view.week, view.overdue, view.ask) == ((), (), (), None)

    def test_as_json(self, farm: CohortFarm, capsys: Printed) -> None:
        assert farm.ask("forecast", "l", "--json") == 0
        found = printed_json(capsys)["forecast"]

        assert found["standstill"] == {"stage": "larva", "cause": "cold"}
        assert found["heat_harm"] is None
        assert all(each["median"] is None for each in found["events"])

    def test_heat_as_json(self, tmp_path: Path, capsys: Printed) -> None:
        assert pupae_at(tmp_path, 36.0).ask("forecast", "p", "--json") == 0
        harm = printed_json(capsys)["forecast"]["heat_harm"]

        assert 0.0 <= harm["low"] < harm["lives"] < harm["high"] < 1.0
        assert harm["half_in_hours"] > 10.0
