"""Many sites read from their archive: worst first, how old each figure is, few questions."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import pytest
from archive_memory import MemoryArchive
from many_sites import NOW_MS, ManySites, settings_of

from monitor.archive.reader import Newest, Selection
from monitor.archive.series import FORECAST, SITE
from monitor.errors import ArchiveUnreachable
from monitor.records import MS_PER_DAY, MS_PER_HOUR, MS_PER_MINUTE, AlarmStatus, SensorKey
from monitor.sites.overview import Overview, Standing
from monitor.sites.overview_reader import SitesReader
from monitor.sites.site_reader import SiteReader


@pytest.fixture
def many() -> ManySites:
    """Five sites, each with something else."""
    made = ManySites()
    made.a_few()
    return made


def reader_of(many: ManySites, **tables: object) -> SitesReader:
    return SitesReader(many.archive, settings_of(**tables))


def standings(overview: Overview) -> list[tuple[str, str]]:
    return [(line.site, line.standing.value) for line in overview.lines]


def test_the_worst_comes_first(many: ManySites) -> None:
    overview = reader_of(many, sites=[{"id": "new-yard"}]).look(NOW_MS)
    assert standings(overview) == [
        ("hot-yard", "high"),
        ("quiet-yard", "silent"),
        ("seen-yard", "seen"),
        ("dry-yard", "mend"),
        ("fine-yard", "fine"),
        ("new-yard", "awaited"),
    ]
    assert overview.needs_somebody


def test_each_figure_keeps_its_time(many: ManySites) -> None:
    overview = reader_of(many).look(NOW_MS)
    quiet = overview.line("quiet-yard")
    assert quiet is not None and quiet.silent_ms == 3 * MS_PER_HOUR
    figures = quiet.figures
    assert figures.heard_ms == NOW_MS - 3 * MS_PER_HOUR
    assert figures.unacknowledged is not None and figures.unacknowledged.at_ms == figures.heard_ms
    assert figures.eggs_g is not None and figures.eggs_g.at_ms == figures.heard_ms - MS_PER_MINUTE
    assert figures.dry_bin is not None
    assert [alarm.place for alarm in figures.alarms] == ["grow-out-1"], "as it was when it was heard last"


def test_an_unseen_alarm_that_is_over_still_counts_and_one_that_was_put_aside_does_not(
    many: ManySites,
) -> None:
    many.beat("hot-yard", unacknowledged_alarms=2.0, open_alarms=1.0)
    many.alarm("hot-yard", "room-1", 36.0, priority="medium", status=AlarmStatus.RETURNED_UNACKNOWLEDGED)
    many.alarm("hot-yard", "room-2", 36.0, status=AlarmStatus.SHELVED)
    line = reader_of(many).look(NOW_MS).line("hot-yard")
    assert line is not None
    assert [alarm.place for alarm in line.figures.alarms] == ["grow-out-2", "room-1"]


def test_an_alarm_that_is_over_is_gone_at_the_next_look(many: ManySites) -> None:
    reader = reader_of(many)
    reader.look(NOW_MS)
    later_ms = NOW_MS + MS_PER_MINUTE
    many.beat("hot-yard", later_ms)
    line = reader.look(later_ms).line("hot-yard")
    assert line is not None and line.standing is Standing.FINE and line.figures.alarms == ()


def test_silence_begins_after_the_limit_and_not_at_it(many: ManySites) -> None:
    reader = reader_of(many, watch={"silent_minutes": 30.0})
    assert reader.look(NOW_MS).count(Standing.SILENT) == 1
    limit_ms = NOW_MS + 30 * MS_PER_MINUTE
    assert reader.look(limit_ms).count(Standing.SILENT) == 1
    assert reader.look(limit_ms + 1).count(Standing.SILENT) == 4, "a high alarm stays above silence"


def test_a_high_alarm_of_a_site_that_fell_silent_stays_on_top(many: ManySites) -> None:
    overview = reader_of(many).look(NOW_MS + 2 * MS_PER_HOUR)
    line = overview.lines[0]
    assert (line.site, line.standing) == ("hot-yard", Standing.HIGH)
    assert line.silent_ms == 2 * MS_PER_HOUR


def test_a_site_that_comes_back_is_heard(many: ManySites) -> None:
    reader = reader_of(many)
    reader.look(NOW_MS)
    many.beat("quiet-yard", NOW_MS + MS_PER_MINUTE)
    line = reader.look(NOW_MS + MS_PER_MINUTE).line("quiet-yard")
    assert line is not None and line.standing is Standing.FINE


def test_what_came_between_two_looks_that_lie_far_apart_is_found(many: ManySites) -> None:
    reader = reader_of(many)
    reader.look(NOW_MS)
    between_ms = NOW_MS + 2 * MS_PER_HOUR
    many.beat("fine-yard", between_ms, boards_to_mend=1.0)
    line = reader.look(NOW_MS + 5 * MS_PER_HOUR).line("fine-yard")
    assert line is not None and line.figures.heard_ms == between_ms
    assert line.figures.to_mend is not None and line.figures.to_mend.value == 1.0


def test_a_site_without_a_heartbeat_is_heard_by_its_readings(many: ManySites) -> None:
    sensor = SensorKey("node-1", "", "air_temperature")
    many.archive.write_reading("old-program", sensor, NOW_MS - MS_PER_MINUTE, 27.5)
    reader = reader_of(many)
    line = reader.look(NOW_MS).line("old-program")
    assert line is not None and line.figures.heard_ms == NOW_MS - MS_PER_MINUTE
    many.archive.write_reading("old-program", sensor, NOW_MS + 9 * MS_PER_MINUTE, 27.5)
    line = reader.look(NOW_MS + 10 * MS_PER_MINUTE).line("old-program")
    assert line is not None and line.figures.heard_ms == NOW_MS + 9 * MS_PER_MINUTE


def test_a_site_long_silent_leaves_the_list_unless_it_is_named(many: ManySites) -> None:
    many.beat("gone", NOW_MS - 40 * MS_PER_DAY)
    many.beat("named", NOW_MS - 40 * MS_PER_DAY)
    overview = reader_of(many, sites=[{"id": "named", "title": "The Far Yard"}]).look(NOW_MS)
    assert overview.line("gone") is None
    line = overview.line("named")
    assert line is not None and (line.title, line.standing) == ("The Far Yard", Standing.AWAITED)


def test_a_clock_that_is_ahead_makes_no_site_heard_in_the_future(many: ManySites) -> None:
    many.beat("ahead", NOW_MS + 30 * MS_PER_MINUTE)
    line = reader_of(many).look(NOW_MS).line("ahead")
    assert line is not None and line.figures.heard_ms == NOW_MS


def test_a_look_after_our_own_clock_went_back_asks_anew(many: ManySites) -> None:
    reader = reader_of(many)
    reader.look(NOW_MS + 3 * MS_PER_DAY)
    assert standings(reader.look(NOW_MS))[0] == ("hot-yard", "high")


def test_a_bin_that_was_watered_is_not_dry_soon(many: ManySites) -> None:
    reader = reader_of(many)
    line = reader.look(NOW_MS).line("dry-yard")
    assert line is not None and line.figures.dry_bin is not None
    assert line.figures.dry_bin.dry_ms == NOW_MS + 5 * MS_PER_HOUR
    later_ms = NOW_MS + MS_PER_HOUR
    many.beat("dry-yard", later_ms)
    many.hourly("dry-yard", later_ms, dry_h=50.0)
    line = reader.look(later_ms).line("dry-yard")
    assert line is not None and line.standing is Standing.FINE


def test_a_bin_of_a_silent_site_dries_on(many: ManySites) -> None:
    reader = reader_of(many)
    reader.look(NOW_MS)
    line = reader.look(NOW_MS + 20 * MS_PER_HOUR).line("fine-yard")
    assert line is not None and line.standing is Standing.SILENT
    assert line.figures.dry_bin is not None and line.figures.dry_bin.dry_ms == NOW_MS + 60 * MS_PER_HOUR


def test_a_bin_that_was_emptied_is_not_told_of_any_more(many: ManySites) -> None:
    reader = reader_of(many)
    assert reader.look(NOW_MS).line("dry-yard") is not None
    later_ms = NOW_MS + 3 * MS_PER_HOUR
    many.beat("dry-yard", later_ms)
    line = reader.look(later_ms).line("dry-yard")
    assert line is not None and line.figures.dry_bin is None and line.figures.eggs_g is None
    assert line.standing is Standing.FINE


def test_while_the_archive_is_away_what_was_known_stays(many: ManySites) -> None:
    reader = reader_of(many)
    before = reader.look(NOW_MS)
    many.archive.is_silent = True
    with pytest.raises(ArchiveUnreachable):
        reader.look(NOW_MS + MS_PER_MINUTE)
    many.archive.is_silent = False
    assert standings(reader.look(NOW_MS)) == standings(before)


class CountingArchive(MemoryArchive):
    """Counts what is asked."""

    def __init__(self) -> None:
        super().__init__()
        self.asked: Counter[str] = Counter()
        self.longest_ms = 0

    def last(self, selection: Selection, by: Sequence[str], start_ms: int, end_ms: int) -> tuple[Newest, ...]:
        self.asked[selection.measurement] += 1
        if selection.measurement == SITE.measurement:
            self.longest_ms = max(self.longest_ms, end_ms - start_ms)
        return super().last(selection, by, start_ms, end_ms)


def test_the_questions_do_not_grow_with_the_sites() -> None:
    asked = []
    for sites in (3, 300):
        many = ManySites()
        many.archive = archive = CountingArchive()
        for number in range(sites):
            many.beat(f"site-{number:04}", unacknowledged_alarms=float(number % 3 == 0))
            many.hourly(f"site-{number:04}")
        many.beat("silent", NOW_MS - 5 * MS_PER_HOUR)
        reader = reader_of(many)
        reader.look(NOW_MS)
        first = sum(archive.asked.values())
        archive.asked.clear()
        archive.longest_ms = 0
        reader.look(NOW_MS + MS_PER_MINUTE)
        assert archive.longest_ms <= 2 * MS_PER_HOUR, (
            "a month of heartbeats is asked for once, not each minute"
        )
        asked.append((first, sum(archive.asked.values())))
    assert asked[0] == asked[1]
    assert asked[1][1] <= 8


def test_a_site_whole(many: ManySites) -> None:
    reader = reader_of(many)
    line = reader.line("hot-yard", NOW_MS)
    assert line is not None
    picture = SiteReader(reader.questions, line).picture(NOW_MS)
    assert [place.place for place in picture.places] == ["grow-out-2", "grow-out-1"], "the worst first"
    assert picture.places[0].values[0].highest == 47.1
    assert picture.places[0].values[0].high_limit == 42.0
    assert [board.node for board in picture.boards if board.is_to_mend] == ["node-3"]
    assert [(each.place, each.moisture) for each in picture.bins] == [("grow-out-1", 0.62)]
    assert [each.cohort for each in picture.cohorts] == ["C7"]
    assert picture.weeks[0].eggs_g is not None and picture.weeks[0].eggs_g.median == 40.0


def test_a_silent_site_whole_is_as_it_was_when_it_was_heard_last(many: ManySites) -> None:
    many.places("quiet-yard", NOW_MS - 3 * MS_PER_HOUR)
    reader = reader_of(many)
    line = reader.line("quiet-yard", NOW_MS)
    assert line is not None and line.standing is Standing.SILENT
    picture = SiteReader(reader.questions, line).picture(NOW_MS)
    assert len(picture.places) == 2 and len(picture.bins) == 1
    assert reader.line("nobody", NOW_MS) is None


def test_a_cohort_that_ended_is_not_told_of(many: ManySites) -> None:
    many.hourly("fine-yard", NOW_MS - 2 * MS_PER_HOUR)
    many.write(
        FORECAST,
        "fine-yard",
        NOW_MS - 2 * MS_PER_HOUR,
        {"stage": 4.0, "event": 8.0, "low_ms": 1.0, "middle_ms": 2.0, "high_ms": 3.0, "late": 0.0},
        cohort="C6",
    )
    reader = reader_of(many)
    line = reader.line("fine-yard", NOW_MS)
    assert line is not None
    assert [each.cohort for each in SiteReader(reader.questions, line).picture(NOW_MS).cohorts] == ["C7"]
