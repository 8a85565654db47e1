"""`cohort` as a person runs it: what is written, what is printed, what is refused and why."""

from __future__ import annotations

from pathlib import Path

import pytest
from cohort_farm import NOW_MS, CohortFarm, make_farm, printed_json

from monitor.records import MS_PER_DAY, MS_PER_HOUR

Printed = pytest.CaptureFixture[str]
EGGS = ("start", "n", "tray-1", "--stage", "egg")


@pytest.fixture
def farm(tmp_path: Path) -> CohortFarm:
    return make_farm(tmp_path)


def _said(farm: CohortFarm, capsys: Printed, *words: str) -> str:
    assert farm.ask("cohort", *words) == 0, capsys.readouterr().err
    return " ".join(capsys.readouterr().out.split())


def _refused(farm: CohortFarm, capsys: Printed, *words: str) -> str:
    before = farm.entries()
    assert farm.ask("cohort", *words) == 2
    assert farm.entries() == before
    return " ".join(capsys.readouterr().err.split())


def test_a_cohort_from_laid_eggs_says_at_once_when_its_flies_come(farm: CohortFarm, capsys: Printed) -> None:
    said = _said(
        farm,
        capsys,
        *("start", "eggs-1", "tray-1", "--stage", "egg", "--at", "yesterday 18:00", "--grams", "5"),
        *("--for", "breeding", "--cage", "cage-1", "--by", "ana", "--note", "from cage 2"),
    )
    (entry,) = farm.entries()

    assert entry.at_ms == NOW_MS - 13 * MS_PER_HOUR
    assert (entry.kind, entry.author, entry.body["grams"]) == ("start", "ana", 5.0)
    assert "began as eggs in Tray 1, 5 g, for breeding, flies into Cage 1 (from cage 2)" in said
    assert "Next: hatching Fri 25 Sep" in said
    assert "numbers from papers, none of your own yet" in said
    assert "by a rough count" in said


def test_what_a_cohort_is_for_is_said_later_too(farm: CohortFarm, capsys: Printed) -> None:
    _said(farm, capsys, *EGGS)
    said = _said(farm, capsys, "purpose", "n", "breeding", "--cage", "cage-1", "--by", "ana")
    entry = farm.entries()[-1]
    assert (entry.kind, entry.author, dict(entry.body)) == (
        *("purpose", "ana"),
        {"purpose": "breeding", "cage": "cage-1"},
    )
    assert "for breeding, flies into Cage 1" in said
    assert "no-such" in _refused(farm, capsys, "purpose", "no-such", "feed")
    assert farm.ask("cohort", "purpose", "n", "sale") == 2


def test_a_day_alone_is_its_noon_and_a_window_has_an_end(farm: CohortFarm, capsys: Printed) -> None:
    start = ("start", "eggs-1", "tray-1", "--stage", "egg")
    _said(farm, capsys, *start, "--at", "2026-09-18", "--until", "2026-09-19")
    (entry,) = farm.entries()

    assert entry.at_ms == NOW_MS - 4 * MS_PER_DAY + 5 * MS_PER_HOUR
    assert entry.body["window_hours"] == 24.0
    assert "--until must lie after --at" in _refused(
        farm, capsys, "start", "e", "tray-1", "--stage", "egg", "--at", "2026-09-18", "--until", "2026-09-17"
    )


def test_the_whole_life_of_a_cohort(farm: CohortFarm, capsys: Printed) -> None:
    steps = (
        ("start", "a", "Tray 1", "--stage", "egg", "--at", "2026-08-01 08:00", "--animals", "5000"),
        ("saw", "a", "hatch", "--at", "2026-08-04 12:00", "--within", "0.5"),
        ("move", "a", "bin-1", "--at", "2026-08-05 09:00"),
        ("count", "a", "--animals", "4000", "--stage", "larva", "--at", "2026-08-06"),
        ("thin", "a", "--percent", "25", "--at", "2026-08-10"),
        ("split", "a", "b", "--to", "box-1", "--percent", "20", "--for", "breeding", "--at", "2026-08-25"),
        ("end", "a", "harvested", "--grams", "320", "--at", "2026-08-26"),
        ("saw", "b", "half_motionless", "--at", "2026-09-06"),
        ("count", "b", "--flies", "12", "--at", "2026-09-16"),
        ("count", "b", "--eggs", "1.5", "--at", "2026-09-21"),
    )
    for step in steps:
        _said(farm, capsys, *step)
    assert farm.ask("cohort", "show", "b", "--json") == 0
    told = printed_json(capsys)

    assert [entry["kind"] for entry in told["entries"]] == ["split", "saw", "flies", "eggs"]
    assert told["animals"] == pytest.approx(4000 * 0.75 * 0.2)
    assert [stay["place"] for stay in told["stays"]] == ["tray-1", "bin-1", "box-1"]
    assert [seen["event"] for seen in told["seen"]] == ["hatch", "half_motionless"]
    assert told["parent"] == "a"
    assert told["forecast"]["rests_on"]["own_cohorts"] == 1
    assert "Ended Wed 26 Aug: harvested, 320 g." in _said(farm, capsys, "show", "a")


@pytest.mark.parametrize(
    ("words", "reason"),
    [
        (("start", "a", "tray-1", "--stage", "egg"), "there is a cohort a already; choose another name"),
        (("start", "n", "tray-7", "--stage", "egg"), "'tray-7' is no place in the settings; do you mean"),
        (
            ("start", "n", "tray-1", "--stage", "egg", "--at", "tomorrow"),
            "lies ahead (now: 2026-09-22 07:00)",
        ),
        (("start", "n", "tray-1", "--stage", "egg", "--at", "soon"), "'soon' is no time that is understood"),
        (
            ("start", "n", "tray-1", "--stage", "egg", "--cage", "box-1"),
            "cage is 'box-1'; allowed: cage-1, cage-2",
        ),
        (
            ("start", "n", "tray-1", "--stage", "egg", "--feed", "grass"),
            "feed is 'grass'; allowed: brewery_grain",
        ),
        (
            ("saw", "a", "hatch", "--at", "2026-08-01"),
            "2026-08-01 12:00 is before its start (2026-09-10 08:00)",
        ),
        (("saw", "a", "hatch", "--at", "in 2 days"), "lies ahead"),
        (("saw", "x", "hatch"), "there is no cohort 'x'"),
        (("move", "a", "tray-1"), "it has lived in Tray 1 since 2026-09-10 08:00 already"),
        (("move", "a", "bin-1", "--planned", "--at", "yesterday"), "a planned move lies ahead"),
        (("split", "a", "b"), "say how many"),
        (("merge", "a", "nobody"), "there is no cohort 'nobody'"),
        (("thin", "a", "--animals", "5"), "say which share was taken out"),
        (("count", "a"), "give one of --animals, --flies and --eggs"),
        (("count", "a", "--flies", "1", "--eggs", "2"), "give one of --animals, --flies and --eggs"),
        (("count", "a", "--animals", "-3"), "animals: '-3' is no whole number"),
        (("end", "a", "merged"), "how is 'merged'; allowed: emerged, harvested, sold, lost"),
        (("correct", "1"), "give what is right, a time with --at, or both; or --withdraw alone"),
        (("correct", "99", "--at", "yesterday"), "the logbook has no entry 99 about a cohort"),
        (("correct", "1", "--set", "grams"), "--set 'grams' is not understood; allowed: KEY=VALUE"),
        (
            ("correct", "1", "--set", "place=shed"),
            "'shed' is no place in the settings; known: room-1",
        ),
        (("show", "aa"), "there is no cohort 'aa'"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_written(
    farm: CohortFarm, capsys: Printed, words: tuple[str, ...], reason: str
) -> None:
    _said(farm, capsys, "start", "a", "tray-1", "--stage", "egg", "--at", "2026-09-10 08:00")
    assert reason in _refused(farm, capsys, *words)


def test_a_correction_changes_what_counts_and_shows_what_was_first_written(
    farm: CohortFarm, capsys: Printed
) -> None:
    _said(farm, capsys, "start", "a", "tray-1", "--stage", "egg", "--at", "2026-09-10 08:00", "--grams", "2")
    _said(farm, capsys, "correct", "1", "--at", "2026-09-11 08:00", "--set", "grams=3", "--note", "misread")
    shown = _said(farm, capsys, "show", "a")

    assert "Fri 11 Sep 08:00 began as eggs in Tray 1, 3 g (misread)" in shown
    assert "Thu 10 Sep 08:00 began as eggs in Tray 1, 2 g" in shown
    assert "[corrected by entry 2]" in shown
    assert "entry 1 was corrected already by entry 2; correct that one" in _refused(
        farm, capsys, "correct", "1", "--at", "2026-09-12"
    )


def test_a_withdrawn_entry_stays_in_the_book(farm: CohortFarm, capsys: Printed) -> None:
    _said(farm, capsys, "start", "a", "tray-1", "--stage", "egg", "--at", "2026-09-10 08:00")
    _said(farm, capsys, "saw", "a", "hatch", "--at", "2026-09-13")
    assert "entry 2 does not count any more" in _said(farm, capsys, "correct", "2", "--withdraw")

    assert "[withdrawn by entry 3]" in _said(farm, capsys, "show", "a")
    assert len(farm.entries()) == 3
    assert "a: then entry" not in _said(farm, capsys, "saw", "a", "hatch", "--at", "2026-09-14")


def test_the_list_shows_who_lives_and_with_all_who_has_ended(farm: CohortFarm, capsys: Printed) -> None:
    assert "No cohort is in the logbook" in _said(farm, capsys, "list")
    farm.write("a", "start", 12.0, stage="egg", place="tray-1", animals=5000, purpose="feed")
    farm.write("b", "start", 2.0, stage="pupa", place="box-1")
    farm.write("c", "start", 60.0, stage="egg", place="tray-1")
    farm.write("c", "end", 10.0, how="sold")

    said = _said(farm, capsys, "list")
    assert "a larvae in Tray 1, since Thu 10 Sep, 5000 as eggs, for feed" in said
    assert "b pupae in Box 1, since Sun 20 Sep" in said
    assert "sold" not in said
    assert "c sold Sat 12 Sep, since Fri 24 Jul" in _said(farm, capsys, "list", "--all")
    assert farm.ask("cohort", "list", "--json") == 0
    assert [each["name"] for each in printed_json(capsys)["cohorts"]] == ["a", "b"]


def test_the_stage_of_a_count_is_worked_out_where_it_is_not_said(farm: CohortFarm, capsys: Printed) -> None:
    farm.write("a", "start", 12.0, stage="egg", place="tray-1")
    assert "900 counted as larvae" in _said(farm, capsys, "count", "a", "--animals", "900")


@pytest.mark.parametrize(
    ("at", "said"),
    [
        ("8 Sep", "When: Tuesday 8 September, 12:00, 2 weeks ago."),
        ("8/9 18:00", "When: Tuesday 8 September, 18:00, 2 weeks ago."),
        ("8 Aug 2026", "When: Saturday 8 August, 12:00, 6 weeks ago."),
        ("monday 6:30", "When: Monday 21 September, 06:30, 24 h 30 min ago."),
    ],
)
def test_dates_are_read_as_people_write_them_and_said_back(
    farm: CohortFarm, capsys: Printed, at: str, said: str
) -> None:
    assert said in _said(farm, capsys, "start", "a", "tray-1", "--stage", "egg", "--at", at)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((*EGGS, "--grams", "1,500"), "grams: 1,500: 1500 or 1.5? write 1500 or 1.5"),
        ((*EGGS, "--animals", "10,000"), "animals: 10,000: 10000 or 10? write 10000 or 10"),
        ((*EGGS, "--age", "1,500", "--within", "2,500"), "age days: 1,500: 1500 or 1.5?"),
        ((*EGGS, "--through", "12,500"), "through percent: 12,500: 12500 or 12.5?"),
        (("count", "a", "--flies", "1,500"), "flies: 1,500: 1500 or 1.5?"),
        (("count", "a", "--eggs", "1,500"), "grams: 1,500: 1500 or 1.5?"),
        (("thin", "a", "--percent", "12.500"), "percent: 12.500: 12500 or 12.5?"),
        (("correct", "1", "--set", "grams=1,500"), "grams: 1,500: 1500 or 1.5?"),
    ],
)
def test_numbers_that_can_be_read_two_ways_are_refused(
    farm: CohortFarm, capsys: Printed, words: tuple[str, ...], said: str
) -> None:
    _said(farm, capsys, "start", "a", "tray-1", "--stage", "egg", "--grams", "5")
    assert said in _refused(farm, capsys, *words)


def test_numbers_are_read_as_people_write_them(farm: CohortFarm, capsys: Printed) -> None:
    _said(farm, capsys, "start", "a", "tray-1", "--stage", "larva", "--animals", "10 000", "--age", "2,5 d")
    _said(farm, capsys, "thin", "a", "--percent", "30 %")
    _said(farm, capsys, "correct", "1", "--set", "animals=12'000")
    bodies = [entry.body for entry in farm.entries()]
    assert [bodies[0]["animals"], bodies[0]["age_days"], bodies[1]["percent"]] == [10_000, 2.5, 30]
    assert bodies[2]["animals"] == 12_000


def test_places_are_known_by_title_whatever_the_case(farm: CohortFarm, capsys: Printed) -> None:
    _said(farm, capsys, "start", "a", "TRAY 1", "--stage", "egg", "--at", "3 days ago", "--cage", "Cage 2")
    _said(farm, capsys, "move", "a", "bin2", "--at", "1 day ago")
    _said(farm, capsys, "correct", "2", "--set", "place=Bin 1")
    bodies = [entry.body for entry in farm.entries()]
    assert (bodies[0]["place"], bodies[0]["cage"]) == ("tray-1", "cage-2")
    assert (bodies[1]["place"], bodies[2]["place"]) == ("bin-2", "bin-1")


TOO_SOON = "even at the best temperature that takes about"


@pytest.mark.parametrize(
    ("start", "words", "said"),
    [
        (
            ("--stage", "egg"),
            ("saw", "a", "first_emerged"),
            "First flies 0.0 days after eggs: even at the best",
        ),
        (("--stage", "larva", "--at", "2 days ago"), ("count", "a", "--flies", "140"), TOO_SOON),
        (
            ("--stage", "adult", "--animals", "3000", "--at", "8 days ago"),
            ("count", "a", "--eggs", "280"),
            "280 g of eggs weigh more than the 3000 flies that laid them",
        ),
    ],
)
def test_what_cannot_be_is_refused_however_sure_one_is(
    farm: CohortFarm, capsys: Printed, start: tuple[str, ...], words: tuple[str, ...], said: str
) -> None:
    _said(farm, capsys, "start", "a", "cage-1" if "adult" in start else "tray-1", *start)
    for sure in ((), ("--sure",)):
        refused = _refused(farm, capsys, *words, *sure)
        assert said.lower() in refused.lower() and "Nothing was written" in refused


@pytest.mark.parametrize(
    ("start", "words", "said"),
    [
        (("--stage", "larva", "--at", "12 days ago"), ("count", "a", "--flies", "140"), TOO_SOON),
        (
            ("--stage", "adult", "--animals", "3000", "--at", "8 days ago"),
            ("count", "a", "--eggs", "70"),
            "70 g of eggs from 3000 flies; if all were females they would lay 62.1 g",
        ),
        (
            ("--stage", "pupa", "--animals", "100", "--at", "8 days ago"),
            ("count", "a", "--flies", "140"),
            "140 flies, and 100 animals are known of; they do not become more",
        ),
        (
            ("--stage", "larva", "--animals", "100", "--at", "8 days ago"),
            ("count", "a", "--animals", "1000", "--stage", "larva"),
            "1000 animals, and 100 animals are known of",
        ),
        (
            ("--stage", "larva", "--animals", "100", "--at", "8 days ago"),
            ("end", "a", "harvested", "--grams", "400 g"),
            "400 g of 100 animals are 4000 mg each; up to 340 mg are known",
        ),
        (
            (),
            ("start", "a", "tray-1", "--stage", "egg", "--grams", "1800"),
            "1800 g of eggs are about 68400000",
        ),
        ((), ("start", "a", "tray-1", "--stage", "egg", "--at", "8 May"), "that was 137 days ago"),
    ],
)
def test_what_is_unlikely_is_asked_and_written_when_one_is_sure(
    farm: CohortFarm, capsys: Printed, start: tuple[str, ...], words: tuple[str, ...], said: str
) -> None:
    if start:
        _said(farm, capsys, "start", "a", "cage-1" if "adult" in start else "box-1", *start)
    refused = _refused(farm, capsys, *words)
    assert said in refused
    assert "If it is right all the same, say so: --sure" in refused
    count = len(farm.entries())
    _said(farm, capsys, *words, "--sure")
    assert len(farm.entries()) == count + 1


def test_published_times_stand_beside_the_numbers_in_use(farm: CohortFarm, capsys: Printed) -> None:
    """Each row of the printed table is inside its published range, or a reason stands beneath it."""
    assert farm.ask("learn", "--published") == 0
    said = capsys.readouterr().out
    words = " ".join(said.split())

    assert "larvae on brewery_grain" in said
    assert "egg to fly on brewery_grain" in said
    assert "larva (about 5 d old) to fly on brewery_grain" in words
    assert "prepupa to fly" in words
    assert "to pupae" not in words, "it is the fly to which these times run"
    assert "prepupae 28 °C assumed 8 to 11 d 7.1 (4.5 to 11.3) d the window holds it" in words
    assert "Tomberlin, Sheppard & Joyce 2002" in words
    assert "Why: The papers conflict: 3-5 d in several, 7-14 d in two of one group." in words
    rows = [row for row in said.splitlines() if row.startswith("  ") and " d  " in row and row[2] != " "]
    beyond = [row for row in rows if not row.endswith("  inside")]
    assert len(rows) == 25 and words.count("Why: ") == len(beyond) < len(rows)


def test_published_times_in_french_run_to_the_fly(farm: CohortFarm, capsys: Printed) -> None:
    settings = farm.folder / "farm.toml"
    settings.write_text(settings.read_text(encoding="utf-8").replace("[site]", '[site]\nlanguage = "fr"'))
    assert farm.ask("learn", "--published") == 0
    words = " ".join(capsys.readouterr().out.split())

    for way in ("de l’œuf", "de la larve (d’environ 5 j)", "de la prépupe"):
        assert f"{way} à la mouche" in words


def test_published_times_as_json(farm: CohortFarm, capsys: Printed) -> None:
    assert farm.ask("learn", "--published", "--json") == 0
    found = printed_json(capsys)

    assert found["species"] == "black soldier fly"
    (pupa,) = [row for row in found["times"] if row["stages"] == ["pupa"]]
    assert (pupa["low_days"], pupa["high_days"], pupa["temperature_stated"]) == (8.7, 9.1, False)
    assert (pupa["inside"], pupa["window_holds"], pupa["reason"]) == (True, True, None)
    assert all(row["inside"] or row["reason"] for row in found["times"])
