"""`yields`: what a farm gave and will give, on the command line, as JSON, as rows for a spreadsheet."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from pathlib import Path

import pytest
from cohort_farm import CohortFarm, make_farm
from yield_page import yield_page
from yield_year import ROUND_DAYS, year_farm

from monitor.farm.yields import DAY_COLUMNS
from monitor.store import Store

Call = Callable[..., tuple[int, str, str]]
DAYS = 4 * ROUND_DAYS + 1


@pytest.fixture
def farm(tmp_path: Path) -> CohortFarm:
    return year_farm(tmp_path, DAYS)


@pytest.fixture
def call(farm: CohortFarm, capsys: pytest.CaptureFixture[str]) -> Call:
    def call_it(*words: str) -> tuple[int, str, str]:
        code = farm.ask(*words)
        said = capsys.readouterr()
        return code, said.out, said.err

    return call_it


def test_this_week_and_month_and_what_is_to_come(call: Call) -> None:
    code, out, err = call("yields")
    assert code == 0, err
    said = " ".join(out.split())
    assert "This week, from Mon 21 Sep:" in said and "This month, from Tue 1 Sep:" in said
    assert "the week before: 2 kg" in said, "the harvest of last week"
    assert "Feed for 1 kg of larvae, both fresh: –; the week before: 5.75 kg" in said
    assert "Best taken " in said and "Within seven days " in said
    assert "Nobody counted the flies of Cage 2" in said
    assert "Weigh the young larvae that are put in" in said


def test_one_cage_one_bin_one_cohort(call: Call) -> None:
    _, cage, _ = call("yields", "Cage 1")
    assert "Eggs per female" in cage and "Day by day:" in cage and "Larvae" not in cage
    _, bin_, _ = call("yields", "bin-1")
    assert "Feed that is gone, dry: 65 %" in bin_ and "not known: no counted sample" in " ".join(bin_.split())
    _, cohort, _ = call("yields", "lot-1")
    assert "Larvae harvested: 2 kg" in cohort and "Cage" not in cohort
    code, _, err = call("yields", "cage-9")
    assert code == 2 and "cage-9" in err


def test_what_to_keep_and_what_to_promise(call: Call) -> None:
    _, out, _ = call("yields", "--grams-a-week", "50", "--promise", "2026-10-01")
    said = " ".join(out.split())
    assert "For 50 g of eggs a week keep " in said and "Those for the week from Mon " in said
    assert "By Thu 1 Oct you can promise " in said
    code, _, err = call("yields", "--promise", "2027-03-01")
    assert code == 2 and "2027-03-01 cannot be promised: allowed is today (2026-09-22)" in err


def test_the_eggs_that_the_settings_want_are_asked_for_without_a_question(
    farm: CohortFarm, call: Call
) -> None:
    asked = json.loads(call("yields", "--json", "--grams-a-week", "50")[1])
    assert json.loads(call("yields", "--json")[1])["keep"] is None
    settings = farm.folder / "farm.toml"
    text = settings.read_text(encoding="utf-8")
    settings.write_text(text.replace("[site]\n", "[site]\neggs_g_a_week = 50\n", 1), encoding="utf-8")
    wanted = json.loads(call("yields", "--json")[1])
    assert (wanted["keep"], wanted["weeks"], wanted["months"]) == (
        *(asked["keep"], asked["weeks"], asked["months"]),
    )
    assert "For 50 g of eggs a week keep " in " ".join(call("yields")[1].split())
    assert "For 20 g of eggs a week keep " in " ".join(call("yields", "--grams-a-week", "20")[1].split())
    assert "eggs a week" not in call("yields", "cage-1")[1], "of one cage nobody asked for it"
    with yield_page(farm) as page:
        shown = page.text("/yields")
        assert "For 50" in shown and 'name="grams" value="50"' in shown
        assert "For 20" in page.text("/yields?grams=20")


@pytest.mark.parametrize("wrong", ["0", "-5", "100001", '"fifty"'])
def test_eggs_that_nobody_can_want(farm: CohortFarm, call: Call, wrong: str) -> None:
    settings = farm.folder / "farm.toml"
    text = settings.read_text(encoding="utf-8")
    settings.write_text(text.replace("[site]\n", f"[site]\neggs_g_a_week = {wrong}\n", 1), encoding="utf-8")
    code, _, err = call("yields")
    assert code == 2 and "eggs_g_a_week" in err


def test_every_sum_as_json_with_its_unit(call: Call) -> None:
    _, out, _ = call("yields", "--json", "--promise", "2026-10-01", "--grams-a-week", "50")
    said = json.loads(out)
    assert said["weeks"][-2]["larvae_kg"]["value"] == 2.0
    assert said["weeks"][-2]["egg_uses_g"]["sold"] > 30.0
    assert said["weeks"][-1]["residue_kg"] == {
        "value": None,
        "entries": 0,
        "lacks": ["nothing_written"],
        "sd": None,
        "basis": None,
    }
    assert said["fillings"][0]["conversion_wet_kg_per_kg"]["value"] == 5.75
    assert said["cages"][0]["uses_g"]["sold"] == said["cages"][0]["grams_g"]["value"]
    (first, *_) = said["ahead"]["cages"]
    assert first["cage"] == "cage-1" and len(first["days"]) == 56
    assert first["days"][0]["low_g"] <= first["days"][0]["median_g"] <= first["days"][0]["high_g"]
    assert said["promise"]["eggs_g"] > 0.0 and said["keep"]["eggs_g_per_week"] == 50.0
    safe = said["keep"]["prepupae_per_week_four_in_five"]
    assert said["keep"]["set_aside_by_nine_in_ten"] < said["keep"]["first_week"]
    assert said["weeks"][-1]["kept_for_breeding"]["needed"] == pytest.approx(safe, rel=1e-4)


def test_a_row_for_each_day_and_place(call: Call, tmp_path: Path) -> None:
    target = tmp_path / "days.csv"
    code, out, err = call("yields", "--csv", str(target))
    assert code == 0, err
    with target.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert tuple(rows[0]) == DAY_COLUMNS
    places = {row["place"] for row in rows}
    assert places == {"cage-1", "cage-2", "bin-1"} and len(rows) == 3 * (DAYS + 1)
    assert f"{len(rows)} rows" in out
    eggs = [row for row in rows if row["place"] == "cage-1"]
    assert sum(float(row["eggs_g"] or 0) for row in eggs) == sum(4.0 + day % 3 for day in range(DAYS))
    assert eggs[-1]["eggs_g"] == "", "nothing was collected today: empty, not 0"
    assert float(eggs[3]["air_temperature_lowest_c"]) == pytest.approx(25.0, abs=0.1)
    assert float(eggs[3]["air_temperature_highest_c"]) == pytest.approx(29.0, abs=0.1)
    assert eggs[3]["measured_hours"] == "24"
    other = [row for row in rows if row["place"] == "cage-2"]
    assert other[3]["air_temperature_mean_c"] == eggs[3]["air_temperature_mean_c"], "of its room"
    assert "collected" in eggs[3]["logbook"]
    code, _, err = call("yields", "--csv", str(target))
    assert code == 2 and "exists already" in err


def test_correcting_and_undoing_change_the_sums(farm: CohortFarm, call: Call) -> None:
    def eggs() -> float:
        return float(json.loads(call("yields", "--json")[1])["weeks"][-1]["eggs_g"]["value"] or 0.0)

    before = eggs()
    assert call("eggs", "cage-1", "20 g", "--sold", "--sure")[0] == 0
    assert eggs() == before + 20.0
    assert call("logbook", "correct", _newest(farm), "--set", "grams=2", "--sure")[0] == 0
    assert eggs() == before + 2.0
    assert call("logbook", "undo", _newest(farm))[0] == 0
    assert eggs() == before


def _newest(farm: CohortFarm) -> str:
    with Store.read_only(farm.database) as store:
        return str(store.logbook.newest_id())


def test_an_empty_farm_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "empty"
    folder.mkdir()
    farm = make_farm(folder)
    assert farm.ask("yields") == 0
    assert "Nothing was written down yet" in capsys.readouterr().out
    assert farm.ask("yields", "--csv", str(tmp_path / "none.csv")) == 0
    assert (tmp_path / "none.csv").read_text(encoding="utf-8").count("\n") == 1


def test_what_the_climate_went_with_is_told_beside_what_is_to_come(call: Call) -> None:
    """The steady farm of these tests has no cold night, so there is nothing to compare and no heading."""
    _, out, _ = call("yields")
    assert "What the climate went with" not in out
