"""What the farm yields, in words: units, what is not known and why, windows, doubted entries, promises."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest
from yield_builders import DAY, NOW, cage_sum, filling_sum, period

from monitor.farm.yields import Doubt
from monitor.records import local
from monitor.words.catalogue import LANGUAGES
from monitor.words.localizer import Localizer
from monitor.words.yields import (
    beside,
    doubt_sentence,
    figure_words,
    grams_words,
    is_told,
    keep_sentence,
    lack_words,
    span_heading,
    span_text,
    sum_brief,
    sum_lines,
)
from monitor.yields.breeding import PrepupaeToKeep
from monitor.yields.figures import Figure, Lack, unknown
from monitor.yields.forecast import Grams
from monitor.yields.sums import PeriodSum, Span

WORDS = {language: Localizer.plain(language, UTC, NOW) for language in LANGUAGES}
EN = WORDS["en"]


class Titles:
    """Stands in for the settings: places whose titles are their names."""

    @staticmethod
    def title(place: str) -> str:
        return place.upper()


PLAN: Any = Titles()


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("eggs", 12.44, "12.4 g"),
        ("eggs", 0.42, "0.42 g"),
        ("eggs", 1500.0, "1.5 kg"),
        ("larvae", 2.5, "2.5 kg"),
        ("larvae", 0.8, "800 g"),
        ("hatch", 0.744, "74 %"),
        ("conversion_wet", 4.8, "4.8 kg"),
        ("index", 3.62, "3.6 % a day"),
        ("days_from_egg", 21.0, "21 days"),
        ("per_female_mg", 12.61, "12.6 mg"),
        ("flies", 12_345.0, "12 000"),
        ("eggs_per_female_day", 17.31, "17"),
        ("eggs_per_female_day", 8.62, "8.6"),
    ],
)
def test_a_figure_has_its_unit(name: str, value: float, said: str) -> None:
    assert figure_words(name, Figure(value, 1), EN) == said


def test_a_figure_that_rests_on_a_sample_has_a_window() -> None:
    assert figure_words("hatch", Figure(0.7, 2, (), 0.1), EN) == "70 % (57 % to 83 %)"
    assert figure_words("hatch", Figure(0.05, 2, (), 0.1), EN) == "5 % (0 % to 18 %)", (
        "no share below nothing"
    )


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("lack", Lack)
def test_what_is_not_known_has_a_reason(lack: Lack, language: str) -> None:
    said = figure_words("reduction", unknown(lack), WORDS[language])
    assert WORDS[language].t(f"lack.{lack}") in said
    assert said != WORDS[language].t("yields.not_known", why="")


def test_not_known_because_the_residue_was_not_weighed() -> None:
    assert figure_words("reduction", unknown(Lack.RESIDUE), EN) == "not known: residue not weighed"
    assert lack_words((Lack.RESIDUE, Lack.STILL_FILLED), EN) == "residue not weighed, the bin is still filled"


@pytest.mark.parametrize(
    ("factor", "in_grams", "amount", "said"),
    [
        (10.0, True, 400.0, "400 g looks like 10 times too much"),
        (0.001, False, 0.0021, "2 g looks like 1000 times too little"),
        (None, True, 6.0, "6 g is far from what is usual there"),
        (1.0, True, 6.0, "6 g is far from what is usual there"),
    ],
)
def test_an_entry_that_is_not_believed(
    factor: float | None, in_grams: bool, amount: float, said: str
) -> None:
    doubt = Doubt(42, "cage-1", NOW - DAY, amount, in_grams, factor)
    sentence = doubt_sentence(doubt, PLAN, EN)
    assert sentence.startswith("Entry 42, CAGE-1, ") and said in sentence
    assert "the sums still hold it" in sentence


def test_prepupae_to_keep_and_by_when() -> None:
    keep = PrepupaeToKeep(50.0, 6321.0, 11_240.0, NOW + 28 * DAY, NOW + 5 * DAY, NOW + 7 * DAY)
    said = keep_sentence(keep, EN)
    assert (
        "For 50 g of eggs a week keep 11 000 prepupae each week" in said
        and "with 6300 one week in two" in said
    )
    assert said.endswith(f"by {EN.weekday(_day(5))} {EN.day(_day(5))}.")
    late = PrepupaeToKeep(50.0, 6321.0, 11_240.0, NOW + 2 * DAY, NOW - DAY, NOW + DAY)
    assert keep_sentence(late, EN).endswith("it is too late.")
    unsure = PrepupaeToKeep(50.0, 6321.0, 11_240.0, NOW, None, None)
    assert keep_sentence(unsure, EN).endswith("one week in two.")


def test_no_window_where_all_of_it_is_one_number() -> None:
    assert grams_words(Grams(NOW, NOW + DAY, 0.0, 0.0, 0.001), EN) == "0 g"
    assert grams_words(Grams(NOW, NOW + DAY, 0.0, 0.0, 0.4), EN) == "0 g (0 to 0.4)"


def test_of_a_span_before_in_which_nothing_was_written_nothing_is_said() -> None:
    this = period(Span.WEEK, NOW - DAY, NOW + 6 * DAY, feed=Figure(6.0, 1))
    blank = period(Span.WEEK, NOW - 8 * DAY, NOW - DAY)
    eggs = period(Span.WEEK, NOW - 8 * DAY, NOW - DAY, eggs=Figure(9.0, 1))

    def said(before: PeriodSum) -> list[str]:
        text = span_text(this, before, PLAN, EN)
        return [beside(line, Span.WEEK, EN) for line in text.lines]

    assert said(blank) == ["Feed given: 6 kg"]
    assert said(eggs) == ["Eggs collected: –; the week before: 9 g", "Feed given: 6 kg; the week before: –"]


def test_dead_flies_that_were_weighed_are_told() -> None:
    (said,) = sum_lines(cage_sum(dead_flies_mass=Figure(40.0, 1)), EN)
    assert said.value == "40 g"


def _day(days: int) -> datetime:
    return local(NOW + days * DAY, UTC)


def test_a_span_that_runs_and_one_that_is_over() -> None:
    running = period(Span.WEEK, NOW - 2 * DAY, NOW + 5 * DAY)
    over = period(Span.WEEK, NOW - 9 * DAY, NOW - 2 * DAY)
    assert span_heading(running, EN).startswith("This week, from ")
    assert span_heading(over, EN).startswith("Week ")


def test_of_what_nobody_wrote_nothing_is_said() -> None:
    said = sum_lines(cage_sum(grams=Figure(24.0, 3)), EN)
    assert [line.name for line in said] == ["Eggs collected"]
    assert sum_brief(cage_sum(), EN) == "nothing to add up yet"
    assert not is_told(cage_sum()) and not is_told(filling_sum())
    assert is_told(cage_sum(grams=Figure(0.0, 1))), "nothing collected is something, where it was written"
    assert "not known: residue not weighed" in [line.value for line in sum_lines(filling_sum(), EN)]


def test_of_a_bin_that_is_still_filled_what_is_not_known_is_said_once() -> None:
    said = sum_lines(filling_sum(is_over=False, feed=Figure(2.0, 1)), EN)
    assert [(line.name, line.value) for line in said] == [
        ("Feed given", "2 kg"),
        ("All else", "not known: the bin is still filled"),
    ]
