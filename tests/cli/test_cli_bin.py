"""`bin` and `calibrate probe` as a person calls them."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from bin_builders import MOISTURE, put_days
from cli_farm import Farm, now_ms, put, reading

Call = Callable[..., tuple[int, str, str]]
FILL = ("bin", "fill", "bin-1", "3.4 kg at 12 %", "7 l", "--size", "60 x 40 cm", "--at", "2 days ago")


@pytest.fixture
def filled(farm: Farm, call: Call) -> Call:
    """Three days of readings, and a bin that was filled two days ago."""
    put_days(farm)
    assert call(*FILL, "--larvae", "10000", "--age", "5", "--depth", "8 cm")[0] == 0
    return call


def _plain(text: str) -> str:
    return " ".join(text.split())


def test_the_main_way_from_filling_to_litres(farm: Farm, call: Call) -> None:
    put_days(farm)
    code, out, err = call(*FILL, "--larvae", "10000", "--age", "5")
    assert (code, err) == (0, "")
    said = _plain(out)
    assert "filled with 10.4 kg at 71 %, 10 000 larvae, as the new cohort bin-1-" in said
    for part in (
        "Moisture now: ",
        "It loses ",
        "Dry warning (55 %): ",
        "Dry limit (45 %): ",
        "Heat: ",
        "Larvae: about ",
    ):
        assert part in said
    assert "Never weighed: one weighing makes all this far surer" in said
    said = _plain(call("bin", "test", "bin-1", "--wet", "120 g", "--dry", "60 g")[1])
    assert "moisture tested: 50 %" in said
    assert re.search(r"Add [\d.]+ litres: back to 68 %. In portions, stir", said)


def test_every_entry_has_its_words(filled: Call) -> None:
    for arguments, words in (
        (("water", "bin-1", "300 ml"), "0.3 litres of water"),
        (("feed", "bin-1", "800 g 12%"), "800 g of feed at 12 %"),
        (("weigh", "bin-1", "12.1 kg", "--box", "1.6 kg"), "weighed 10.5 kg"),
        (("test", "bin-1", "--squeeze", "drops"), "moisture by hand: 68 %"),
        (("stir", "bin-1", "--note", "crusted"), "stirred (crusted)"),
        (("stir", "bin-1", "--spread"), "spread"),
        (("cover", "bin-1", "lid"), "covered with a lid"),
        (("fan", "bin-1", "on"), "fan on"),
        (("larvae", "bin-1", "500", "--age", "6"), "500 larvae put in, of bin-1-"),
        (("take", "bin-1", "200 g", "residue"), "200 g of residue taken out"),
        (("finish", "bin-1"), "dried on purpose from then on"),
        (("empty", "bin-1"), "emptied, bin-1-"),
    ):
        code, out, err = filled("bin", *arguments)
        assert code == 0, err
        assert words in _plain(out)
    assert "bin-1 was emptied and not filled since" in _plain(filled("bin", "show", "bin-1")[1])
    assert "No bin is filled" in filled("bin", "list")[1]


def test_a_correction_keeps_what_was_written_first(filled: Call) -> None:
    filled("bin", "water", "bin-1", "5 l", "--at", "1 hour ago")
    said = _plain(filled("bin", "correct", "2", "0.5 l")[1])
    assert "Written as entry 3, bin-1: " in said and "0.5 litres of water" in said
    assert "5 litres of water" in _plain(filled("bin", "show", "bin-1", "--all")[1])
    assert "entry 3 does not count any more" in _plain(filled("bin", "correct", "3", "--withdraw")[1])
    assert "litres of water" not in _plain(filled("bin", "show", "bin-1")[1])


def test_list_and_show_as_json(filled: Call) -> None:
    told = json.loads(filled("bin", "list", "--json")[1])["bins"][0]
    assert told["place"] == "bin-1" and told["moisture"]["low"] < told["moisture"]["median"]
    assert told["moisture"]["to_dry_limit"]["earliest_h"] > 0
    shown = json.loads(filled("bin", "show", "bin-1", "--json")[1])[0]
    assert shown["surface_m2"] == 0.24
    harvest = shown["harvest"]
    assert harvest["now_kg"]["median"] < harvest["ripe_kg"]["low"] < harvest["ripe_kg"]["high"] < 4.0
    assert not harvest["past_its_peak"] and harvest["ripe_at"] is not None


def test_the_picture_holds_moisture_limits_and_what_was_done(filled: Call, tmp_path: Path) -> None:
    filled("bin", "water", "bin-1", "0.5 l", "--at", "5 hours ago")
    filled("bin", "weigh", "bin-1", "9.9 kg", "--at", "3 hours ago")
    target = tmp_path / "bin.svg"
    code, out, _ = filled("bin", "show", "bin-1", "--picture", target)
    assert code == 0 and f"{target} written" in _plain(out)
    svg = target.read_text(encoding="utf-8")
    for part in (
        "dry limit",
        "target",
        "+0.5 l",
        "weighed 9.9 kg",
        'class="band ahead"',
        'class="line heat"',
    ):
        assert part in svg
    code, _, err = filled("bin", "show", "bin-1", "--picture", tmp_path / "none" / "bin.svg")
    assert code == 2 and "cannot be written" in err


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("fill", "bin-1", "10 kg", "--size", "60x40 cm"), "says no moisture"),
        (("fill", "bin-1", "7 l", "--size", "60x40 cm"), "that is water alone"),
        (("fill", "bin-1", "10 kg at 70 %"), "the size is missing; say it once"),
        (("fill", "bin-1", "10 kg at 70 %", "--size", "big"), "'big' is no size"),
        (("fill", "room-1", "10 kg at 70 %"), "room-1 is a room, which is not filled; allowed: bin-1, bin-2"),
        (("fill", "bin-7", "10 kg at 70 %"), "is no place in the settings"),
        (("fill", "bin-1", "10 kg at 70 %", "--age", "3"), "--age needs the number of larvae"),
        (("fill", "bin-1", "10 kg at 70 %", "--cohort", "c1"), "there is no cohort 'c1'"),
        (("fill", "bin-1", "10 kg at 70 %", "--size", "60x40 cm", "--at", "in 2 h"), "lies ahead"),
        (("water", "bin-1", "1 l"), "was not filled before that"),
        (("water", "bin-1", "800"), "grams or kilograms"),
        (("water", "bin-1", "2,500 ml"), "2,500: 2500 or 2.5? write 2500 or 2.5"),
        (("weigh", "bin-1", "1,500 g"), "1,500: 1500 or 1.5? write 1500 or 1.5"),
        (("larvae", "bin-1", "10,000"), "larvae: 10,000: 10000 or 10? write 10000 or 10"),
        (("fill", "bin-1", "10 kg at 70 %", "--larvae", "10,000"), "10,000: 10000 or 10? write 10000 or 10"),
        (("weigh", "bin-1", "1 kg", "--box", "2 kg"), "is as heavy as the whole"),
        (("test", "bin-1"), "give one of: a moisture, --wet with --dry, or --squeeze"),
        (("test", "bin-1", "--wet", "100 g"), "--wet and --dry belong together"),
        (("test", "bin-1", "--wet", "100 g", "--dry", "120 g"), "is not below wet"),
        (("correct", "99", "1 l"), "the logbook has no entry 99 about a bin"),
    ],
)
def test_what_cannot_be_is_refused_with_the_reason(
    farm: Farm, call: Call, arguments: tuple[str, ...], said: str
) -> None:
    put_days(farm, 0.1)
    code, _, err = call("bin", *arguments)
    assert code == 2
    assert said in _plain(err)
    with farm.store() as store:
        assert store.logbook.newest_id() == 0, "nothing was written"


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("correct", "1"), "give what is right"),
        (("correct", "1", "--withdraw", "--at", "yesterday"), "or --withdraw alone"),
        (("correct", "2", "1", "l"), "is more than one value"),
        (("correct", "3", "purple"), "'purple' cannot be a value of `fan`"),
        (("correct", "1", "--at", "now"), "then entry 2"),
        (("fill", "bin-1", "10 kg at 70 %"), "enter `bin empty` first"),
        (("water", "bin-1", "1 l", "--at", "5 days ago"), "was not filled before that"),
    ],
)
def test_what_contradicts_the_book_is_refused(filled: Call, arguments: tuple[str, ...], said: str) -> None:
    filled("bin", "water", "bin-1", "1 l", "--at", "3 hours ago")
    filled("bin", "fan", "bin-1", "on", "--at", "2 hours ago")
    code, _, err = filled("bin", *arguments)
    assert code == 2
    assert said in _plain(err)


def test_larvae_of_a_cohort_bring_their_number_and_age(farm: Farm, call: Call) -> None:
    put_days(farm)
    started = (
        "cohort",
        "start",
        "eggs-1",
        "bin-1",
        "--stage",
        "larva",
        "--animals",
        "4000",
        "--at",
        "3 days ago",
    )
    assert call(*started)[0] == 0
    code, out, err = call(*FILL[:-2], "--cohort", "eggs-1")
    assert code == 0, err
    assert "filled with 10.4 kg at 71 %, of eggs-1" in _plain(out)
    assert re.search(r"4.?000 larvae, eggs-1", _plain(out))


def test_a_probe_is_calibrated_at_four_points(filled: Call, farm: Farm) -> None:
    put(farm, reading(MOISTURE, now_ms(), 0.5))
    assert "an index only (in air 0, in water 1)" in filled("calibrate", "probe", "bin-1")[1]
    points = (
        "--raw",
        "0.4",
        "--true",
        "41 %",
        "--raw",
        "0.5",
        "--true",
        "52 %",
        "--raw",
        "0.6",
        "--true",
        "0.63",
    )
    code, _, err = filled("calibrate", "probe", "bin-1", *points)
    assert code == 2 and "3 points were given; a calibration needs 4 or more" in _plain(err)
    code, out, _ = filled("calibrate", "probe", "bin-1", *points, "--raw", "0.7", "--true", "72%")
    assert code == 0 and "moisture from 41 % to 72 %" in _plain(out)
    assert "52 % by its calibration in this substrate" in _plain(filled("bin", "show", "bin-1")[1])
    assert "moisture probe calibrated" in filled("logbook", "list")[1]
    assert filled("bin", "correct", "2", "--withdraw")[0] == 0
    assert "an index only (in air 0, in water 1)" in filled("calibrate", "probe", "bin-1")[1]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--raw", "0.4"), "1 times --raw and 0 times --true"),
        (("--raw", "0.4", "--true", "wet"), "is no moisture"),
        (("--air", "0.5", "--water", "0.5", "--raw", "0.4", "--true", "0.5"), "a calibration needs 4"),
        (("--air", "0.1", "--at", "in 2 h"), "lies ahead"),
    ],
)
def test_a_calibration_that_cannot_be_is_refused(
    filled: Call, farm: Farm, arguments: tuple[str, ...], said: str
) -> None:
    put(farm, reading(MOISTURE, now_ms(), 0.5))
    code, _, err = filled("calibrate", "probe", "bin-1", *arguments)
    assert code == 2
    assert said in _plain(err)


def test_a_farm_without_probes_says_so(filled: Call) -> None:
    code, _, err = filled("calibrate", "probe", "bin-1", "--air", "0.1")
    assert code == 2 and "no board measures substrate_moisture" in err


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("water", "bin-1", "400 l"), "410.4 kg on 0.24 m² would stand 171 cm deep even as heavy as water"),
        (("weigh", "bin-1", "800 kg"), "800 kg weighed, and 10.4 kg at most are in it by the book"),
        (("feed", "bin-1", "500 kg at 60 %"), "would stand 213 cm deep"),
        (("take", "bin-1", "40 kg", "residue"), "40 kg taken out, and 10.4 kg at most are in it"),
    ],
)
def test_what_cannot_be_is_refused_however_sure_one_is(
    filled: Call, farm: Farm, arguments: tuple[str, ...], said: str
) -> None:
    for sure in ((), ("--sure",)):
        code, _, err = filled("bin", *arguments, *sure)
        assert code == 2
        assert said in _plain(err) and "Nothing was written" in err
    with farm.store() as store:
        assert [entry.kind for entry in store.logbook.every()] == ["fill"]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("water", "bin-1", "40 l"), "40 litres into 10.4 kg would make it 94 % water; up to 92 % are"),
        (("weigh", "bin-1", "80 kg"), "80 kg weighed, and 10.4 kg at most are in it by the book"),
        (("weigh", "bin-1", "1.1 kg"), "1.1 kg weighed, and 10.4 kg were put in; so little of it is left?"),
        (("feed", "bin-1", "80 kg at 60 %"), "would stand 38 cm deep"),
        (("stir", "bin-1", "--at", "100 days ago"), "was not filled before that"),
    ],
)
def test_what_is_unlikely_is_asked_and_written_when_one_is_sure(
    filled: Call, farm: Farm, arguments: tuple[str, ...], said: str
) -> None:
    code, _, err = filled("bin", *arguments)
    assert code == 2 and said in _plain(err)
    if "--at" in arguments:
        return
    assert "Nothing was written. If it is right all the same, say so: --sure" in _plain(err)
    assert filled("bin", *arguments, "--sure")[0] == 0
    with farm.store() as store:
        assert [entry.kind for entry in store.logbook.every()] == ["fill", arguments[0]]


@pytest.mark.parametrize(
    ("answer", "written"), [("y", True), ("Yes", True), ("o", True), ("n", False), ("", False)]
)
def test_at_a_terminal_the_person_is_asked(
    filled: Call, farm: Farm, monkeypatch: pytest.MonkeyPatch, answer: str, written: bool
) -> None:
    monkeypatch.setattr("monitor.cli.entries.at_terminal", lambda: True)
    monkeypatch.setattr("builtins.input", lambda: answer)
    code, _, err = filled("bin", "water", "bin-1", "40 l")
    assert "40 litres into 10.4 kg would make it 94 % water" in _plain(err)
    assert "Write it [y/N]" in err
    assert (code == 0) is written
    with farm.store() as store:
        assert len(store.logbook.every()) == (2 if written else 1)


def test_every_entry_is_listed_and_taken_back_by_its_number(filled: Call) -> None:
    filled("bin", "water", "bin-1", "0.5 l", "--at", "1 hour ago", "--by", "ana")
    said = _plain(filled("logbook", "list")[1])
    assert "2 " in said and "bin-1: 0.5 litres of water, by ana" in said
    assert "entry 2 does not count any more" in _plain(filled("logbook", "undo", "2", "--by", "ben")[1])
    assert "litres of water" not in filled("logbook", "list")[1]
    assert "litres of water" in filled("logbook", "list", "--all")[1], "the first version stays"
    assert "litres of water" not in _plain(filled("bin", "show", "bin-1")[1])
    code, _, err = filled("logbook", "undo", "2")
    assert code == 2 and "entry 2 was corrected already by entry 3" in err
    for wrong, why in (
        ("77", "has no entry 77"),
        ("soon", "is neither the number of an entry nor an import"),
    ):
        code, _, err = filled("logbook", "undo", wrong)
        assert code == 2 and why in err
    listed = json.loads(filled("logbook", "list", "--json", "--all")[1])["entries"]
    assert [(entry["entry"], entry["bin"], entry["kind"]) for entry in listed] == [
        (1, "bin-1", "fill"),
        (2, "bin-1", "water"),
        (3, "bin-1", "withdrawn"),
    ]


def test_what_was_said_of_a_place_is_listed_and_taken_back(call: Call, farm: Farm) -> None:
    with farm.store():
        pass
    assert call("place", "empty", "Bin 2", "--sure")[0] == 0
    assert "bin-2: no animals in it, by" in _plain(call("logbook", "list")[1])
    assert call("logbook", "undo", "1")[0] == 0
    assert "no animals in it" not in call("logbook", "list")[1]
