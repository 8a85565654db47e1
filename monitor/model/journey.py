"""The clock of one cohort: the clocks of the places on its way, one after the other.

With it a stage is two readings: what the clock shows when the stage begins, and when it shows that much more.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from monitor.model.clocks import NEVER_MS, Clock, ClockOf
from monitor.model.degree_days import FloatArray, IntArray
from monitor.model.rates import StageParameters
from monitor.model.temperature_series import BoolArray

Stay = tuple[str, float, float]


@dataclass(frozen=True, slots=True, eq=False)
class _Leg:
    """A stay beyond the record: its clock, from when to when, and what each course has earned before it."""

    clock: Clock | None
    from_ms: float
    until_ms: float
    before: FloatArray
    at_start: FloatArray

    def units_at(self, at_ms: FloatArray, courses: IntArray) -> FloatArray:
        if self.clock is None:
            return self.before[courses]
        return self.before[courses] + self.clock.units_at(at_ms, courses) - self.at_start[courses]

    def readings_at(self, at_ms: float) -> FloatArray:
        if self.clock is None:
            return self.before
        return self.before + self.clock.readings_at(at_ms, len(self.before)) - self.at_start

    def time_at(self, units: FloatArray, courses: IntArray) -> FloatArray:
        if self.clock is None:
            return np.full(len(units), NEVER_MS)
        return self.clock.time_at(units - self.before[courses] + self.at_start[courses], courses)


@dataclass(frozen=True, slots=True, eq=False)
class Journey:
    """Counts development along a cohort's way: the record, which all courses share, and the legs after it."""

    times_ms: FloatArray
    units: FloatArray
    legs: tuple[_Leg, ...]

    def units_at(self, at_ms: FloatArray) -> FloatArray:
        """Reading of each course at its own time, not before the journey begins."""
        beyond = at_ms > self.times_ms[-1]
        found = np.empty(len(at_ms)) if beyond.all() else np.interp(at_ms, self.times_ms, self.units)
        if not beyond.any():
            return found
        found[beyond] = self.units[-1]
        for number, leg in enumerate(self.legs):
            last = number + 1 == len(self.legs)
            inside = at_ms > leg.from_ms if last else (at_ms > leg.from_ms) & (at_ms <= leg.until_ms)
            courses = np.flatnonzero(inside)
            if len(courses):
                found[courses] = leg.units_at(at_ms[courses], courses)
        return found

    def time_at(self, units: FloatArray) -> FloatArray:
        """First time at which each course shows its own reading; infinite where it never does."""
        recorded = units <= self.units[-1]
        if recorded.all():
            return np.interp(units, self.units, self.times_ms)
        found = np.full(len(units), NEVER_MS)
        if recorded.any():
            found[recorded] = np.interp(units[recorded], self.units, self.times_ms)
        courses = np.flatnonzero(~recorded)
        for number, leg in enumerate(self.legs):
            if not len(courses):
                break
            here = self._ends_in_leg(number, units[courses], courses)
            done, courses = courses[here], courses[~here]
            if len(done):
                found[done] = leg.time_at(units[done], done)
        return found

    def _ends_in_leg(self, number: int, units: FloatArray, courses: IntArray) -> BoolArray:
        if number + 1 == len(self.legs):
            return np.ones(len(courses), dtype=bool)
        return np.asarray(units <= self.legs[number + 1].before[courses])


def journey(
    stays: tuple[Stay, ...], start_ms: float, stage: StageParameters, clock_of: ClockOf, courses: int
) -> Journey:
    """The clock of a cohort for the law of one stage.

    Parameters
    ----------
    stays : tuple
        Place, from, until [ms since 1970 UTC], in order; the last one never ends.
    start_ms : float
        Beginning of the cohort [ms since 1970 UTC].
    stage : StageParameters
        Whose law and driving temperature count.
    clock_of : callable
        Gives the clock of a place and a stage.
    courses : int
        Number of courses [1].

    Returns
    -------
    Journey
        Reads development [°C d, or d for a Logan-10 shape] at times and times at development.

    Notes
    -----
    In a place of which no temperature is known it stands still, and a stage in it never ends.

    Source
    ------
    Own; the sum of the clocks' differences over the stays.
    """
    times, units = [np.array([start_ms])], [np.zeros(1)]
    legs: list[_Leg] = []
    for place, from_ms, until_ms in stays:
        if until_ms <= start_ms:
            continue
        clock, begin_ms = clock_of(place, stage), max(from_ms, start_ms)
        if not legs:
            begin_ms = _along_record(clock, begin_ms, until_ms, times, units)
        if begin_ms < until_ms:
            legs.append(_next_leg(clock, begin_ms, until_ms, legs, float(units[-1][-1]), courses))
    return Journey(np.concatenate(times), np.concatenate(units), tuple(legs))


def _along_record(
    clock: Clock | None, from_ms: float, until_ms: float, times: list[FloatArray], units: list[FloatArray]
) -> float:
    """Add the recorded part of a stay; gives back the time up to which it reached."""
    if clock is None or not len(clock.times_ms) or clock.times_ms[-1] <= from_ms:
        return from_ms
    end_ms = min(until_ms, float(clock.times_ms[-1]))
    first, last = np.searchsorted(clock.times_ms, [from_ms, end_ms], side="right")
    start, end = np.interp([from_ms, end_ms], clock.times_ms, clock.units)
    offset = units[-1][-1] - start
    times += [clock.times_ms[first:last], np.array([end_ms])]
    units += [clock.units[first:last] + offset, np.array([end + offset])]
    return end_ms


def _next_leg(
    clock: Clock | None, from_ms: float, until_ms: float, legs: list[_Leg], recorded: float, courses: int
) -> _Leg:
    before = legs[-1].readings_at(from_ms) if legs else np.full(courses, recorded)
    at_start = np.zeros(courses) if clock is None else clock.readings_at(from_ms, courses)
    return _Leg(clock, from_ms, until_ms, before, at_start)
