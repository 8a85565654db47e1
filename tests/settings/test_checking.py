"""What `check` warns of, and what it says that each place is guarded for."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC
from pathlib import Path

import pytest
from settings_files import ENVIRONMENT, SMALL, write

from monitor.records import SensorKey, Stage
from monitor.settings.checking import PlaceGuard, is_soon_guessed, review
from monitor.settings.loading import read
from monitor.words.alarms import GuardText, guard_text
from monitor.words.localizer import Localizer

SECOND = '[[recipients]]\nid = "second"\naddress_env = "SECOND"\n'
ENVIRON = ENVIRONMENT | {"SECOND": "tgram://token/chat"}


def guards(folder: Path, text: str, heard: tuple[SensorKey, ...] = ()) -> list[GuardText]:
    words = Localizer.plain("en", UTC, 0)
    return [guard_text(guard, words) for guard in look(folder, text, heard).guards]


@dataclass(frozen=True, slots=True)
class EnglishReview:
    """A review as it reads in English."""

    warnings: tuple[str, ...]
    notes: tuple[str, ...]
    guards: tuple[PlaceGuard, ...]


def look(folder: Path, text: str, heard: tuple[SensorKey, ...] = ()) -> EnglishReview:
    found = review(read(write(folder, text), ENVIRON), heard)
    words = Localizer.plain("en", UTC, 0)
    warnings, notes = (tuple(words.sentence(said) for said in some) for some in (found.warnings, found.notes))
    return EnglishReview(warnings, notes, found.guards)


def test_a_complete_farm_has_no_warning(tmp_path: Path) -> None:
    assert look(tmp_path, SMALL).warnings == ()


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('place = "bin-1"\n', "", "bin-1 has no sensor"),
        ('place = "bin-1"\n', "", "node-02 is in no place"),
        ('["substrate_temperature"]', '["substrate_moisture"]', "a grow-out bin needs substrate temperature"),
        ('measures = ["substrate_temperature"]\n', "", "node-02 does not say what it measures"),
        ('"grow_out_bin"', '"hatching_tray"', "a hatching tray needs air temperature and air humidity"),
        ('place = "bin-1"\n', 'place = "bin-1"\nout_of_service = true\n', "node-02 is out of service"),
        ('place = "bin-1"\n', 'place = "bin-1"\nstale_after_s = 70\n', "one late message"),
        ('id = "owner"', 'id = "owner"\npriorities = ["medium"]', "nobody gets high alarms"),
        ('id = "owner"', 'id = "owner"\npriorities = ["high"]', "nobody gets medium alarms"),
        ('id = "owner"', 'id = "owner"\nnight_report = false', "the night report goes to nobody"),
        ("[site]\n", "[site]\neggs_g_a_week = 50\n", "no place is a love cage"),
        ("[[recipients]]", SECOND.replace("SECOND", "OWNER_ADDRESS") + "[[recipients]]", "the same address"),
        (
            "[[recipients]]",
            SECOND.replace("SECOND", "OWNER_ADDRESS") + "[[recipients]]",
            "same kind of service",
        ),
        ("[[places]]", "[broker]\nembedded = true\n[[places]]", "without a password"),
        (
            "[[places]]",
            '[broker]\nhost = "10.0.0.2"\nusername = "u"\npassword = "p"\n[[places]]',
            "goes to 10.0.0.2 unencrypted",
        ),
    ],
)
def test_what_is_doubtful_is_warned_of(tmp_path: Path, old: str, new: str, words: str) -> None:
    warnings = look(tmp_path, SMALL.replace(old, new, 1)).warnings

    assert any(words in warning for warning in warnings), warnings


def test_without_recipients_nobody_is_told(tmp_path: Path) -> None:
    (warning,) = look(tmp_path, SMALL.partition("[[recipients]]")[0]).warnings

    assert "nobody is told anything" in warning


def test_two_kinds_of_service_are_no_reason_to_warn(tmp_path: Path) -> None:
    assert look(tmp_path, SMALL + SECOND).warnings == ()


def test_a_probe_without_a_place_is_warned_of(tmp_path: Path) -> None:
    node = '[[nodes]]\nid = "n"\nprobes = { a = "bin-1" }\nmeasures = ["a/light", "b/light"]\n'

    assert any("probe b is in no place" in warning for warning in look(tmp_path, SMALL + node).warnings)


def test_the_notes_name_what_a_broker_needs(tmp_path: Path) -> None:
    assert any("persistence true" in note for note in look(tmp_path, SMALL).notes)
    embedded = look(tmp_path, "[broker]\nembedded = true\n" + SMALL).notes
    (said,) = [note for note in embedded if "for a first evening" in note]
    for what in ("no rules for each board", "keeps nothing over a restart", "`rearing-monitor broker setup`"):
        assert what in said
    written = look(tmp_path, '[broker]\nfiles = "mosquitto/rearing"\n' + SMALL).notes
    assert not any("persistence true" in note for note in written)


def test_each_place_is_guarded_in_plain_words(tmp_path: Path) -> None:
    room, grow_bin = guards(tmp_path, SMALL)

    assert grow_bin.name == "bin-1"
    assert any(line.startswith("substrate temperature above 46 °C") for line in grow_bin.guarded)
    assert any(line.startswith("substrate moisture: no sensor here") for line in grow_bin.unguarded)
    assert not any("substrate moisture" in line for line in grow_bin.guarded)
    assert any(line.startswith("air temperature above 40 °C") for line in room.guarded)


def test_what_may_live_in_a_bin_by_the_logbook_is_guarded_for(tmp_path: Path) -> None:
    """Where nobody said anything larvae are taken to feed; prepupae among them have a lower limit."""
    words, file = Localizer.plain("en", UTC, 0), read(write(tmp_path, SMALL), ENVIRON)
    for stages, limit in ((None, "46 °C"), ({"bin-1": frozenset({Stage.LARVA, Stage.PREPUPA})}, "42 °C")):
        grow_bin = guard_text(review(file, stages=stages).guards[1], words)
        assert any(line.startswith(f"substrate temperature above {limit}") for line in grow_bin.guarded)


def test_a_sensor_that_was_heard_guards_as_a_declared_one_does(tmp_path: Path) -> None:
    heard = (SensorKey("node-01", "", "carbon_dioxide"),)
    room = guards(tmp_path, SMALL, heard)[0]

    assert any(line.startswith("carbon dioxide") for line in room.guarded)


@pytest.mark.parametrize(
    ("calibrated", "is_guarded"),
    [((), False), (("node-01/substrate_moisture",), False), (("node-02/substrate_moisture",), True)],
)
def test_an_index_of_a_probe_is_no_moisture_until_it_is_calibrated(
    tmp_path: Path, calibrated: tuple[str, ...], is_guarded: bool
) -> None:
    text = SMALL.replace('["substrate_temperature"]', '["substrate_temperature", "substrate_moisture"]')
    file = read(write(tmp_path, text), ENVIRONMENT)
    grow_bin = guard_text(review(file, (), calibrated).guards[1], Localizer.plain("en", UTC, 0))

    assert any(line.startswith("substrate moisture") for line in grow_bin.guarded) is is_guarded
    index = "substrate moisture: the probe is an index, no moisture, until it is calibrated"
    assert any(line.startswith(index) for line in grow_bin.unguarded) is not is_guarded


@pytest.mark.parametrize(
    ("password", "words"),
    [
        ("Ab3!xyz", "is short"),
        ("Ab3!xyzw", ""),
        ("password", "tried first"),
        ("Password2024!", "tried first"),
        ("sand-hill", "tried first"),
        ("Sand Hill 1", "tried first"),
        ("aaaabbbbcc", "tried first"),
        ("wet bran on tuesday", ""),
    ],
)
def test_a_password_that_can_be_guessed_is_warned_of_where_others_can_try(
    tmp_path: Path, password: str, words: str
) -> None:
    broker = '[broker]\nembedded = {}\nusername = "monitor"\npassword = "{}"\n{}\n[site]'
    door = '[page]\nenabled = true\npassword = "{}"\nlisten = "{}"\n\n[site]'
    for opened, closed in (
        (door.format(password, "0.0.0.0"), door.format(password, "127.0.0.1")),
        (broker.format("true", password, ""), broker.format("true", password, 'listen = "127.0.0.1"')),
        (broker.format("false", password, 'host = "10.0.0.5"'), broker.format("false", password, "")),
    ):
        said = [text for text in look(tmp_path, SMALL.replace("[site]", opened)).warnings if "guess" in text]
        assert len(said) == bool(words), said
        assert all(words in text and f'"{password}"' not in text for text in said)
        quiet = look(tmp_path, SMALL.replace("[site]", closed)).warnings
        assert not any("guess" in text for text in quiet)


def test_a_probe_guards_the_place_in_which_it_hangs(tmp_path: Path) -> None:
    text = SMALL.replace('place = "bin-1"\n', 'place = "room-1"\nprobes = { p = "bin-1" }\n')
    text = text.replace('["substrate_temperature"]', '["p/substrate_temperature"]')
    found = look(tmp_path, text)

    assert found.warnings == ()
    assert any("substrate temperature" in line for line in guards(tmp_path, text)[1].guarded)


def test_a_surface_offset_stands_in_for_a_surface_sensor(tmp_path: Path) -> None:
    tray = '[[places]]\nid = "tray-1"\nkind = "hatching_tray"\n{}[[nodes]]\nid = "n"\nplace = "tray-1"\n'
    air = 'measures = ["air_temperature", "air_humidity"]\n'
    without = guards(tmp_path, SMALL + tray.format("") + air)[2]
    given = guards(tmp_path, SMALL + tray.format("surface_colder_by_k = 2\n") + air)[2]

    assert any("surface temperature" in line for line in without.unguarded)
    assert given.unguarded == ()


def test_an_empty_place_says_that_its_alarms_are_held_back(tmp_path: Path) -> None:
    text = SMALL.replace('kind = "grow_out_bin"', 'kind = "grow_out_bin"\nempty = true')
    grow_bin = guards(tmp_path, text)[1]

    assert grow_bin.guarded == ()
    assert "no animals" in grow_bin.held_back[0]


def test_a_node_that_says_nothing_leaves_its_place_open_to_doubt(tmp_path: Path) -> None:
    text = SMALL.replace('measures = ["substrate_temperature"]\n', "")
    room, grow_bin = guards(tmp_path, text)

    assert (room.sensors_known, grow_bin.sensors_known) == (True, False)
    assert grow_bin.guarded


def test_a_node_that_sends_without_being_entered_is_named_with_the_lines_to_add(tmp_path: Path) -> None:
    (warning,) = look(tmp_path, SMALL, (SensorKey("node-99", "", "light"),)).warnings

    assert 'id = "node-99"' in warning


def test_a_bin_dries_in_the_air_of_its_room(tmp_path: Path) -> None:
    more = '[[places]]\nid = "shed"\nkind = "room"\n'
    more += '[[places]]\nid = "bin-9"\nkind = "grow_out_bin"\nroom = "shed"\n'
    boards = (
        '[[nodes]]\nid = "a"\nplace = "shed"\nmeasures = ["air_temperature", "air_humidity"]\n'
        '[[nodes]]\nid = "b"\nplace = "bin-9"\nmeasures = ["substrate_temperature"]\n'
    )
    guard = next(each for each in guards(tmp_path, SMALL + more + boards) if each.place.id == "bin-9")
    assert any("too dry within 12 h" in line for line in guard.guarded)
    alone = boards.replace(', "air_humidity"', "")
    guard = next(each for each in guards(tmp_path, SMALL + more + alone) if each.place.id == "bin-9")
    assert "time until too dry: no sensor here for air humidity" in guard.unguarded


# A promise only where somebody is told, and where a board measures often enough.


def slow(interval_s: float) -> str:
    return SMALL.replace('place = "bin-1"\n', f'place = "bin-1"\ninterval_s = {interval_s}\n')


@pytest.mark.parametrize(
    ("interval_s", "fast_enough"), [(60, True), (546, True), (900, True), (901, False), (1800, False)]
)
def test_the_early_heat_alarm_is_promised_up_to_a_reading_each_fifteen_minutes(
    tmp_path: Path, interval_s: float, fast_enough: bool
) -> None:
    grow_bin = guards(tmp_path, slow(interval_s))[1]
    assert any(line.startswith("overheating expected") for line in grow_bin.guarded) is fast_enough
    assert any("too slow for it" in line for line in grow_bin.unguarded) is not fast_enough
    warnings = look(tmp_path, slow(interval_s)).warnings
    assert any("too slow for the early heat alarm of bin-1" in line for line in warnings) is not fast_enough
    assert any(line.startswith("substrate temperature above 46 °C") for line in grow_bin.guarded)


@pytest.mark.parametrize(("send_every", "is_said"), [(1, False), (2, True), (60, True)])
def test_a_board_that_sends_more_rarely_than_each_hour_is_said_to_tell_late(
    tmp_path: Path, send_every: int, is_said: bool
) -> None:
    rare = slow(3600).replace("interval_s", f"send_every = {send_every}\ninterval_s")
    said = [line for line in look(tmp_path, rare).warnings if "told up to that much later" in line]
    assert bool(said) is is_said
    assert all(f"sends every {send_every} h: " in line for line in said)
    assert all(f"silence after {3 * send_every} h" in line for line in said)


def test_a_quicker_board_in_the_same_bin_is_enough(tmp_path: Path) -> None:
    quick = '[[nodes]]\nid = "n"\nplace = "bin-1"\nmeasures = ["substrate_temperature"]\n'
    assert any(line.startswith("overheating") for line in guards(tmp_path, slow(1800) + quick)[1].guarded)
    assert not any("too slow" in line for line in look(tmp_path, slow(1800) + quick).warnings)


def test_nobody_is_woken_where_nobody_is_told(tmp_path: Path) -> None:
    promised = [line for guard in guards(tmp_path, SMALL) for line in guard.guarded]
    assert any("wakes you" in line for line in promised)
    lonely = [
        line for guard in guards(tmp_path, SMALL.partition("[[recipients]]")[0]) for line in guard.guarded
    ]
    assert len(lonely) == len(promised)
    assert not any("wakes you" in line or "sends a message" in line for line in lonely)
    assert any(
        line.startswith("substrate temperature above 46 °C") and "nobody is told" in line for line in lonely
    )


def test_a_medium_alarm_sends_no_message_where_nobody_wants_one(tmp_path: Path) -> None:
    text = SMALL.replace('id = "owner"', 'id = "owner"\npriorities = ["high"]')
    promised = guards(tmp_path, text)[1].guarded
    assert any("wakes you" in line for line in promised)
    assert not any("sends a message" in line for line in promised)
    # A high alarm that nobody wants goes to everybody.
    text = SMALL.replace('id = "owner"', 'id = "owner"\npriorities = ["medium"]')
    assert any("wakes you" in line for line in guards(tmp_path, text)[1].guarded)


@pytest.mark.parametrize(
    ("interval_s", "said"),
    [(60, "1 h 5 min before"), (600, "1 h 5 min before"), (900, "40 min before"), (1800, "")],
)
def test_what_warning_of_heat_to_expect_follows_the_board(
    tmp_path: Path, interval_s: float, said: str
) -> None:
    lines = guards(tmp_path, slow(interval_s))[1].heat
    assert len(lines) == bool(said)
    assert all(said in line for line in lines)


def test_a_shorter_response_time_is_a_later_warning(tmp_path: Path) -> None:
    quick = slow(60).replace('id = "bin-1"\n', 'id = "bin-1"\nresponse_minutes = 10\n', 1)
    assert "45 min before" in guards(tmp_path, quick)[1].heat[0]


@pytest.mark.parametrize(
    ("password", "guessed"),
    [
        ("P@ssw0rd", True),
        ("12345678", True),
        ("hgfedcba", True),
        ("ab1ab1ab1ab1", True),
        ("karibu2026", True),
        ("Bonjour!1", True),
        ("hgfedcbz", False),
        ("four grey wet hens", False),
        ("password of hens", False),
    ],
)
def test_what_is_tried_first_is_known_with_signs_in_place_of_letters(password: str, guessed: bool) -> None:
    assert is_soon_guessed(password) is guessed


def test_the_name_of_the_farm_is_soon_guessed() -> None:
    assert is_soon_guessed("Sand Hill 26!", ("sand hill",))
    assert not is_soon_guessed("Sand Hill 26!")


@pytest.mark.parametrize(
    ("proxies", "warned"), [('["*"]', True), ('["::/0", "10.0.0.2"]', True), ('["10.0.0.2"]', False)]
)
def test_a_proxy_that_is_everybody_is_warned_of(tmp_path: Path, proxies: str, warned: bool) -> None:
    door = f"[page]\nenabled = true\nproxies = {proxies}\n\n[site]"
    said = look(tmp_path, SMALL.replace("[site]", door)).warnings
    assert any("proxies names every address" in text for text in said) is warned
