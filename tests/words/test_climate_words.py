"""What went with the climate, in words: how much less, the interval, the cases, never a cause."""

from __future__ import annotations

from datetime import UTC

import pytest

from monitor.farm.yields import ClimateSaid
from monitor.words.catalogue import LANGUAGES
from monitor.words.localizer import DisplayPreferences, Localizer
from monitor.words.supply import climate_sentences, cost_sentence, effect_sentence, limit_sentence
from monitor.yields.effects import COMPARISONS, Comparison, Effect, SupportedLimit, Verdict
from monitor.yields.exposure import Condition
from monitor.yields.money import Lost

NOW = 1_790_000_000_000
WORDS = {language: Localizer.plain(language, UTC, NOW) for language in LANGUAGES}
EN = WORDS["en"]


def effect(comparison: Comparison = COMPARISONS[0], verdict: Verdict = Verdict.SAID) -> Effect:
    dry = comparison.condition in (Condition.DRY_DAYS, Condition.DRY_HOURS)
    limit = None if comparison.condition is Condition.DULL_DAYS else 45.0 if dry else 22.0
    return Effect(comparison, limit, 0.54, 0.69, 0.88, 9, 40, 4, verdict)


def limit(**more: object) -> SupportedLimit:
    known: dict[str, object] = {
        "condition": Condition.COLD_NIGHTS,
        "now_c": 22.0,
        "offered_c": 23.0,
        "low": 0.6,
        "middle": 0.7,
        "high": 0.85,
        "exposed": 11,
        "others": 60,
        "warns_more": True,
    }
    return SupportedLimit(**{**known, **more})  # type: ignore[arg-type]


def test_cold_nights_as_the_keeper_reads_them() -> None:
    assert effect_sentence(effect(), EN) == (
        "Nights below 22 °C in the cage went with 31 % less eggs the next two days "
        "(12 to 46 %; 9 nights against 40)."
    )
    warm = Localizer(DisplayPreferences("en", fahrenheit=True, plain_text=True), UTC, NOW)
    assert "below 71.6 °F" in effect_sentence(effect(), warm)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("comparison", COMPARISONS, ids=lambda each: f"{each.made}-{each.condition}")
def test_every_comparison_has_words_with_interval_and_cases(comparison: Comparison, language: str) -> None:
    said = effect_sentence(effect(comparison), WORDS[language])
    for number in ("31", "12", "46", "9", "40"):
        assert number in said
    if comparison.hours and comparison.made != "eggs":
        assert f"{comparison.hours:.0f}" in said
    if comparison.condition is not Condition.DULL_DAYS:
        assert ("45" if "dry" in comparison.condition else "22") in said
    assert "{" not in said
    assert "cause" not in said.lower()


def test_what_it_cost_is_a_range_and_speaks_of_money_only_with_a_price() -> None:
    lost = Lost(4.2, 9.8, 15.1, 6, (8.4, 19.6, 30.2))
    assert cost_sentence(effect(), lost, EN, "BWP") == (
        "Last 30 days: about 9.8 g of eggs less (4.2 to 15.1 g). That is 8 to 30 BWP."
    )
    assert cost_sentence(effect(), lost, EN, "") == "Last 30 days: about 9.8 g of eggs less (4.2 to 15.1 g)."
    unpriced = Lost(40.0, 98.0, 151.0, 6)
    assert cost_sentence(effect(), unpriced, EN, "BWP").endswith("98 g of eggs less (40 to 151 g).")
    for comparison in COMPARISONS:
        for words in WORDS.values():
            assert "{" not in cost_sentence(effect(comparison), lost, words, "BWP")


def test_a_limit_is_offered_and_said_not_to_be_set() -> None:
    more = limit_sentence(limit(), EN)
    assert "a limit of 23 °C" in more and "instead of 22 °C" in more
    assert "30 % less eggs (15 to 40 %; 11 nights against 60). Nothing was set." in more
    less = limit_sentence(limit(offered_c=21.0, low=0.93, middle=0.99, high=1.05, warns_more=False), EN)
    assert "21 °C would do" in less and "7 % less eggs at most" in less and "Nothing was set." in less
    for condition in (Condition.COLD_NIGHTS, Condition.HOT_DAYS):
        for words in WORDS.values():
            for warns_more in (True, False):
                assert "{" not in limit_sentence(limit(condition=condition, warns_more=warns_more), words)


def test_only_what_may_be_said_is_said_and_how_much_was_compared() -> None:
    unsure, few = effect(COMPARISONS[1], Verdict.NOT_SURE), effect(COMPARISONS[2], Verdict.TOO_FEW)
    lost = Lost(4.2, 9.8, 15.1, 6)
    said = list(climate_sentences(ClimateSaid((effect(), unsure, few), ((effect(), lost),), (limit(),)), EN))
    assert len(said) == 4
    assert said[0].startswith("Nights below") and said[1].startswith("Last 30 days")
    assert said[3] == (
        "2 things were compared, with enough cases to tell. "
        "Only what stands out is told, and “went with” is not “caused”."
    )
    none = list(climate_sentences(ClimateSaid((unsure,), (), ()), EN))
    assert none[0] == "Nothing in the climate stands out so far in eggs, hatch, flies or harvests."
    assert none[1].startswith("1 thing was compared")
    assert list(climate_sentences(ClimateSaid((few,), (), ()), EN)) == []
    quiet = Lost(0.0, 0.0, 0.0, 0)
    assert len(list(climate_sentences(ClimateSaid((effect(),), ((effect(), quiet),), ()), EN))) == 2
