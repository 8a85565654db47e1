"""What a person wants to know of a bin's moisture: now, how fast it falls, how long it lasts, how many
litres.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, replace

import numpy as np

from monitor.bins.conditions import ClimateSeries
from monitor.bins.evaporation import (
    HUMIDITY_ERROR_PERCENT,
    WaterLoss,
    evaporation_kg_m2_s,
    is_resolvable,
    room_air,
)
from monitor.bins.history import BAND, BinHistory, moisture_measure, predictor, replayed
from monitor.bins.intervals import Intervals, intervals_of
from monitor.bins.posterior import (
    AHEAD_WEATHER,
    NORMALS,
    drawn,
    drift_ahead,
    drift_path,
    updated,
)
from monitor.bins.substrate import MoistureBands, SubstrateParameters, Zone, zone_of
from monitor.bins.water_balance import Ensemble, drying_share, run, substrate_moisture, without_larvae_kg
from monitor.climate.arrays import FloatArray, IntArray
from monitor.records import MS_PER_DAY, MS_PER_HOUR

HORIZON_H = 240
SOON_H = 12.0
"""The time for which the chance of being too dry is told [h]. Source: own choice: one night."""
FUTURE_LOG_SD = 0.1
"""Log-sd of what the air of the coming days takes, around the last days [1]. Source: own choice. What the bin
itself does beside is in the drift of its factor."""

LIKELY = 0.4
"""A bin that is so likely to be too dry within the time is spoken of by an alarm [1].

Source: own choice, a trade: a dry bin that is found 6 h late costs larvae, a wrong alarm a squeezed handful.
Over 33 boxes of Fuhrmann et al. 2024 and 128 of two simulations of other physics, by filling only, 48 of the
161 got that dry. At 0.5, 13 of the 48 were told over 6 h late and 56 % of the alarms were wrong; at 0.4 none
and 59 %. The earliest of ten possible bins (0.1) speaks in 160 and so says nothing.
"""

PROBE_LEAST_SD = 0.05
"""A capacitive probe is never trusted more than this [ratio]. Source: own choice; packing, tunnels and salt
move it, and its errors last, so many readings count as one."""

GRAMS_H_PER_KG_S = 3.6e6


@dataclass(frozen=True, slots=True)
class HoursTo:
    """Hours until a limit: median, and the earliest credible (one in ten is earlier); 240: that or more.

    `spread_h` are the hours of all possible bins in rising order.
    """

    median_h: float
    earliest_h: float
    spread_h: tuple[float, ...] = ()

    @property
    def is_beyond(self) -> bool:
        """Whether even the earliest credible time lies beyond the horizon."""
        return self.earliest_h >= HORIZON_H

    @property
    def likely_h(self) -> float:
        """Hours until the limit is passed with the chance at which an alarm speaks, see `LIKELY`."""
        if not self.spread_h:
            return self.median_h
        return float(np.quantile(self.spread_h, LIKELY))

    def chance_within(self, hours: float) -> float:
        """How likely it is that the limit is passed so many hours from now [1]; below 240 h."""
        if not self.spread_h:
            return 0.5 if self.median_h <= hours else 0.1 if self.earliest_h <= hours else 0.0
        return bisect_right(self.spread_h, hours) / len(self.spread_h)


@dataclass(frozen=True, slots=True, eq=False)
class MoistureOutlook:
    """A bin for a person. Moistures are ratios with their 80 % band.

    `ahead` has shape (3, n), the 10, 50 and 90 % quantiles at `ahead_ms`; `core_ahead_c`, shape
    (n - 1,), is how warm the bin is between them [°C]. `to_warning` and `to_limit` are
    None for a bin that is dried on purpose or emptied. `litres` bring it back to the middle of the target,
    `bran_kg` where it is wetter than the wet warning.
    """

    at_ms: int
    low: float
    median: float
    high: float
    zone: Zone
    loss: WaterLoss
    to_warning: HoursTo | None
    to_limit: HoursTo | None
    litres: float
    bran_kg: float
    finishing: bool
    estimated_hours: float
    observations: int
    factor: float
    factor_log_sd: float
    ahead_ms: IntArray
    ahead: FloatArray
    core_ahead_c: FloatArray


def seen_by_probe(history: BinHistory, moisture: float, sd: float) -> BinHistory:
    """The history with the latest reading of a calibrated capacitive probe as one doubtful observation.

    `moisture` is what the probe says through its calibration [ratio], `sd` the residual of that; at least
    0.05 is taken. The ensemble moves toward the probe; books and past stay as they are, and nothing is kept
    for later, so a hundred readings weigh no more than one.
    """
    edge = len(history.times_ms) - 1
    course, stretch, legs = history.course, history.stretch, history.legs
    predict = predictor(course, stretch, legs, moisture_measure(course, edge))
    posterior = updated(history.posterior, predict, moisture, max(sd, PROBE_LEAST_SD))
    ensemble = replayed(course, stretch, legs, drawn(posterior)).now(1.0)
    return replace(history, posterior=posterior, ensemble=ensemble)


def moisture_band(history: BinHistory) -> tuple[float, float, float]:
    """The moisture at the end of a history with its 80 % band: lower bound, median, upper bound [ratio]."""
    measure = moisture_measure(history.course, len(history.times_ms) - 1)
    low, median, high = np.quantile(measure(history.ensemble), BAND).tolist()
    return low, median, high


def outlook(history: BinHistory, ahead: ClimateSeries, bands: MoistureBands | None = None) -> MoistureOutlook:
    """Moisture now, loss, hours to the dry warning and limit, and what to add.

    `ahead` is the climate of the coming days from now on, see `days_ahead`; `bands` are the limits of the
    place, None for those of the substrate. Each possible bin dries on under the usual day, its rate times a
    factor of the coming weather; hours are where it falls below the limit, by a straight line within the
    hour.
    """
    substrate, course, now_ms = history.course.facts.substrate, history.course, history.now_ms
    limits = bands or substrate.bands
    until_ms, standing = int(ahead.times_ms[-1]), course.intervals.end
    coming = intervals_of(course.facts, course.conditions, ahead, now_ms, until_ms, standing)
    paths = _paths(history, coming)
    low, median, high = moisture_band(history)
    silent = history.finishing or history.emptied
    litres, bran = _doses(history.ensemble, float(coming.larvae_kg[0]), substrate, limits)
    return MoistureOutlook(
        at_ms=now_ms,
        low=low,
        median=median,
        high=high,
        zone=zone_of(median, limits),
        loss=_loss(history, coming, paths[0]),
        to_warning=None if silent else _hours_to(limits.dry_warning, coming, paths),
        to_limit=None if silent else _hours_to(limits.dry_limit, coming, paths),
        litres=0.0 if silent else litres,
        bran_kg=bran if median > limits.wet_warning and not silent else 0.0,
        finishing=history.finishing,
        estimated_hours=history.estimated_hours,
        observations=len(history.comparisons),
        factor=history.posterior.factor,
        factor_log_sd=history.posterior.factor_log_sd,
        ahead_ms=coming.edges_ms,
        ahead=np.quantile(paths, BAND, axis=1),
        core_ahead_c=coming.core_c,
    )


def _paths(history: BinHistory, coming: Intervals) -> FloatArray:
    """Moisture of each bin of the ensemble at each edge to come, shape (edges, bins) [ratio]."""
    substrate = history.course.facts.substrate
    weather = np.exp(FUTURE_LOG_SD * NORMALS[:, AHEAD_WEATHER])
    length_ms = float(coming.edges_ms[-1] - coming.edges_ms[0])
    shares = ((coming.edges_ms[:-1] + coming.edges_ms[1:]) / 2.0 - coming.edges_ms[0]) / length_ms
    drift = np.exp(drift_path(shares, *drift_ahead(length_ms / MS_PER_DAY)))
    ensemble = replace(history.ensemble, factor=history.ensemble.factor * weather * drift)
    done = run(ensemble, coming, 0, len(coming.free_kg), substrate, history.put_kg)
    return substrate_moisture(done.water_kg, done.dry_kg, coming.larvae_kg[:, None], substrate.larva_moisture)


def _hours_to(limit: float, coming: Intervals, paths: FloatArray) -> HoursTo:
    below = paths < limit
    first = np.where(below.any(axis=0), below.argmax(axis=0), len(paths))
    hours = (coming.edges_ms - coming.edges_ms[0]) / MS_PER_HOUR
    until_h = np.full(paths.shape[1], float(HORIZON_H))
    for number in np.flatnonzero(first < len(paths)).tolist():
        row = int(first[number])
        until_h[number] = hours[0] if row == 0 else _between(hours, paths[:, number], row, limit)
    spread_h = np.sort(np.minimum(until_h, HORIZON_H))
    earliest, median = np.quantile(spread_h, (0.1, 0.5)).tolist()
    return HoursTo(median, earliest, tuple(spread_h.tolist()))


def _between(hours: FloatArray, path: FloatArray, row: int, limit: float) -> float:
    part = (path[row - 1] - limit) / (path[row - 1] - path[row])
    return float(hours[row - 1] + part * (hours[row] - hours[row - 1]))


def _doses(
    ensemble: Ensemble, larvae_kg: float, substrate: SubstrateParameters, bands: MoistureBands
) -> tuple[float, float]:
    """Litres up to the middle of the target, and dry material down to it [kg]: medians of the ensemble."""
    water, dry = without_larvae_kg(ensemble.water_kg, ensemble.dry_kg, larvae_kg, substrate.larva_moisture)
    missing = float(np.median(dry * bands.target / (1.0 - bands.target) - water))
    excess = (water + dry) * (water / np.maximum(water + dry, 1e-9) - bands.target)
    bran = float(np.median(excess)) / (bands.target - substrate.bran_moisture)
    return max(missing, 0.0), max(bran, 0.0)


def _loss(history: BinHistory, coming: Intervals, moisture: FloatArray) -> WaterLoss:
    """Loss in the latest interval that was measured; where not resolvable, the most that it can be."""
    intervals, ensemble = history.course.intervals, history.ensemble
    share = drying_share(
        moisture, float(coming.end_moisture[0]), history.course.facts.substrate.taper_from_moisture
    )
    surface_c, air_c = float(intervals.surface_c[-1]), float(intervals.air_c[-1])
    humid = float(intervals.humidity_percent[-1])
    exposed_g = float(intervals.exposed_m2[-1]) * GRAMS_H_PER_KG_S
    exposed = ensemble.factor * share * exposed_g
    pressure = history.course.facts.pressure_pa
    if not is_resolvable(surface_c, air_c, humid):
        driest = max(humid - HUMIDITY_ERROR_PERCENT, 0.0)
        most = float(evaporation_kg_m2_s(surface_c, room_air(air_c, driest, pressure)))
        return WaterLoss(0.0, 0.0, max(0.0, most) * float(np.quantile(exposed, 0.9)), resolvable=False)
    low, median, high = np.quantile(exposed * float(intervals.rate_kg_m2_s[-1]), BAND).tolist()
    return WaterLoss(median, low, high)
