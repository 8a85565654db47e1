"""What the invented farm gave and took before the demo: eggs, hatch, feed, harvests, residue.

A physics of its own, not that of the forecasts: each female lays one clutch some days after she came out,
and after a cold night in her cage some clutches are lost. The door beside the second cage stood open in some
nights, so it alone has such nights. The third tray stood in a draught on most days, with which nothing goes:
what hatches there is drawn like on the others. The keeper comes in the morning, leaves some mornings out, and
then finds the eggs of both days; some are set to hatch, and the young larvae sold.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from monitor.climate.arrays import BoolArray, FloatArray
from monitor.demo.past_climate import PastClimate
from monitor.demo.script import Incident, IncidentKind
from monitor.development.events import Event
from monitor.development.progress import Ending
from monitor.logbook.bin_entries import BinEntryKind
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.logbook.yield_entries import YieldEntryKind
from monitor.records import MS_PER_DAY, MS_PER_HOUR, LogbookEntry, Quantity, SubjectKind

# All numbers are invented, near those of papers where these have any.
CAGES = ("cage-1", "cage-2")
COLD_CAGE, COLD_TRAY = "cage-2", "tray-3"
LOT_EVERY_DAYS, LOT_FLIES, LOT_LIVES_DAYS = 5, 2400, 16
CLUTCH_MG, FEMALES = 11.0, 0.5
LAG_SHAPE, LAG_DAYS = 9.0, 4.3
COLD_C = 22.0
AFTER_COLD = (0.45, 0.65)
"""What is left of the eggs on the day after a cold night, and on the second."""
DAY_LOG_SD = 0.22
MISSED_MORNINGS = 0.12
LEAST_GRAMS = 0.3
HATCH_SHARE, HATCH_SD = 0.78, 0.06
SET_TO_HATCH = 4
"""Of so many collectings from the first cage one is set to hatch."""
TRAYS = ("tray-3", "tray-1", "tray-2", "tray-3", "tray-1")
YOUNG_SOLD_AFTER_DAYS = 2
HatchOf = Callable[[str, str, int], float]
"""When the eggs of a cohort hatch, by its name, its tray and when they were collected [ms since 1970 UTC]."""
DEAD_EVERY_DAYS = 7
FILL = {"kg": 2.2, "moisture": 0.7, "surface_m2": 0.24, "depth_m": 0.04, "feed": "kitchen waste"}
FED_KG, FED_AFTER_DAYS, RESIDUE_SHARE = 0.6, 5, 0.36
MORNING_MS = 7 * MS_PER_HOUR + MS_PER_HOUR // 2


def past_incidents(days: int) -> tuple[Incident, ...]:
    """Nights in which the door beside the second cage stood open, and cool days of the third tray."""
    nights = [day for day in range(3, days - 6) if day % 7 in (1, 4)]
    cool = [day for day in range(3, days - 6) if day % 4]
    return (
        *(_draught(COLD_CAGE, 24.0 * day + 15.5, 24.0 * day + 22.0) for day in nights),
        *(_draught(COLD_TRAY, 24.0 * day, 24.0 * day + 22.0) for day in cool),
    )


def _draught(place: str, start_h: float, end_h: float) -> Incident:
    return Incident(IncidentKind.DRAUGHT, place, start_h, end_h, ends_aloud=False)


def hatched_percent(name: str) -> int:
    """The share of the eggs of a cohort that was seen to hatch; the same each time."""
    random = np.random.default_rng(zlib.crc32(f"{name} hatch".encode()))
    return int(np.clip(round(100.0 * random.normal(HATCH_SHARE, HATCH_SD)), 40, 98))


def taken_and_given(
    notes: Iterable[LogbookEntry],
    homes: Mapping[str, str],
    climate: PastClimate,
    span_ms: tuple[int, int],
    seed: int,
    hatch_of: HatchOf,
) -> list[LogbookEntry]:
    """Entries beside those about cohorts: lots of flies that were put in, eggs, dead flies, bins.

    `notes` are those about cohorts, `homes` the cage of the flies of each; `span_ms` is a midnight before
    everything, and when the demo begins.
    """
    notes, (first_ms, start_ms) = list(notes), span_ms
    random = np.random.default_rng(seed + 1)
    number = round((start_ms - first_ms) / MS_PER_DAY)
    until = _until(notes, first_ms, number)
    entries = [entry for cage in CAGES for entry in _lots(cage, first_ms, until)]
    flies = _flies_by_day([*notes, *entries], homes, first_ms, number)
    for cage in CAGES:
        cold = _cold_nights(climate, cage, first_ms, number)
        laid = _laid_g(flies[cage], cold, random)
        collected = list(_collections(cage, laid, first_ms, random))
        entries += _set_to_hatch(collected, hatch_of) if cage != COLD_CAGE else collected
        entries += _dead(cage, flies[cage], first_ms)
    entries += _bins(notes)
    return [entry for entry in entries if entry.entered_ms < start_ms]


def _until(notes: Iterable[LogbookEntry], first_ms: int, number: int) -> int:
    """The day from which the farm has flies of its own."""
    own = [entry.at_ms for entry in notes if entry.kind == CohortEntryKind.FLIES]
    return number if not own else int((min(own) - first_ms) // MS_PER_DAY)


def _lots(cage: str, first_ms: int, until: int) -> Iterator[LogbookEntry]:
    """Flies that were bought and put in before the farm had its own, as cohorts that begin as flies."""
    for lot, day in enumerate(range(CAGES.index(cage), until, LOT_EVERY_DAYS), 1):
        name, at_ms = f"{cage}-lot-{lot:02d}", first_ms + day * MS_PER_DAY + MORNING_MS
        start = {"stage": "adult", "place": cage, "animals": LOT_FLIES, "purpose": "breeding", "cage": cage}
        yield _note(SubjectKind.COHORT, name, CohortEntryKind.START, at_ms, start)
        over_ms = at_ms + LOT_LIVES_DAYS * MS_PER_DAY
        yield _note(SubjectKind.COHORT, name, CohortEntryKind.END, over_ms, {"how": Ending.EMERGED.value})


def _flies_by_day(
    notes: Iterable[LogbookEntry], homes: Mapping[str, str], first_ms: int, number: int
) -> dict[str, FloatArray]:
    """Flies that came into each cage by day, shape (days,)."""
    flies = {cage: np.zeros(number) for cage in CAGES}
    for entry in notes:
        day, body = int((entry.at_ms - first_ms) // MS_PER_DAY), entry.body
        if not 0 <= day < number:
            continue
        if entry.kind == CohortEntryKind.FLIES and entry.subject in homes:
            flies[homes[entry.subject]][day] += float(str(body["flies"]))
        elif entry.kind == CohortEntryKind.START and body.get("stage") == "adult":
            flies[str(body["cage"])][day] += float(str(body["animals"]))
    return flies


def _cold_nights(climate: PastClimate, cage: str, first_ms: int, number: int) -> BoolArray:
    """Whether the night before each day was cold in a cage, shape (days,)."""
    air = climate.values[cage, Quantity.AIR_TEMPERATURE]
    cold = np.zeros(number, dtype=bool)
    since = (climate.times_ms - first_ms) / MS_PER_DAY
    # A farm's day begins in the morning, so what is cold within one is the night before the next.
    days = np.floor(since[air < COLD_C]).astype(np.int64) + 1
    cold[days[(days >= 0) & (days < number)]] = True
    return cold


def _laid_g(flies: FloatArray, cold: BoolArray, random: np.random.Generator) -> FloatArray:
    """Grams laid by day, shape (days,)."""
    number = len(flies)
    lag = np.arange(0.5, 21.0)
    weight = lag ** (LAG_SHAPE - 1.0) * np.exp(-lag * LAG_SHAPE / LAG_DAYS)
    clutches = np.convolve(flies * FEMALES, weight / weight.sum())[:number]
    left = np.where(cold, AFTER_COLD[0], 1.0)
    left[1:] = np.minimum(left[1:], np.where(cold[:-1], AFTER_COLD[1], 1.0))
    noise = np.exp(DAY_LOG_SD * random.standard_normal(number) - DAY_LOG_SD**2 / 2.0)
    return np.asarray(clutches * CLUTCH_MG / 1000.0 * left * noise)


def _collections(
    cage: str, laid_g: FloatArray, first_ms: int, random: np.random.Generator
) -> Iterator[LogbookEntry]:
    waiting = 0.0
    for day, grams in enumerate(laid_g.tolist()):
        waiting += grams
        came = random.random() >= MISSED_MORNINGS
        if came and waiting >= LEAST_GRAMS:
            # Eggs of a day are laid in it; the keeper finds them the morning after.
            at_ms = first_ms + (day + 1) * MS_PER_DAY + MORNING_MS
            body = {"grams": round(waiting, 1), "use": "sold", "strips": max(1, round(waiting / 2.0))}
            yield _note(SubjectKind.PLACE, cage, YieldEntryKind.COLLECT, at_ms, body)
        waiting = 0.0 if came else waiting


def _set_to_hatch(collected: Iterable[LogbookEntry], hatch_of: HatchOf) -> Iterator[LogbookEntry]:
    """The same, but some eggs go to a tray, where their hatch is counted and the young are sold."""
    for number, entry in enumerate(collected, 1):
        lot, left = divmod(number, SET_TO_HATCH)
        if left:
            yield entry
            continue
        name, tray = f"young-{lot:02d}", TRAYS[lot % len(TRAYS)]
        goes = {"use": "hatch", "tray": tray, "cohort": name, "begins": True}
        yield replace(entry, body={**entry.body, **goes})
        seen_ms = hatch_of(name, tray, entry.at_ms)
        sold_ms = seen_ms + YOUNG_SOLD_AFTER_DAYS * MS_PER_DAY
        said = {"event": Event.HATCH.value, "percent": hatched_percent(name)}
        yield _note(SubjectKind.COHORT, name, CohortEntryKind.SAW, seen_ms, said)
        over = {"how": Ending.SOLD.value}
        yield _note(SubjectKind.COHORT, name, CohortEntryKind.END, sold_ms, over)


def _dead(cage: str, flies: FloatArray, first_ms: int) -> Iterator[LogbookEntry]:
    for day in range(DEAD_EVERY_DAYS, len(flies), DEAD_EVERY_DAYS):
        swept = float(flies[max(day - 2 * DEAD_EVERY_DAYS, 0) : day - DEAD_EVERY_DAYS].sum())
        if swept >= 1.0:
            at_ms = first_ms + day * MS_PER_DAY + MORNING_MS + MS_PER_HOUR
            yield _note(SubjectKind.PLACE, cage, YieldEntryKind.DEAD, at_ms, {"animals": round(0.9 * swept)})


def _bins(notes: Iterable[LogbookEntry]) -> Iterator[LogbookEntry]:
    """What was filled, fed and left over in the bin of each cohort that was harvested."""
    moved = {entry.subject: entry for entry in notes if entry.kind == CohortEntryKind.MOVE}
    for end in notes:
        into = moved.get(end.subject)
        if end.kind != CohortEntryKind.END or end.body.get("how") != Ending.HARVESTED or into is None:
            continue
        place, filled_ms = str(into.body["place"]), into.at_ms + 2 * MS_PER_HOUR
        random = np.random.default_rng(zlib.crc32(f"{end.subject} bin".encode()))
        yield _note(SubjectKind.BIN, place, BinEntryKind.FILL, filled_ms, {**FILL, "cohort": end.subject})
        fed_ms = filled_ms + FED_AFTER_DAYS * MS_PER_DAY
        fed = {"kg": FED_KG, "moisture": FILL["moisture"], "feed": FILL["feed"]}
        yield _note(SubjectKind.BIN, place, BinEntryKind.FEED, fed_ms, fed)
        left_kg = round((float(str(FILL["kg"])) + FED_KG) * RESIDUE_SHARE * random.uniform(0.9, 1.1), 2)
        emptied_ms = end.at_ms + MS_PER_HOUR
        left = {"residue_kg": left_kg, "residue_moisture": 0.55}
        yield _note(SubjectKind.BIN, place, BinEntryKind.EMPTY, emptied_ms, left)


def _note(about: SubjectKind, subject: str, kind: str, at_ms: float, body: Mapping[str, Any]) -> LogbookEntry:
    at = round(at_ms)
    return LogbookEntry(about, subject, kind, at, at, "keeper", dict(body))
