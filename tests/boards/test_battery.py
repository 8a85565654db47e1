"""How long a cell lasts: the arithmetic beside a count second by second, and the figures of before."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC
from pathlib import Path

import pytest

from monitor.boards.battery import (
    ADC_WIDEST_V,
    DRAWS,
    MODULE,
    VOLTAGES,
    Assumed,
    BoardKind,
    Cell,
    Chemistry,
    Draw,
    at_pin_v,
    average_ma,
    days,
    hours_without_mains,
)
from monitor.cli.app import run
from monitor.errors import UsageError, sentence
from monitor.words.battery import battery_lines
from monitor.words.catalogue import LANGUAGES
from monitor.words.localizer import Localizer

BEFORE = Cell(2500.0, usable_share=0.8, self_discharge_per_month=0.0)
"""The cell of the figures of before, which knew no self-discharge."""


def with_figures(draw: Draw = MODULE, **values: float) -> Draw:
    return replace(draw, **{name: Assumed(value, sentence("here")) for name, value in values.items()})


@pytest.mark.parametrize(
    ("draw", "interval_s", "send_every", "said"),
    [
        (with_figures(measuring_s=0.2), 60.0, 1, 14),
        (with_figures(measuring_s=0.2), 300.0, 1, 68),
        (with_figures(measuring_s=0.2), 60.0, 10, 111),
        (with_figures(DRAWS[BoardKind.DEVELOPMENT_BOARD], measuring_s=0.2), 300.0, 1, 7),
    ],
)
def test_the_figures_of_before_come_out_with_a_measuring_of_a_fifth_of_a_second(
    draw: Draw, interval_s: float, send_every: int, said: int
) -> None:
    """The last is that of a board that sends every five minutes; each minute it would be five days."""
    assert round(days(BEFORE, draw, interval_s, send_every)) == said


def test_a_development_board_that_sends_each_minute_lives_five_days() -> None:
    draw = with_figures(DRAWS[BoardKind.DEVELOPMENT_BOARD], measuring_s=0.2)

    assert days(BEFORE, draw, 60.0, 1) == pytest.approx(5.2, abs=0.1)


def test_with_the_start_that_others_measured_a_board_lives_shorter_than_was_said() -> None:
    assert days(BEFORE, MODULE, 60.0, 10) == pytest.approx(87.9, abs=0.5)
    assert days(BEFORE, with_figures(measuring_s=2.8), 60.0, 10) == pytest.approx(33.6, abs=0.5)


@pytest.mark.parametrize(("interval_s", "send_every"), [(60, 1), (300, 1), (60, 10), (120, 7), (3600, 60)])
def test_it_agrees_with_a_count_of_each_tenth_of_a_second(interval_s: int, send_every: int) -> None:
    """Counted anew: what flows in each tenth of a second of a whole turn of rounds."""
    draw = with_figures(
        asleep_ma=0.05, measuring_ma=41.0, measuring_s=0.5, sending_ma=120.0, sending_s=3.1, always_on_ma=80.0
    )
    charge_mas = 0.0
    for number in range(send_every):
        for tenth in range(interval_s * 10):
            sends = number == 0 and 5 <= tenth < 36
            charge_mas += 0.1 * (41.0 if tenth < 5 else 120.0 if sends else 0.05)
    counted_ma = charge_mas / (interval_s * send_every)

    assert average_ma(draw, float(interval_s), send_every) == pytest.approx(counted_ma, rel=1e-9)
    cell = Cell(1000.0, usable_share=0.5, self_discharge_per_month=0.03)
    by_hand = 500.0 / (counted_ma + 1000.0 * 0.03 / 720.0) / 24.0
    assert days(cell, draw, float(interval_s), send_every) == pytest.approx(by_hand, rel=1e-9)


def test_a_cell_behind_the_mains_carries_an_always_on_board_through_most_of_a_day() -> None:
    assert hours_without_mains(BEFORE, MODULE) == pytest.approx(2000.0 / 90.0)


@pytest.mark.parametrize("chemistry", Chemistry)
def test_the_divider_keeps_every_cell_within_what_the_pin_measures(chemistry: Chemistry) -> None:
    voltages = VOLTAGES[chemistry]

    assert voltages.cut_off_v < voltages.charge_v < voltages.full_v
    assert at_pin_v(voltages.full_v) < ADC_WIDEST_V < voltages.full_v, (
        "without the divider it would be too much"
    )


def test_everything_that_is_wrong_is_said_at_once() -> None:
    with pytest.raises(UsageError) as raised:
        days(Cell(0.0, 1.5, -0.1), with_figures(sending_ma=-1.0), 5.0, 61)

    lines = str(raised.value).splitlines()
    assert len(lines) == 6
    assert all("allowed:" in line for line in lines)


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_what_is_no_number_is_refused(value: float) -> None:
    with pytest.raises(UsageError):
        days(Cell(value), MODULE, 60.0, 1)
    with pytest.raises(UsageError):
        days(BEFORE, with_figures(measuring_s=value), 60.0, 1)
    with pytest.raises(UsageError):
        days(BEFORE, MODULE, value, 1)


def test_a_board_that_is_awake_longer_than_its_interval_is_refused() -> None:
    with pytest.raises(UsageError, match="cannot wake every 10 s"):
        days(BEFORE, with_figures(sending_s=12.0), 10.0, 1)


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_assumption_is_said_with_its_source(language: str) -> None:
    words = Localizer.plain(language, UTC, 0)
    lines = list(battery_lines(BEFORE, VOLTAGES[Chemistry.LITHIUM_ION], MODULE, (60.0, 1), words))

    for _, each in MODULE.parts():
        value = f"{each.value:g}".replace(".", words.decimal)
        assert any(f": {value} " in line and words.sentence(each.source) in line for line in lines)


def test_a_rhythm_that_cannot_be_is_not_offered() -> None:
    words = Localizer.plain("en", UTC, 0)
    slow = with_figures(sending_s=70.0)
    lines = list(battery_lines(BEFORE, VOLTAGES[Chemistry.LITHIUM_ION], slow, (600.0, 1), words))

    assert not any("every 1 min" in line for line in lines)
    assert any("every 5 min" in line for line in lines)


def test_the_command_needs_no_settings(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("REARING_CONFIG", raising=False)

    assert run(["board", "battery", "--interval", "5 min", "--board", "development-board"]) == 0
    assert "about 7.3 days" in capsys.readouterr().out
    assert run(["board", "battery", "--interval", "120 s", "--asleep", "0.5", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["interval_s"] == 120.0
    assert answer["draw"]["asleep_ma"] == {"value": 0.5, "source": "your own figure"}
    assert run(["board", "battery", "--capacity", "0", "--send-every", "90"]) == 2
    said = capsys.readouterr().err
    assert "the capacity is 0" in said
    assert "the number of rounds for each message is 90" in said
