"""`eggs`, `hatched`, `dead`, `note`, and what a bin gives: one short command each, said back in one line."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from cohort_farm import CohortFarm, make_farm
from farm_yields import takings_of_farm

from monitor.cli import run
from monitor.farm.book import book_of, prices_of_farm
from monitor.records import LogbookEntry
from monitor.store import Store
from monitor.yields.records import EggUse, LarvaeUse, Takings

Call = Callable[..., tuple[int, str, str]]


@pytest.fixture
def farm(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> CohortFarm:
    monkeypatch.chdir(tmp_path)
    return make_farm(tmp_path)


@pytest.fixture
def call(farm: CohortFarm, capsys: pytest.CaptureFixture[str]) -> Call:
    def call_it(*words: str) -> tuple[int, str, str]:
        code = run([*words, "--config", str(farm.folder / "farm.toml")])
        said = capsys.readouterr()
        return int(code), " ".join(said.out.split()), " ".join(said.err.split())

    return call_it


def _sets(*changes: str) -> list[str]:
    return [word for change in changes for word in ("--set", change)]


def _takings(farm: CohortFarm) -> Takings:
    from cohort_farm import NOW_MS

    with Store.read_only(farm.database) as store:
        return takings_of_farm(store, farm.plan(), NOW_MS)


def _last(farm: CohortFarm) -> LogbookEntry:
    with Store.read_only(farm.database) as store:
        return max(store.logbook.every(), key=lambda entry: entry.entry_id or 0)


def test_eggs_are_weighed_and_set_to_hatch_in_one_command(farm: CohortFarm, call: Call) -> None:
    code, out, _ = call("eggs", "cage 1", "12.4 g", "--to", "Tray 1", "--strips", "3")
    assert code == 0
    assert "Cage 1: 12.4 g of eggs collected, on 3 strips, set to hatch, in Tray 1, as the new cohort" in out
    (eggs,) = _takings(farm).eggs
    assert (eggs.grams, eggs.use, eggs.tray, eggs.into) == (12.4, EggUse.HATCH, "tray-1", "tray-1-2026-09-22")
    code, out, _ = call("cohort", "list")
    assert "tray-1-2026-09-22" in out


def test_eggs_of_another_cage_are_of_the_same_cohort(call: Call) -> None:
    call("eggs", "cage-1", "12.4", "--to", "tray-1")
    _, out, _ = call("eggs", "cage-2", "7.1", "--to", "tray-1")
    assert "of tray-1-2026-09-22" in out and "new" not in out


def test_sold_eggs_begin_nothing(farm: CohortFarm, call: Call) -> None:
    _, out, _ = call("eggs", "cage-1", "0.02 kg", "--sold")
    assert "20 g of eggs collected, sold" in out
    assert _takings(farm).eggs[0].use is EggUse.SOLD
    code, _, err = call("eggs", "cage-1", "5", "--sold", "--to", "tray-1")
    assert code == 2 and "do not go together" in err


def test_more_eggs_than_believable_are_asked_once(farm: CohortFarm, call: Call) -> None:
    code, _, err = call("eggs", "cage-1", "400")
    assert code == 2 and "up to 100 g at once are usual; 40 g?" in err and "--sure" in err
    assert _takings(farm).eggs == ()
    assert call("eggs", "cage-1", "400", "--sure")[0] == 0


@pytest.mark.parametrize(
    ("amount", "share", "young"),
    [("80 %", 0.8, None), ("80", 0.8, None), ("3.2 g", None, 3.2), ("0", 0.0, None)],
)
def test_a_hatch_is_entered_by_its_tray(
    farm: CohortFarm, call: Call, amount: str, share: float | None, young: float | None
) -> None:
    call("eggs", "cage-1", "12.4", "--to", "tray-1", "--at", "4 days ago")
    code, _, err = call("hatched", "tray-1", amount)
    assert code == 0, err
    (hatch,) = _takings(farm).hatches
    assert (hatch.share, hatch.young_grams, hatch.place) == (share, young, "tray-1")


def test_a_share_that_can_be_read_in_two_ways_is_refused(call: Call) -> None:
    call("eggs", "cage-1", "12.4", "--to", "tray-1", "--at", "4 days ago")
    code, _, err = call("hatched", "tray-1", "0.8")
    assert code == 2 and "write 80 % or 0.8 %" in err


def test_a_tray_without_eggs_and_one_with_several_cohorts_say_what_to_do(call: Call) -> None:
    code, _, err = call("hatched", "tray-1", "80 %")
    assert code == 2 and "no cohort of eggs is in tray-1" in err
    call("eggs", "cage-1", "12.4", "--to", "tray-1", "--at", "5 days ago")
    call("eggs", "cage-1", "12.9", "--to", "tray-1", "--at", "4 days ago")
    code, _, err = call("hatched", "tray-1", "80 %")
    assert code == 2 and "say which: tray-1-2026-09-17, tray-1-2026-09-18" in err
    assert call("hatched", "tray-1-2026-09-17", "80 %")[0] == 0
    assert call("hatched", "tray-1", "70 %")[0] == 0, "the other one has not hatched yet"


def test_dead_flies_are_a_number_or_a_weight(farm: CohortFarm, call: Call) -> None:
    assert "dead flies swept out, 350 animals" in call("dead", "cage-1", "350")[1]
    assert "dead flies swept out, 12 g" in call("dead", "cage-1", "12 g")[1]
    assert [(each.count, each.grams) for each in _takings(farm).dead_flies] == [(350, None), (None, 12.0)]


def test_a_bin_is_fed_and_gives_larvae_prepupae_and_residue(farm: CohortFarm, call: Call) -> None:
    call(
        *("bin", "fill", "bin-1", "10 kg at 70 %", "--size", "60 x 40 cm"),
        *("--larvae", "9000", "--at", "9 days ago"),
    )
    _, out, _ = call("bin", "feed", "bin-1", "2 kg at 70 %", "--kind", "brewery grain", "--at", "5 days ago")
    assert "brewery grain" in out
    _, out, _ = call("bin", "take", "bin-1", "0.4 kg", "larvae", "--for", "breeding", "--mean", "180 mg")
    assert "400 g of larvae taken out, kept for breeding, 180 mg each" in out
    assert "300 prepupae taken out" in call("bin", "take", "bin-1", "300", "prepupae")[1]
    _, out, err = call(
        *("bin", "empty", "bin-1", "--grams", "1.1 kg", "--for", "sold"),
        *("--residue", "3.5 kg", "--moisture", "45 %"),
    )
    assert "1100 g, sold, 3.5 kg of residue, at 45 %" in out, err
    takings = _takings(farm)
    assert [each.use for each in takings.larvae_out] == [LarvaeUse.BREEDING, LarvaeUse.SOLD]
    assert takings.prepupae[0].count == 300 and takings.residues[0].moisture == 0.45
    assert takings.feed[1].feed == "brewery grain"


@pytest.mark.parametrize("about", ["bin-1", "cage 2", "c1", "node-01", "farm"])
def test_a_note_is_about_anything(farm: CohortFarm, call: Call, about: str) -> None:
    farm.write("c1", "start", 5, stage="egg", place="tray-1")
    code, out, err = call("note", about, "the lid was off all night")
    assert code == 0, err
    assert "note (the lid was off all night)" in out
    assert "the lid was off all night" in call("logbook", "list")[1]
    assert list(_takings(farm).all()) == []


def test_a_note_without_text_or_about_nothing_is_refused(call: Call) -> None:
    assert call("note", "bin-1", "")[0] == 2
    code, _, err = call("note", "bin-99", "x")
    assert code == 2 and "bin-99" in err


def test_any_entry_can_be_corrected_and_taken_back(farm: CohortFarm, call: Call) -> None:
    call("eggs", "cage-1", "40", "--to", "tray-1")
    number = str(_last(farm).entry_id)
    code, _, err = call("logbook", "correct", number, *_sets("grams=4", "tray=", "use=sold"))
    assert code == 0, err
    (eggs,) = _takings(farm).eggs
    assert (eggs.grams, eggs.use, eggs.tray, eggs.into) == (4.0, EggUse.SOLD, None, None)
    with Store.read_only(farm.database) as store:
        assert book_of(store, farm.plan(), _last(farm).at_ms).cohorts == {}
    assert call("logbook", "undo", str(_last(farm).entry_id))[0] == 0
    assert _takings(farm).eggs == ()


def test_a_note_is_taken_back(farm: CohortFarm, call: Call) -> None:
    call("note", "bin-1", "wrong bin")
    assert call("logbook", "undo", str(_last(farm).entry_id))[0] == 0


def test_eggs_that_are_set_to_hatch_have_their_tray_guarded_again(farm: CohortFarm, call: Call) -> None:
    call("place", "empty", "tray-1")
    with Store.read_only(farm.database) as store:
        from monitor.farm.occupancy import occupied_plan

        assert "tray-1" in occupied_plan(store, farm.plan().settings, _last(farm).at_ms).unguarded
    call("eggs", "cage-1", "12.4", "--to", "tray-1")
    with Store.read_only(farm.database) as store:
        assert "tray-1" not in occupied_plan(store, farm.plan().settings, _last(farm).at_ms).unguarded


def test_without_prices_nothing_is_said_of_money_and_with_them_they_are_read(farm: CohortFarm) -> None:
    assert prices_of_farm(farm.plan()) is None
    text = (farm.folder / "farm.toml").read_text(encoding="utf-8")
    prices = '[prices]\ncurrency = "P"\negg_gram = 2.5\nfeed_kg = 0.1\nfeeds = { "brewery grain" = 0.05 }\n'
    (farm.folder / "farm.toml").write_text(text + prices, encoding="utf-8")
    said = prices_of_farm(farm.plan())
    assert said is not None and (said.currency, said.eggs_gram, said.larvae_kg) == ("P", 2.5, None)
    assert said.feed_kg == {"": 0.1, "brewery grain": 0.05}
