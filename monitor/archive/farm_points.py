"""What is so at the farm, as points for the archive: worked out by `farm` alone, and only laid out here.

All of it is of now and nothing of it waits in a queue: after an outage the newest is what counts. The
journal of alarms and the hours are streams instead (`streams`), since what they tell happened once.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

from monitor.archive.series import (
    ALARM,
    ALARM_STATUS,
    BIN,
    BIN_STATE,
    BOARD,
    EVENT,
    FIVE_MINUTES_S,
    FORECAST,
    HOUR_S,
    MINUTE_S,
    PLACE,
    PLACE_KIND,
    PLACE_STATE,
    PLACE_VALUE,
    SITE,
    STAGE,
    YIELD_AHEAD,
    YIELD_SUM,
    Point,
)
from monitor.errors import MonitorError
from monitor.farm.bins import BinView, bins_view
from monitor.farm.book import book_of
from monitor.farm.cohorts import CohortView, ForecastView
from monitor.farm.forecast_cache import CohortsAhead, give_back_memory
from monitor.farm.occupancy import last_known_plan
from monitor.farm.places import SiteReader
from monitor.farm.records import ActiveAlarm, NodeRow, PlaceNow, QuantityNow, SiteNow
from monitor.farm.yields import YieldsAhead, YieldsNow, yields_now
from monitor.records import UNSEEN, AlarmStatus, Priority
from monitor.settings.plan import Plan
from monitor.settings.schema import Settings
from monitor.store import Store
from monitor.yields.larvae import BinHarvest
from monitor.yields.sums import PeriodSum

log = logging.getLogger(__name__)

WEEKS_AHEAD = 4
AlarmTags = tuple[str, str, str, str]


class FarmPoints:
    """The points that are due at a moment: the site each minute, places each five, what is to come each
    hour."""

    def __init__(
        self,
        store: Store,
        settings: Callable[[], Settings],
        steady_s: Callable[[], float] = time.monotonic,
    ) -> None:
        self._store, self._settings, self._steady_s = store, settings, steady_s
        self._due_s = dict.fromkeys((MINUTE_S, FIVE_MINUTES_S, HOUR_S), steady_s())
        self._states: Mapping[str, int] = {}
        self._open: frozenset[AlarmTags] = frozenset()

    def due(self, now_ms: int) -> list[Point]:
        """What is to be written now; a part that cannot be worked out is left out, and the log says why."""
        if not self._is_due(MINUTE_S):
            return []
        try:
            plan = last_known_plan(self._store, self._settings(), now_ms)
            points = self._now(plan, now_ms)
        except MonitorError as error:
            log.warning("what is so at the farm could not be read for the archive: %s", error)
            return []
        except Exception:
            log.exception("what is so at the farm could not be worked out for the archive")
            return []
        if self._is_due(HOUR_S):
            points += self._ahead(plan, now_ms)
        return points

    def _is_due(self, every_s: float) -> bool:
        now_s = self._steady_s()
        if now_s < self._due_s[every_s]:
            return False
        self._due_s[every_s] = now_s + every_s
        return True

    def _now(self, plan: Plan, now_ms: int) -> list[Point]:
        reader = SiteReader(self._store, plan, now_ms)
        site, boards, alarms = reader.site(), reader.boards(), reader.alarms()
        waiting = self._store.archive_queue.status().waiting
        points = [site_point(site, alarms, boards, waiting), *self._alarms(alarms, now_ms)]
        states = {place.id: PLACE_STATE[place.state] for place in site.places}
        if self._is_due(FIVE_MINUTES_S) or states != self._states:
            points += place_points(site, now_ms)
            points += [board_point(board, now_ms) for board in boards]
        self._states = states
        return points

    def _alarms(self, alarms: Sequence[ActiveAlarm], now_ms: int) -> Iterator[Point]:
        """Each alarm that is not normal, and those that became so since the last look."""
        tags = frozenset(alarm_tags(alarm) for alarm in alarms)
        yield from (alarm_point(alarm, now_ms) for alarm in alarms)
        normal = {"status": ALARM_STATUS[AlarmStatus.NORMAL], "active": 0.0, "acknowledged": 1.0}
        yield from (Point(ALARM, over, normal, now_ms) for over in sorted(self._open - tags))
        self._open = tags

    def _ahead(self, plan: Plan, now_ms: int) -> list[Point]:
        """What is to come, and the sums: of no use without a logbook."""
        if not self._store.logbook.newest_id():
            return []
        points: list[Point] = []
        try:
            points += ahead_points(self._store, plan, now_ms)
        except Exception:
            log.exception("what is to come could not be worked out for the archive")
        finally:
            give_back_memory()
        return points


def alarm_tags(alarm: ActiveAlarm) -> AlarmTags:
    rule = alarm.rule
    return rule.place, rule.quantity, rule.side.value, rule.priority.value


def alarm_point(alarm: ActiveAlarm, now_ms: int) -> Point:
    """How one alarm stands."""
    state = alarm.state
    fields = {
        "status": ALARM_STATUS[state.status],
        "active": state.active,
        "acknowledged": state.acknowledged,
        "value": alarm.value,
        "setpoint": alarm.rule.setpoint,
        "since_ms": state.since_ms,
        "extreme": state.extreme_value,
    }
    return Point(ALARM, alarm_tags(alarm), fields, now_ms)


def site_point(
    site: SiteNow, alarms: Iterable[ActiveAlarm], boards: Sequence[NodeRow], waiting: int
) -> Point:
    """The site as one point. Without a living service it bears no heartbeat: nobody guards."""
    standing, unseen = [alarm for alarm in alarms if alarm.stands], _unseen(alarms)
    oldest_ms = min((ms for alarm in unseen if (ms := alarm.state.since_ms) is not None), default=None)
    fields = {
        "heartbeat": 1.0 if site.service_alive else None,
        "open_alarms": len(standing),
        "unacknowledged_alarms": len(unseen),
        **{f"{each}_alarms": sum(alarm.rule.priority is each for alarm in standing) for each in Priority},
        "oldest_unacknowledged_ms": oldest_ms,
        "places": len(site.places),
        "unknown_places": site.unknown,
        "unguarded_places": site.unguarded,
        "boards": len(boards),
        "silent_boards": sum(_is_silent(board) for board in boards),
        "boards_to_mend": sum(_is_to_mend(board) for board in boards),
        "waiting_readings": waiting,
    }
    return Point(SITE, (), fields, site.now_ms)


def _unseen(alarms: Iterable[ActiveAlarm]) -> list[ActiveAlarm]:
    return [alarm for alarm in alarms if alarm.state.status in UNSEEN]


def _is_silent(board: NodeRow) -> bool:
    return board.silent and not board.out_of_service and board.aside is None


def _is_to_mend(board: NodeRow) -> bool:
    return board.needs_care and board.aside is None


def place_points(site: SiteNow, now_ms: int) -> Iterator[Point]:
    """Each place, and what is measured there."""
    for place in site.places:
        yield _place_point(place, now_ms)
        yield from (_value_point(place.id, quantity, now_ms) for quantity in place.quantities)


def _place_point(place: PlaceNow, now_ms: int) -> Point:
    fields = {
        "kind": PLACE_KIND[place.kind],
        "stage": None if place.stage is None else STAGE[place.stage],
        "state": PLACE_STATE[place.state],
        "open_alarms": len(place.standing),
        "unacknowledged_alarms": len(_unseen(place.alarms)),
        "since_ms": place.standing[0].state.since_ms if place.standing else None,
        "excess_k": place.excess_k,
    }
    return Point(PLACE, (place.id,), fields, now_ms)


def _value_point(place: str, quantity: QuantityNow, now_ms: int) -> Point:
    """Without a value where no sensor can be trusted: the limits stay known."""
    is_known = bool(quantity.usable) or quantity.bin_moisture is not None
    fields = {
        "lowest": quantity.lowest if is_known else None,
        "highest": quantity.highest if is_known else None,
        "per_hour": quantity.per_hour,
        "low_limit": quantity.low_limit,
        "high_limit": quantity.high_limit,
        "at_ms": quantity.newest.at_ms,
    }
    return Point(PLACE_VALUE, (place, quantity.quantity), fields, now_ms)


def board_point(board: NodeRow, now_ms: int) -> Point:
    """How one board is."""
    report = board.report
    fields = {
        "battery_v": board.battery_v,
        "battery_low_v": board.battery_low_v,
        "silent": _is_silent(board),
        "to_mend": _is_to_mend(board),
        "last_heard_ms": board.facts.last_heard_ms if board.heard else None,
        "signal_dbm": None if report is None or not report.is_current else report.report.rssi_dbm,
    }
    return Point(BOARD, (board.facts.node,), fields, now_ms)


def ahead_points(store: Store, plan: Plan, now_ms: int) -> list[Point]:
    """Cohorts, bins, what they will give, and what was taken: as the page shows them."""
    book = book_of(store, plan, now_ms)
    now = yields_now(store, plan, book, now_ms)
    cohorts = CohortsAhead(store, plan, now_ms, book=book)
    ahead = cohorts.yields(now)
    bins = bins_view(store, plan, now_ms, book=book)
    harvests = {each.place: each for each in ahead.larvae.bins}
    return [
        *forecast_points(cohorts.forecast, now_ms),
        *(bin_point(view, harvests.get(view.place), now_ms) for view in bins.bins),
        *week_points(ahead, now_ms),
        *sum_points(now, now_ms),
    ]


def forecast_points(forecast: ForecastView, now_ms: int) -> Iterator[Point]:
    """What comes next of each living cohort."""
    for view in forecast.cohorts:
        yield Point(FORECAST, (view.cohort.name,), _forecast_fields(view), now_ms)


def _forecast_fields(view: CohortView) -> dict[str, float | None]:
    stage, due = view.stage, view.expected
    fields: dict[str, float | None] = {"stage": None if stage is None else STAGE[stage]}
    if due is None:
        return fields
    window = {"low_ms": due.low_ms, "middle_ms": due.median_ms, "high_ms": due.high_ms}
    return {**fields, **window, "event": EVENT[due.event], "late": due is view.overdue}


def bin_point(view: BinView, harvest: BinHarvest | None, now_ms: int) -> Point:
    """One filled bin with its moisture and its harvest."""
    moisture, outlook = view.moisture, view.outlook
    fields: dict[str, float | None] = {
        "state": BIN_STATE[view.state],
        "moisture": None if moisture is None else moisture.share,
        "dry_earliest_h": view.earliest_dry_h,
        "dry_likely_h": view.likely_dry_h,
        "litres": None if outlook is None else outlook.litres,
    }
    if harvest is not None:
        fields |= {
            "harvest_low_ms": harvest.low_ms,
            "harvest_ms": harvest.best_ms,
            "harvest_high_ms": harvest.high_ms,
            "harvest_low_kg": harvest.kg.low,
            "harvest_kg": harvest.kg.median,
            "harvest_high_kg": harvest.kg.high,
        }
    return Point(BIN, (view.place,), fields, now_ms)


def week_points(ahead: YieldsAhead, now_ms: int) -> Iterator[Point]:
    """Eggs and larvae of the coming weeks, all cages and bins together."""
    eggs, larvae = ahead.eggs.weeks() if ahead.eggs.cages else (), ahead.larvae.weeks
    for week in range(WEEKS_AHEAD):
        fields: dict[str, float | None] = {}
        if week < len(eggs):
            gram = eggs[week]
            fields |= {"from_ms": gram.from_ms, "to_ms": gram.to_ms}
            fields |= {"eggs_low_g": gram.low, "eggs_middle_g": gram.median, "eggs_high_g": gram.high}
        if week < len(larvae):
            kilo = larvae[week]
            fields |= {"from_ms": kilo.from_ms, "to_ms": kilo.to_ms}
            fields |= {
                "larvae_low_kg": kilo.low,
                "larvae_middle_kg": kilo.median,
                "larvae_high_kg": kilo.high,
            }
        yield Point(YIELD_AHEAD, (str(week),), fields, now_ms)


def sum_points(now: YieldsNow, now_ms: int) -> Iterator[Point]:
    """Sums of the week and the month that run, and of those before."""
    for spans in (now.weeks, now.months):
        for ago, span in enumerate(spans):
            if span is not None:
                yield Point(YIELD_SUM, (span.span.value, str(ago)), _sums(span), now_ms)


def _sums(span: PeriodSum) -> dict[str, float | None]:
    return {
        "from_ms": span.start_ms,
        "to_ms": span.end_ms,
        "eggs_g": span.eggs.value,
        "larvae_kg": span.larvae.value,
        "prepupae_kg": span.prepupae.value,
        "feed_kg": span.feed.value,
        "residue_kg": span.residue.value,
        "flies": span.flies.value,
    }
