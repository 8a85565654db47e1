"""How long a board lives on one cell: charge used in each round against what the cell holds. Pure.

A board wakes each interval, measures, and in every so many rounds turns its radio on and sends. What each of
these draws is assumed, and every assumption carries its source; nothing was measured on a board of this farm.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, replace
from enum import StrEnum

from monitor.errors import Sentence, UsageError, one_a_line, sentence

HOURS_PER_DAY = 24.0
HOURS_PER_MONTH = 30.0 * HOURS_PER_DAY

# What an ADC pin of these chips measures at its widest setting. Espressif, ESP-IDF programming guide 4.4:
# 150 to 2450 mV (ESP32), 0 to 2500 mV (ESP32-C3), at 11 dB.
ADC_WIDEST_V = 2.45
# Two equal resistors before the pin: half of the cell's voltage. Own choice; the drivers double it again.
DIVIDER = 2.0


class BoardKind(StrEnum):
    """What is hung up: the bare module with a regulator made for sleep, or a board with a USB chip."""

    MODULE = "module"
    DEVELOPMENT_BOARD = "development-board"


class Chemistry(StrEnum):
    """What the cell is made of."""

    LITHIUM_ION = "lithium-ion"
    IRON_PHOSPHATE = "iron-phosphate"


@dataclass(frozen=True, slots=True)
class Assumed:
    """One number that is believed, and why."""

    value: float
    source: Sentence


@dataclass(frozen=True, slots=True)
class Draw:
    """What a board draws. The radio comes on top of the measuring, once in `send_every` rounds."""

    asleep_ma: Assumed
    measuring_ma: Assumed
    measuring_s: Assumed
    sending_ma: Assumed
    sending_s: Assumed
    always_on_ma: Assumed

    def parts(self) -> Iterator[tuple[str, Assumed]]:
        """Each assumption with its name."""
        for field in fields(self):
            yield field.name, getattr(self, field.name)


@dataclass(frozen=True, slots=True)
class CellVoltages:
    """At what voltages [V] a cell is full, should be charged, and must no longer be emptied."""

    full_v: float
    charge_v: float
    cut_off_v: float
    source: Sentence


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell: its stated capacity, the share that is used of it, and what it loses by itself in a month."""

    capacity_mah: float
    usable_share: float = 0.8
    self_discharge_per_month: float = 0.05

    @property
    def usable_mah(self) -> float:
        """What the board gets before the cut-off."""
        return self.capacity_mah * self.usable_share

    @property
    def lost_ma(self) -> float:
        """Self-discharge as a current."""
        return self.capacity_mah * self.self_discharge_per_month / HOURS_PER_MONTH


USABLE_SOURCE = sentence("a choice: ageing, cold and a regulator that stops early take the rest")
SELF_DISCHARGE_SOURCE = sentence(
    "a maker's sheet of a lithium-ion cell: above 95 % is left after 30 days at 25 °C; warmer loses more"
)

# Measured by others: a module on a board for sleep drew 10 µA asleep and 42 mA awake without radio
# (lucidar.me, power consumption of ESP32 boards); MicroPython with its files ready 0.42 s after a wake, and
# Wi-Fi by DHCP with one message sent took 341 mC in 2.93 s (glenn20, upy-esp32-experiments), without TLS.
MODULE = Draw(
    asleep_ma=Assumed(
        0.03, sentence("10 µA of the chip by its data sheet, 20 µA of a divider of two 100 kΩ resistors")
    ),
    measuring_ma=Assumed(40.0, sentence("measured by others: 42 mA awake without radio")),
    measuring_s=Assumed(
        0.5,
        sentence("measured by others: 0.42 s until the program runs; three readings of a DS18B20 add 2.3 s"),
    ),
    sending_ma=Assumed(117.0, sentence("measured by others: 341 mC in 2.9 s, without TLS")),
    sending_s=Assumed(3.0, sentence("measured by others: 341 mC in 2.9 s, without TLS")),
    always_on_ma=Assumed(
        90.0, sentence("the maker's manual of the module: 80 to 90 mA while the radio listens")
    ),
)
# 3.8 mA (lucidar.me), 6.4 mA (blog.voltaicsystems.com) and 11.4 mA (kohacraft.com) asleep were measured on
# boards with regulator, USB chip and light; these draw while the board is awake as well.
BOARD_PARTS_MA = 10.0
_OF_BOARD = sentence("measured by others: 3.8 to 11.4 mA asleep, for regulator, USB chip and light")


def _with_board_parts(draw: Draw) -> Draw:
    currents = {name: each for name, each in draw.parts() if name.endswith("_ma")}
    on_top = {name: Assumed(each.value + BOARD_PARTS_MA, each.source) for name, each in currents.items()}
    return replace(draw, **(on_top | {"asleep_ma": Assumed(BOARD_PARTS_MA, _OF_BOARD)}))


DRAWS: Mapping[BoardKind, Draw] = {
    BoardKind.MODULE: MODULE,
    BoardKind.DEVELOPMENT_BOARD: _with_board_parts(MODULE),
}

VOLTAGES: Mapping[Chemistry, CellVoltages] = {
    # Cut-off 2.75 V in several makers' sheets of 18650 cells; below 3.0 V some 3 % of the charge is left.
    # A 3.3 V regulator needs a little more than 3.3 V, which is where 3.4 V comes from.
    Chemistry.LITHIUM_ION: CellVoltages(
        4.2,
        3.4,
        3.0,
        sentence("makers' sheets: 4.2 V full, never below 2.75 V; 3.0 and 3.4 V are choices"),
    ),
    Chemistry.IRON_PHOSPHATE: CellVoltages(
        3.65, 3.0, 2.5, sentence("makers' sheets: 3.65 V full, 2.5 V empty; 3.0 V is a choice above that")
    ),
}


def days(cell: Cell, draw: Draw, interval_s: float, send_every: int) -> float:
    """Days until a full cell has given what may be used; UsageError with everything that is wrong."""
    _check(cell, draw, interval_s, send_every)
    return cell.usable_mah / (average_ma(draw, interval_s, send_every) + cell.lost_ma) / HOURS_PER_DAY


def average_ma(draw: Draw, interval_s: float, send_every: int) -> float:
    """The current that, flowing all the time, empties the cell as fast."""
    radio_s = draw.sending_s.value / send_every
    asleep_s = interval_s - draw.measuring_s.value - radio_s
    charge_mas = (
        draw.measuring_ma.value * draw.measuring_s.value
        + draw.sending_ma.value * radio_s
        + draw.asleep_ma.value * asleep_s
    )
    return charge_mas / interval_s


def fits(draw: Draw, interval_s: float) -> bool:
    """Whether a board that measures and sends is asleep again before the next round."""
    return _awake_s(draw) < interval_s


def _awake_s(draw: Draw) -> float:
    return draw.measuring_s.value + draw.sending_s.value


def hours_without_mains(cell: Cell, draw: Draw) -> float:
    """How long the cell carries a board that never sleeps through a power cut."""
    return cell.usable_mah / (draw.always_on_ma.value + cell.lost_ma)


def at_pin_v(cell_v: float) -> float:
    """What the pin behind the divider gets of the cell's voltage."""
    return cell_v / DIVIDER


def _check(cell: Cell, draw: Draw, interval_s: float, send_every: int) -> None:
    problems = [*_problems(cell, interval_s, send_every), *_problems_of_draw(draw)]
    if not problems and not fits(draw, interval_s):
        problems.append(
            sentence(
                "a board that is awake for {awake} s cannot wake every {interval} s; allowed: a longer one",
                awake=f"{_awake_s(draw):g}",
                interval=f"{interval_s:g}",
            )
        )
    if problems:
        raise UsageError(one_a_line(problems))


def _problems(cell: Cell, interval_s: float, send_every: int) -> Iterator[Sentence]:
    # A card takes 10 s to an hour, and a message for each of 1 to 60 rounds.
    if not 1.0 <= cell.capacity_mah <= 1_000_000.0:
        yield _outside(sentence("the capacity"), cell.capacity_mah, sentence("1 to 1,000,000 mAh"))
    if not 0.01 <= cell.usable_share <= 1.0:
        yield _outside(sentence("the share that is used"), cell.usable_share * 100.0, sentence("1 to 100 %"))
    if not 0.0 <= cell.self_discharge_per_month <= 1.0:
        yield _outside(
            sentence("the self-discharge"),
            cell.self_discharge_per_month * 100.0,
            sentence("0 to 100 % a month"),
        )
    if not 10.0 <= interval_s <= 3600.0:
        yield _outside(sentence("the interval"), interval_s, sentence("10 s to 3600 s"))
    if not 1 <= send_every <= 60:
        yield _outside(sentence("the number of rounds for each message"), send_every, sentence("1 to 60"))


def _problems_of_draw(draw: Draw) -> Iterator[Sentence]:
    for name, each in draw.parts():
        if name.endswith("_ma") and not 0.0 < each.value <= 5000.0:
            yield _outside(sentence("the current"), each.value, sentence("above 0 and at most 5000 mA"))
        if name.endswith("_s") and not 0.0 < each.value <= 3600.0:
            yield _outside(sentence("the time awake"), each.value, sentence("above 0 and at most 3600 s"))


def _outside(what: Sentence, value: float, allowed: Sentence) -> Sentence:
    return sentence("{what} is {value}; allowed: {allowed}", what=what, value=f"{value:g}", allowed=allowed)
