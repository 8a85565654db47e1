"""What is kept between looks: bounded, made again as it was, and the same only where all bits are."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
import pytest
from development_builders import FLY, NOW_MS, clocks_of, cohort, daily_wave

from monitor.climate.arrays import FloatArray
from monitor.development.courses import CohortCase, courses_of, forecast_basis
from monitor.development.ensemble import MOST_HELD, EnsembleClocks, future_draws
from monitor.development.kept import Lately, comparable
from monitor.development.posterior import prior_posterior
from monitor.records import Stage

PUPA = FLY.stages[FLY.index_of(Stage.PUPA)]


@dataclass(frozen=True)
class Record:
    values: FloatArray
    name: str = "one"


class TestComparable:
    def test_records_of_equal_arrays_are_the_same(self) -> None:
        assert comparable(Record(np.arange(3.0))) == comparable(Record(np.arange(3.0)))

    @pytest.mark.parametrize(
        "other",
        [
            Record(np.array([0.0, 1.0, 2.0 + 1e-15 * 4])),
            Record(np.array([-0.0, 1.0, 2.0])),
            Record(np.arange(4.0)),
            Record(np.arange(3.0).astype(np.float32)),
            Record(np.arange(3.0), "two"),
            "one",
        ],
        ids=["last bit", "sign of zero", "shape", "type", "name", "no record"],
    )
    def test_one_bit_tells_them_apart(self, other: object) -> None:
        assert comparable(Record(np.arange(3.0))) != comparable(other)


class TestLately:
    def test_holds_the_latest_and_makes_the_others_again(self) -> None:
        made: list[int] = []
        lately: Lately[int, str] = Lately(2)

        def make(key: int) -> str:
            made.append(key)
            return str(key)

        def look(key: int) -> str:
            return lately.of(key, partial(make, key))

        assert [look(key) for key in (1, 2, 1, 3, 1, 2)] == ["1", "2", "1", "3", "1", "2"]
        assert made == [1, 2, 3, 2], "1 was asked for lately, 2 was not"

    def test_holds_nothing_once_it_is_cleared(self) -> None:
        lately: Lately[int, object] = Lately(2)
        first = lately.of(1, object)
        lately.clear()
        assert lately.of(1, object) is not first


class TestFutures:
    def test_many_places_hold_no_more_than_some_futures(self) -> None:
        places = {f"box-{number}": daily_wave(26.0 + 0.01 * number, 4.0) for number in range(2 * MOST_HELD)}
        lookup = EnsembleClocks(clocks_of(FLY, **places), future_draws(1, 50), NOW_MS)

        first = lookup("box-0", PUPA)
        assert lookup("box-0", PUPA) is first
        for place in places:
            lookup(place, PUPA)
        again = lookup("box-0", PUPA)

        assert first is not None
        assert again is not None
        assert again is not first, "it was let go for the others"
        at_ms, courses = np.full(50, NOW_MS + 5.3e8), np.arange(50)
        assert again.units_at(at_ms, courses).tolist() == first.units_at(at_ms, courses).tolist()

    def test_letting_go_changes_no_course(self) -> None:
        basis = forecast_basis(clocks_of(room=daily_wave(27.0, 4.0)), NOW_MS, draws=50)
        case, posterior = CohortCase(cohort(20.0)), prior_posterior(FLY)
        before = courses_of([case], FLY, posterior, basis)[0].ends_ms
        basis.let_go()
        after = courses_of([case], FLY, posterior, basis)[0].ends_ms
        assert before.tobytes() == after.tobytes()
