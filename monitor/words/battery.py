"""How long a cell lasts, as lines for a terminal."""

from __future__ import annotations

from collections.abc import Iterator

from monitor.boards.battery import (
    ADC_WIDEST_V,
    DIVIDER,
    SELF_DISCHARGE_SOURCE,
    USABLE_SOURCE,
    Assumed,
    Cell,
    CellVoltages,
    Draw,
    at_pin_v,
    days,
    fits,
    hours_without_mains,
)
from monitor.records import MS_PER_HOUR
from monitor.words.localizer import Localizer, percent, plain

# Rhythms shown beside the one that was asked for: interval [s], rounds for each message. Own choice.
RHYTHMS = ((60.0, 1), (300.0, 1), (60.0, 10), (300.0, 12))
_DECIMALS_BELOW_DAYS = 10.0


def battery_lines(
    cell: Cell, voltages: CellVoltages, draw: Draw, rhythm: tuple[float, int], words: Localizer
) -> Iterator[str]:
    """What was asked, other rhythms, a power cut, the cell, and every assumption with its source."""
    yield words.t(
        "battery.days",
        days=_days(days(cell, draw, *rhythm), words),
        rhythm=_rhythm(rhythm, words),
        capacity=words.number(cell.capacity_mah),
        used=percent(words, cell.usable_share),
    )
    yield ""
    yield words.t("battery.others")
    for other in RHYTHMS:
        if other != rhythm and fits(draw, other[0]):
            yield "  " + words.t(
                "battery.row", name=_rhythm(other, words), value=_days(days(cell, draw, *other), words)
            )
    cut = words.length(hours_without_mains(cell, draw) * MS_PER_HOUR)
    yield words.t("battery.power_cut", length=cut)
    yield ""
    yield from _voltage_lines(voltages, words)
    yield ""
    yield words.t("battery.assumed")
    yield from _assumed_lines(cell, draw, words)
    yield words.t("battery.measure")


def _days(count: float, words: Localizer) -> str:
    shown = words.number(count, 1 if count < _DECIMALS_BELOW_DAYS else 0)
    return words.t("battery.count", count=shown)


def _rhythm(rhythm: tuple[float, int], words: Localizer) -> str:
    interval_s, send_every = rhythm
    every = f"{words.number(interval_s)} s" if interval_s % 60.0 else words.length(interval_s * 1000.0)
    return words.n("battery.rhythm", send_every, every=every)


def _voltage_lines(voltages: CellVoltages, words: Localizer) -> Iterator[str]:
    shown = {
        name: plain(words, value)
        for name, value in (
            ("full", voltages.full_v),
            ("charge", voltages.charge_v),
            ("cut_off", voltages.cut_off_v),
            ("pin_full", at_pin_v(voltages.full_v)),
            ("pin_cut_off", at_pin_v(voltages.cut_off_v)),
            ("ratio", DIVIDER),
            ("widest", ADC_WIDEST_V),
        )
    }
    yield words.t("battery.voltages", **shown)
    yield f"  {words.sentence(voltages.source)}"
    yield words.t("battery.pin", **shown)


def _assumed_lines(cell: Cell, draw: Draw, words: Localizer) -> Iterator[str]:
    for name, each in draw.parts():
        unit = "s" if name.endswith("_s") else "mA"
        yield _assumed(words.t(f"battery.part_{name}"), each, unit, words)
    used = Assumed(cell.usable_share * 100.0, USABLE_SOURCE)
    lost = Assumed(cell.self_discharge_per_month * 100.0, SELF_DISCHARGE_SOURCE)
    yield _assumed(words.t("battery.part_used"), used, "%", words)
    yield _assumed(words.t("battery.part_lost"), lost, "%", words)


def _assumed(name: str, each: Assumed, unit: str, words: Localizer) -> str:
    value = f"{each.value:g}".replace(".", words.decimal)
    shown = f"{value}{words.space}{unit} ({words.sentence(each.source)})"
    return "  " + words.t("battery.row", name=name, value=shown)
