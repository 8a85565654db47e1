"""From logbook and readings to what a person reads of a bin."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from bin_builders import DAY_MS, MOISTURE, put_days
from cli_farm import AIR, BIN, Farm, make_farm, message, now_ms, put, reading

from monitor.bins.events import Finishing
from monitor.bins.lessons import UNKNOWN_FARM
from monitor.bins.probe import ProbePoint, ProbeState
from monitor.bins.substrate import MoistureBands
from monitor.charts.bin import bin_svg
from monitor.cli.bins import list_lines
from monitor.farm.bins import BinState, BinView, bins_view, keep_lessons
from monitor.farm.book import book_of, factor_prior, kept_lessons
from monitor.farm.entries import calibration_entry
from monitor.farm.places import SiteReader, site_now
from monitor.farm.today import Outlook
from monitor.logbook.entry import WITHDRAWN
from monitor.records import MS_PER_HOUR, MS_PER_MINUTE, Batch, LogbookEntry, SubjectKind
from monitor.store import Store
from monitor.words.bins import bin_sentences, bin_summary, filling_words
from monitor.words.localizer import Localizer
from monitor.words.places import now_lines
from monitor.words.today import Section, due_sections

PROBE_DRY = "bin-1/substrate_moisture/low/medium"
FILL: dict[str, Any] = {
    "kg": 10.4,
    "moisture": 0.70,
    "surface_m2": 0.24,
    "depth_m": 0.08,
    "larvae": 5000,
    "age_days": 7,
}
POINTS = tuple(
    ProbePoint(raw, moisture) for raw, moisture in ((0.4, 0.4), (0.5, 0.5), (0.6, 0.6), (0.7, 0.7))
)

DRIER = """
[[rules]]
place = "bin-1"
quantity = "substrate_moisture"
side = "low"
priority = "medium"
setpoint = 0.5
"""


def _write(farm: Farm, kind: str, at_ms: int, place: str = "bin-1", **body: Any) -> None:
    with farm.store() as store:
        store.logbook.add(LogbookEntry(SubjectKind.BIN, place, kind, at_ms, at_ms, "me", body))


def _view(farm: Farm, at_ms: int, place: str = "bin-1") -> BinView:
    with farm.store() as store:
        found = bins_view(store, farm.plan(), at_ms).of(place)
    assert found is not None
    return found


def _text(farm: Farm, view: BinView) -> str:
    words = Localizer.plain("en", farm.plan().zone, view.now_ms)
    return "\n".join(bin_sentences(view, words))


@pytest.fixture
def filled(farm: Farm) -> tuple[Farm, int]:
    """Three days of readings, and a bin that was filled two days ago."""
    end_ms = put_days(farm)
    _write(farm, "fill", end_ms - 2 * DAY_MS, **FILL)
    return farm, end_ms


def test_a_bin_says_how_moist_how_fast_how_long_and_how_much(filled: tuple[Farm, int]) -> None:
    view = _view(*filled)
    found = view.outlook
    assert found is not None and found.to_limit is not None and found.to_warning is not None
    assert found.low < found.median < found.high < 0.76
    assert 0.0 < found.loss.low_g_h < found.loss.median_g_h < found.loss.high_g_h
    assert found.to_warning.earliest_h < found.to_limit.earliest_h <= found.to_limit.median_h
    assert view.usual_day
    assert view.fill.facts.probe_depth_m == 0.04


def test_water_gives_hours_and_takes_litres_away(filled: tuple[Farm, int]) -> None:
    farm, end_ms = filled
    _write(farm, "test", end_ms - MS_PER_HOUR, moisture=0.55)
    before = _view(farm, end_ms).outlook
    _write(farm, "water", end_ms, kg=1.0)
    after = _view(farm, end_ms).outlook
    assert before is not None and after is not None and before.to_limit and after.to_limit
    assert after.litres == pytest.approx(before.litres - 1.0, abs=0.1)
    assert after.to_limit.earliest_h > before.to_limit.earliest_h + 5


def test_a_weighing_narrows_the_band_of_the_rate(filled: tuple[Farm, int]) -> None:
    farm, end_ms = filled
    before = _view(farm, end_ms).outlook
    _write(farm, "weigh", end_ms - MS_PER_HOUR, kg=9.4)
    after = _view(farm, end_ms).outlook
    assert before is not None and after is not None
    assert after.factor_log_sd < 0.6 * before.factor_log_sd
    assert after.observations == 1


def test_the_air_of_the_room_stands_in_and_without_any_the_reason_is_said(farm: Farm) -> None:
    end_ms = now_ms()
    put(farm, reading(BIN, end_ms - MS_PER_MINUTE, 31.0))
    _write(farm, "fill", end_ms - DAY_MS, **FILL)
    view = _view(farm, end_ms)
    assert view.outlook is None
    assert view.state is BinState.UNKNOWN
    assert "cannot be worked out: no reading of air temperature and humidity" in _text(farm, view)


def test_few_hours_of_readings_are_enough_and_it_is_said(farm: Farm) -> None:
    end_ms = put_days(farm, 0.2)
    _write(farm, "fill", end_ms - DAY_MS, **FILL)
    view = _view(farm, end_ms)
    assert view.outlook is not None and not view.usual_day
    text = _text(farm, view)
    assert "Too little was measured to know a usual day" in text
    assert "without readings were filled in" in text


def test_a_finishing_bin_has_no_hours(filled: tuple[Farm, int]) -> None:
    farm, end_ms = filled
    _write(farm, "finish", end_ms - MS_PER_HOUR)
    view = _view(farm, end_ms)
    assert isinstance(view.fill.events[0], Finishing)
    assert view.outlook is not None and view.outlook.to_limit is None
    assert view.earliest_dry_h is None
    assert "does not alarm as too dry" in _text(farm, view)


def test_heat_has_excess_trend_and_minutes_to_the_limit(farm: Farm) -> None:
    # Midnight, so that the air does not depend on the hour at which the test runs.
    end_ms = put_days(farm, end_ms=now_ms() // DAY_MS * DAY_MS - DAY_MS)
    rising = [reading(BIN, end_ms + minute * MS_PER_MINUTE, 30.0 + 0.1 * minute) for minute in range(1, 61)]
    with farm.store() as store:
        store.commit(Batch(end_ms, tuple(message(each) for each in rising)))
    at_ms = end_ms + 60 * MS_PER_MINUTE
    put(farm, reading(AIR, at_ms, 27.0))
    _write(farm, "fill", end_ms - 2 * DAY_MS, **FILL)
    heat = _view(farm, at_ms).heat
    assert heat is not None and heat.median_min is not None and heat.earliest_min is not None
    assert heat.slope_c_per_h == pytest.approx(6.0, abs=0.1)
    assert heat.limit_c == 42.0
    assert heat.median_min == pytest.approx(60.0, abs=3.0)
    assert heat.excess_k is not None and heat.excess_k > 8.0
    assert heat.made_w_m2 is not None and heat.made_w_m2 > 0.0


def test_heat_comes_first_whatever_is_not_known(farm: Farm) -> None:
    """One reading of 45 °C, no trend, no air: it is too hot, and that is said in the list."""
    end_ms = now_ms()
    put(farm, reading(BIN, end_ms - MS_PER_MINUTE, 45.0))
    _write(farm, "fill", end_ms - DAY_MS, **FILL)
    view = _view(farm, end_ms)
    assert view.state is BinState.TOO_HOT
    said = bin_summary(view, Localizer.plain("en", farm.plan().zone, end_ms))
    assert said.startswith("Too hot. ") and "45.0 °C" in said


def test_above_the_limit_without_a_trend_is_too_hot(filled: tuple[Farm, int]) -> None:
    farm, end_ms = filled
    at_ms = end_ms + 2 * MS_PER_HOUR
    put(farm, *(reading(BIN, at_ms - minute * MS_PER_MINUTE, 42.5) for minute in range(3)))
    view = _view(farm, at_ms)
    assert view.heat is not None and view.heat.earliest_min is None
    assert view.state is BinState.TOO_HOT
    put(farm, *(reading(BIN, at_ms + (60 + minute) * MS_PER_MINUTE, 41.5) for minute in range(3)))
    assert _view(farm, at_ms + 62 * MS_PER_MINUTE).state is not BinState.TOO_HOT


def test_a_probe_is_an_index_until_it_is_calibrated(filled: tuple[Farm, int]) -> None:
    farm, end_ms = filled
    put(farm, reading(MOISTURE, end_ms, 0.50))
    before = _view(farm, end_ms)
    assert before.probe is not None and before.probe.reading.state is ProbeState.INDEX
    with farm.store() as store:
        store.logbook.add(calibration_entry(MOISTURE, POINTS, (0.0, 1.0), end_ms - DAY_MS, "me"))
    after = _view(farm, end_ms)
    assert after.probe is not None and after.probe.reading.moisture == pytest.approx(0.5, abs=0.01)
    assert before.outlook is not None and after.outlook is not None
    assert after.outlook.median < before.outlook.median - 0.02, "it counts as a doubtful observation"


@pytest.mark.parametrize(("raw", "calibrated"), [(0.46, True), (0.30, False), (0.62, True)])
def test_one_figure_of_moisture_on_every_surface(
    filled: tuple[Farm, int], raw: float, calibrated: bool
) -> None:
    """Now, the list of places, an alarm, the list of bins, one bin, and the morning say the same share."""
    farm, end_ms = filled
    _write(farm, "test", end_ms - MS_PER_HOUR, moisture=0.5)
    put(farm, reading(MOISTURE, end_ms, raw))
    with farm.store() as store:
        if calibrated:
            store.logbook.add(calibration_entry(MOISTURE, POINTS, (0.0, 1.0), end_ms - DAY_MS, "me"))
        plan = farm.plan()
        site = site_now(store, plan, end_ms)
        alarm = SiteReader(store, plan, end_ms).alarm(PROBE_DRY)
        due = "\n".join(_sections(store, farm, end_ms)[0].lines)
    view, words = _view(farm, end_ms), Localizer.plain("en", farm.plan().zone, end_ms)
    assert view.moisture is not None
    share = words.value("substrate_moisture", view.moisture.share)
    basis = "by the probe" if calibrated else "worked out from what was entered"
    assert share != words.value("substrate_moisture", raw), "the figure is not the bare reading"
    said = " ".join(line.text for line in now_lines(site, words, 400))
    assert f"moisture {share} ({basis})" in said
    assert alarm.value == view.moisture.share
    for text in (bin_summary(view, words), _text(farm, view)):
        assert f"{share} (" in text and basis in text
    assert share in due and basis in due


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("weigh", {"kg": 9.4}),
        ("water", {"kg": 1.0}),
        ("test", {"moisture": 0.5}),
        ("finish", {}),
        ("feed", {"kg": 2.0, "moisture": 0.6}),
    ],
)
@pytest.mark.parametrize("raw", [None, 0.46, 0.62])
def test_the_figure_without_the_days_to_come_is_that_of_the_whole_view(
    filled: tuple[Farm, int],
    monkeypatch: pytest.MonkeyPatch,
    kind: str,
    body: dict[str, Any],
    raw: float | None,
) -> None:
    """A list of places shows the same share to the last digit, and looks at nothing that lies ahead."""
    farm, end_ms = filled
    _write(farm, kind, end_ms - MS_PER_HOUR, **body)
    view_before_reading = _view(farm, end_ms).moisture
    if raw is not None:
        put(farm, reading(MOISTURE, end_ms, raw))
        with farm.store() as store:
            store.logbook.add(calibration_entry(MOISTURE, POINTS, (0.0, 1.0), end_ms - DAY_MS, "me"))
    whole = _view(farm, end_ms).moisture
    looked_ahead: list[object] = []
    monkeypatch.setattr("monitor.farm.bins.outlook", lambda *ahead: looked_ahead.append(ahead))
    with farm.store() as store:
        places = Outlook(store, farm.plan(), end_ms)
        alone, of_no_bin = places.moisture_of("bin-1"), places.moisture_of("bin-2")
        site_now(store, farm.plan(), end_ms)
    assert alone == whole is not None
    assert (alone != view_before_reading) is (raw is not None)
    assert of_no_bin is None
    assert not looked_ahead


def test_what_a_probe_said_later_is_not_known_earlier(filled: tuple[Farm, int]) -> None:
    farm, end_ms = filled
    with farm.store() as store:
        store.logbook.add(calibration_entry(MOISTURE, POINTS, (0.0, 1.0), end_ms - DAY_MS, "me"))
    put(farm, reading(MOISTURE, end_ms - MS_PER_HOUR, 0.50))
    before = _view(farm, end_ms - MS_PER_HOUR).moisture
    put(farm, reading(MOISTURE, end_ms, 0.42))
    assert _view(farm, end_ms - MS_PER_HOUR).moisture == before
    assert _view(farm, end_ms).moisture != before


@pytest.mark.parametrize(
    ("raw", "said"),
    [(0.03, "stands in air or was pulled out"), (0.9, "not a moisture until it is calibrated")],
)
def test_what_a_probe_cannot_tell_is_said(filled: tuple[Farm, int], raw: float, said: str) -> None:
    farm, end_ms = filled
    put(farm, reading(MOISTURE, end_ms, raw))
    assert said in _text(farm, _view(farm, end_ms))


def test_an_old_word_of_a_probe_does_not_count(filled: tuple[Farm, int]) -> None:
    farm, end_ms = filled
    put(farm, reading(MOISTURE, end_ms - 5 * MS_PER_HOUR, 0.5))
    view = _view(farm, end_ms)
    assert view.probe is not None and not view.probe.fresh
    assert "no fresh reading" in _text(farm, view)


def test_a_dry_limit_of_the_settings_is_taken(tmp_path: Any) -> None:
    farm = make_farm(tmp_path, more=DRIER)
    end_ms = put_days(farm, 1.0)
    _write(farm, "fill", end_ms - DAY_MS, **FILL)
    view = _view(farm, end_ms)
    assert view.bands == replace(MoistureBands(), dry_limit=0.5)


def test_the_list_begins_with_what_dries_first(tmp_path: Any) -> None:
    farm = make_farm(tmp_path)
    farm.config.write_text(
        farm.config.read_text().replace("empty = true", 'room = "room-1"'), encoding="utf-8"
    )
    end_ms = put_days(farm)
    _write(farm, "fill", end_ms - DAY_MS, **FILL)
    _write(
        farm, "fill", end_ms - DAY_MS, place="bin-2", kg=3.0, moisture=0.58, surface_m2=0.24, moisture_sd=0.01
    )
    with farm.store() as store:
        view = bins_view(store, farm.plan(), end_ms)
    assert [each.place for each in view.bins] == ["bin-2", "bin-1"]
    lines = list(list_lines(view, Localizer.plain("en", farm.plan().zone, end_ms), 200))
    assert lines[0].startswith("bin-2 (bin-2): ") and "Add " in lines[0]


def test_the_night_report_lists_what_to_water_in_order_with_litres(filled: tuple[Farm, int]) -> None:
    farm, end_ms = filled
    _write(farm, "test", end_ms - MS_PER_HOUR, moisture=0.5)
    with farm.store() as store:
        section = _sections(store, farm, end_ms)[0]
    assert section.title == "Today, in this order"
    assert "litres" in section.lines[0] and section.lines[0].startswith("- bin-1: ")


def _sections(store: Store, farm: Farm, at_ms: int) -> list[Section]:
    plan = farm.plan()
    return due_sections(Outlook(store, plan, at_ms).today(), Localizer.of_site(plan.settings, at_ms))


def test_the_record_of_a_place_holds_heat_and_moisture_of_its_bin(filled: tuple[Farm, int]) -> None:
    farm, end_ms = filled
    view = _view(farm, end_ms)
    with farm.store() as store:
        place = SiteReader(store, farm.plan(), end_ms).place("bin-1")
        assert place.bin is not None and place.moisture is not None and view.outlook is not None
        assert (place.heat, place.moisture.litres) == (view.heat, view.outlook.litres)
        assert place.moisture.to_limit == view.outlook.to_limit


def test_the_night_report_says_when_nothing_needs_water_and_nothing_without_bins(farm: Farm) -> None:
    end_ms = put_days(farm)
    with farm.store() as store:
        assert _sections(store, farm, end_ms) == []
    _write(farm, "fill", end_ms - MS_PER_HOUR, **FILL)
    with farm.store() as store:
        assert _sections(store, farm, end_ms)[0].lines == ("- none needs water before tomorrow",)


def test_too_wet_asks_for_dry_bran(farm: Farm) -> None:
    end_ms = put_days(farm)
    _write(farm, "fill", end_ms - MS_PER_HOUR, **{**FILL, "moisture": 0.88})
    view = _view(farm, end_ms)
    assert view.outlook is not None and view.outlook.bran_kg > 1.0
    with farm.store() as store:
        assert "of dry bran" in _sections(store, farm, end_ms)[0].lines[0]


def test_damp_walls_are_told_after_a_day(tmp_path: Any) -> None:
    farm = make_farm(tmp_path)
    text = farm.config.read_text().replace(
        'title = "Tin room"', 'title = "Tin room"\nsurface_colder_by_k = 12'
    )
    farm.config.write_text(text, encoding="utf-8")
    end_ms = put_days(farm)
    with farm.store() as store:
        lines = _sections(store, farm, end_ms)[0].lines
    assert any("Tin room: coldest surface at 80 % or more" in line for line in lines)


def test_nothing_in_the_text_is_a_number_that_is_none(filled: tuple[Farm, int]) -> None:
    farm, end_ms = filled
    view, words = _view(farm, end_ms), Localizer.plain("en", farm.plan().zone, end_ms)
    text = "\n".join((bin_summary(view, words), filling_words(view, words), *bin_sentences(view, words)))
    assert "nan" not in text and "None" not in text
    assert "10.4 kg of wheat bran at 70 %, 0.24 m², 5000 larvae" in text


def test_a_bin_is_told_in_french_too(filled: tuple[Farm, int]) -> None:
    farm, end_ms = filled
    view, words = _view(farm, end_ms), Localizer.plain("fr", farm.plan().zone, end_ms)
    text = "\n".join((bin_summary(view, words), filling_words(view, words), *bin_sentences(view, words)))
    for said in ("Humidité actuelle : ", "Il perd ", "Limite sèche (45 %) : ", "Chaleur : ", "son de blé"):
        assert said in text
    for english in ("Moisture", "It loses", "limit", "wheat", "larvae"):
        assert english not in text
    assert "humidité" in bin_svg(view, words)


# --- what fills teach each other ---


def _taught(farm: Farm, now_ms: int) -> None:
    with farm.store() as store:
        while keep_lessons(store, farm.plan(), now_ms, book_of(store, farm.plan(), now_ms)):
            pass


def test_a_fill_that_was_weighed_teaches_the_next_and_not_itself(farm: Farm) -> None:
    end_ms = put_days(farm, 6.0)
    _write(farm, "fill", end_ms - 5 * DAY_MS, **FILL)
    _write(farm, "weigh", end_ms - 3 * DAY_MS, kg=float(FILL["kg"]) - 1.0)
    _taught(farm, end_ms)
    with farm.store() as store:
        mine = book_of(store, farm.plan(), end_ms).standing[0]
        assert factor_prior(store, mine) == UNKNOWN_FARM
    _write(farm, "empty", end_ms - 2 * DAY_MS)
    _write(farm, "fill", end_ms - DAY_MS, **FILL)
    after = _view(farm, end_ms)
    assert after.rests is not None and after.rests.taught.fills == 1
    assert after.outlook is not None and after.outlook.observations == 0
    assert after.outlook.factor_log_sd < UNKNOWN_FARM.log_sd


def test_an_entry_that_is_withdrawn_teaches_no_more(farm: Farm) -> None:
    end_ms = put_days(farm, 6.0)
    _write(farm, "fill", end_ms - 5 * DAY_MS, **FILL)
    _write(farm, "weigh", end_ms - 3 * DAY_MS, kg=float(FILL["kg"]) - 1.0)
    _taught(farm, end_ms)
    with farm.store() as store:
        assert len(kept_lessons(store)) == 1
        weighed = store.logbook.every()[-1]
        store.logbook.add(replace(weighed, kind=WITHDRAWN, corrects=weighed.entry_id, entry_id=None, body={}))
    _taught(farm, end_ms)
    with farm.store() as store:
        assert kept_lessons(store) == {}
