"""Condensation and mould on walls and lids."""

from __future__ import annotations

from collections.abc import Sequence
from typing import cast

import numpy as np
import pytest

from monitor.climate.surfaces import MOULD_HOURS, SurfaceState, surface_state
from monitor.records import MS_PER_HOUR

T0 = 472_222 * MS_PER_HOUR


def state(surface_c: list[float], humid: float = 60.0, step_h: float = 1.0) -> SurfaceState:
    times = [T0 + int(i * step_h * MS_PER_HOUR) for i in range(len(surface_c))]
    return surface_state(times, [28.0] * len(surface_c), [humid] * len(surface_c), surface_c)


# 28 °C and 60 % on a wall of 22 °C: 85.8 % there; 28 °C and 70 %: dew point 22.02 °C, a wall of 22 °C is wet
# (computed with psychrolib).
def test_humidity_at_a_cold_wall_and_condensation() -> None:
    assert state([22.0]).humidity_percent == pytest.approx(85.8, abs=0.2)
    assert not state([22.0]).condenses
    assert state([22.0], humid=70.0).condenses
    assert state([22.0], humid=70.0).margin_k == pytest.approx(-0.02, abs=0.01)
    assert not state([22.1], humid=70.0).condenses


def test_mould_needs_a_whole_day_without_a_break() -> None:
    assert state([22.0] * 24).damp_hours == 23.0
    assert not state([22.0] * 24).mould_caution
    assert state([22.0] * 25).damp_hours == MOULD_HOURS
    assert state([22.0] * 25).mould_caution
    assert not state([22.0] * 20 + [27.0] + [22.0] * 20).mould_caution
    assert state([22.0] * 20 + [27.0] + [22.0] * 20).damp_hours == 19.0


def test_a_dry_surface_now_ends_the_damp_time() -> None:
    assert state([22.0] * 40 + [28.0]).damp_hours == 0.0


def test_nobody_watched_during_a_gap() -> None:
    times = [T0 + hour * MS_PER_HOUR for hour in (*range(20), *range(30, 41))]
    found = surface_state(times, [28.0] * 31, [60.0] * 31, [22.0] * 31)
    assert found.damp_hours == 10.0


def test_the_driest_air_has_no_dew_to_speak_of() -> None:
    found = state([5.0], humid=0.0)
    assert found.humidity_percent == 0.0 and found.margin_k > 20.0 and not found.condenses


def test_arrays_go_in_as_well() -> None:
    times = T0 + MS_PER_HOUR * np.arange(3)
    air, humid, surface = (cast(Sequence[float], np.full(3, value)) for value in (28.0, 60.0, 22.0))
    assert surface_state(times.tolist(), air, humid, surface).damp_hours == 2.0
