"""Boards enrolled, all or none: what is written, every problem at once, a fault at every step undone."""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import Any

import pytest
from enrolled_farm import EnrolledFarm, running_farm, wanted

from monitor.boards import certificates, enrolment, users
from monitor.boards.broker_files import Reload
from monitor.boards.draft import Wanted
from monitor.boards.enrolment import Change
from monitor.errors import BrokerRefused, MonitorError, SeveralProblems, StoreFull, UsageError
from monitor.settings.writing import write_all


@pytest.fixture
def farm(tmp_path: Path) -> EnrolledFarm:
    return EnrolledFarm(tmp_path)


def refused(farm: EnrolledFarm, change: Change, board: Wanted, **office: Any) -> str:
    """What is said of a change that cannot be; nothing may be changed by it."""
    before = farm.tree()
    with pytest.raises(MonitorError) as error:
        farm.office(**office).enrol(change, board)
    assert farm.tree() == before
    return str(error.value)


def test_a_board_gets_its_lines_its_user_and_its_card(farm: EnrolledFarm) -> None:
    before = farm.path.read_text()
    done = farm.office().enrol(Change.ADD, wanted())
    node = farm.settings.nodes[-1]
    assert (node.id, node.place, node.probes) == ("node-03", "bin-4", {"p2": "bin-5"})
    assert node.measures == (
        "p1/substrate_temperature",
        "p2/substrate_temperature",
        "air_temperature",
        "air_humidity",
    )
    for line in before.splitlines():
        assert line in farm.path.read_text(), "comments and order stay"
    assert (farm.folder / "farm.toml.backup").read_text() == before
    card = farm.cards()["node-03"]
    assert card == done.plan.card and done.proven
    assert card.sensors == ("ds18b20:substrate_temperature", "sht4x") and card.probes == ("p1", "p2")
    assert (card.hosts, card.user, card.wifi) == (("farm-pc.local", "127.0.0.1"), "node-03", "Yard")
    assert farm.users() == (users.MONITOR, "node-03")
    line = next(each for each in farm.broker.files.users.read_text().splitlines() if "node-03" in each)
    assert users.matches(line, card.password) and card.password not in line


@pytest.mark.skipif(os.name != "posix", reason="rights of files")
def test_secrets_are_for_their_owner_alone(farm: EnrolledFarm) -> None:
    farm.office().enrol(Change.ADD, wanted())
    for path in (farm.broker.boards / "cards" / "node-03.json", farm.broker.boards / "wifi.json"):
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE((farm.broker.boards / "cards").stat().st_mode) == 0o700
    assert stat.S_IMODE(farm.broker.files.users.stat().st_mode) == 0o640
    card = farm.cards()["node-03"]
    assert card.password not in farm.path.read_text() and "wet thumbs" not in farm.path.read_text()


def test_the_second_board_does_not_ask_for_the_wifi(farm: EnrolledFarm) -> None:
    farm.office().enrol(Change.ADD, wanted())
    farm.office().enrol(Change.ADD, wanted("node-04", wifi=None, wifi_password=""))
    farm.office().enrol(Change.ADD, wanted("node-05", wifi="", wifi_password=""))
    assert farm.cards()["node-04"].wifi_password == "wet thumbs 12"
    assert farm.cards()["node-05"].wifi == "", "said to be none"
    assert farm.office().remembered_wifi() == ("Yard", "wet thumbs 12")


def test_a_battery_board_is_silent_for_long_and_has_a_low_voltage(farm: EnrolledFarm) -> None:
    board = wanted(sensors=("sht4x", "battery"), probes=(), power="battery", interval="5 min", send_every=10)
    farm.office().enrol(Change.ADD, board)
    node = farm.settings.nodes[-1]
    assert (node.interval_s, node.send_every, node.stale_after_s) == (300, 10, None)
    assert node.battery_low_v == pytest.approx(3.5, abs=0.3)
    assert farm.cards()["node-03"].power == "battery" and farm.cards()["node-03"].send_every == 10


def test_a_board_that_the_settings_name_already_gets_a_card(farm: EnrolledFarm) -> None:
    farm.office().enrol(Change.ADD, Wanted("node-01", sensors=("sht4x",)))
    node = farm.settings.nodes[0]
    assert node.place == "room-1" and node.measures == ("air_temperature", "air_humidity")
    assert len(farm.settings.nodes) == 1 and "# under the tin" in farm.path.read_text()


def test_every_problem_is_said_at_once(farm: EnrolledFarm) -> None:
    board = Wanted(
        "service",
        place="bin-44",
        sensors=("bme999", "sht3x", "sht4x"),
        probes=("p 1=bin-4", "p2=nowhere", "p2"),
        interval="2 s",
        send_every=99,
        power="sun",
        wifi="x" * 40,
        wifi_password="short",
    )
    said = refused(farm, Change.ADD, board)
    for part in (
        '"service" is a name that the monitor needs itself',
        "'bin-44' is no place in the settings; do you mean \"bin-4\"?",
        'a sensor is "bme999"; allowed: sht3x, sht3x@45, sht4x, sht4x@45, bme280, bme280@77, ds18b20',
        "the I2C address 0x44 is sht3x, sht4x; allowed: one sensor at each address",
        'the name of a probe is "p 1"',
        "'nowhere' is no place",
        "the list of probes is p 1, p2, p2",
        "the interval is 2 s; allowed: 10 s..1 h",
        "--send-every is 99; allowed: 1..60",
        '--power is "sun"; allowed: mains, battery',
        "the name of the Wi-Fi is",
        "the password of the Wi-Fi is not usable",
    ):
        assert part in said
    assert "short" not in said, "a password is not shown, not even a wrong one"


def test_what_is_missing_is_said(farm: EnrolledFarm) -> None:
    said = refused(farm, Change.ADD, Wanted("node-09"))
    assert (
        "the place is missing; allowed: room-1, bin-4, bin-5. To mend: say where it hangs with --place"
        in said
    )
    assert "the list of sensors is empty" in said
    assert "is no length of time" in refused(farm, Change.ADD, wanted(interval="soon"))
    rare = refused(farm, Change.ADD, wanted(interval="1 h", send_every=60))
    assert "the time between two sendings is 3600 min; allowed: 1 h" in rare


@pytest.mark.parametrize(
    "name", ["node-03", "Node 3", "a/b", "a+", "", "x" * 41, "../wifi", "rearing-monitor", "sounder"]
)
def test_a_name_that_exists_or_cannot_be_is_refused(farm: EnrolledFarm, name: str) -> None:
    farm.office().enrol(Change.ADD, wanted())
    said = refused(farm, Change.ADD, wanted(name))
    if name == "node-03":
        assert "board card node-03" in said and "board replace node-03" in said


@pytest.mark.parametrize("change", [Change.CARD, Change.REPLACE, Change.REMOVE])
@pytest.mark.parametrize("name", ["node-99", "../wifi", "rearing-monitor", ""])
def test_a_board_that_nobody_knows_is_not_changed(farm: EnrolledFarm, change: Change, name: str) -> None:
    farm.office().enrol(Change.ADD, wanted())
    assert "known: node-01, node-03" in refused(farm, change, Wanted(name))


def test_a_broker_that_is_not_set_up_is_said_with_the_rest(farm: EnrolledFarm) -> None:
    farm.path.write_text(
        "\n".join(line for line in farm.path.read_text().splitlines() if not line.startswith("files"))
    )
    said = refused(farm, Change.ADD, wanted(place="bin-44"))
    assert "rearing-monitor broker setup" in said and "bin-44" in said


def test_a_users_file_that_is_not_ours_stays_as_it_is(farm: EnrolledFarm) -> None:
    farm.broker.files.users.write_text("somebody:$7$101$AAAA$BBBB\n")
    assert "was not written by this program" in refused(farm, Change.ADD, wanted())
    farm.broker.files.users.unlink()
    assert "broker setup" in refused(farm, Change.ADD, wanted())


def test_lines_of_others_in_the_users_file_stay(farm: EnrolledFarm) -> None:
    other = "somebody:$7$101$AAAA$BBBB"
    with farm.broker.files.users.open("a") as file:
        file.write(f"{other}\n")
    farm.office().enrol(Change.ADD, wanted())
    farm.office().enrol(Change.REMOVE, Wanted("node-03"))
    assert farm.broker.files.users.read_text().splitlines()[-1] == other


def test_an_authority_that_has_expired_makes_no_card(farm: EnrolledFarm) -> None:
    late_ms = int(certificates.LAST.timestamp() * 1000) + 1
    said = refused_at(farm, late_ms)
    assert "valid from 1970-01-01 to 2070-01-01" in said and "broker setup" in said
    (farm.broker.boards / certificates.CA).write_text("no certificate")
    assert "is not a certificate" in refused(farm, Change.ADD, wanted())


def refused_at(farm: EnrolledFarm, now_ms: int) -> str:
    office = farm.office()
    with pytest.raises(SeveralProblems) as error:
        enrolment.Office(office.farm, now_ms, prove=office.prove, reload=office.reload).enrol(
            Change.ADD, wanted()
        )
    return str(error.value)


def test_the_card_again_has_another_password_and_keeps_the_rest(farm: EnrolledFarm) -> None:
    first = farm.office().enrol(Change.ADD, wanted(interval="2 min")).plan.card
    settings = farm.path.read_text()
    second = farm.office().enrol(Change.CARD, Wanted("node-03")).plan.card
    assert first is not None and second is not None
    assert second.password != first.password
    assert second.interval_s == 120 and second.sensors == first.sensors and second.probes == first.probes
    assert farm.path.read_text() == settings
    assert farm.users() == (users.MONITOR, "node-03")


def test_a_card_that_is_lost_asks_for_the_sensors_again(farm: EnrolledFarm) -> None:
    farm.office().enrol(Change.ADD, wanted())
    (farm.broker.boards / "cards" / "node-03.json").unlink()
    assert "node-03.json" in refused(farm, Change.CARD, Wanted("node-03"))
    farm.office().enrol(Change.CARD, Wanted("node-03", sensors=("sht4x",)))
    assert farm.cards()["node-03"].sensors == ("sht4x",)
    assert farm.settings.nodes[-1].measures == ("air_temperature", "air_humidity")


def test_the_card_of_another_site_is_not_built_on(farm: EnrolledFarm) -> None:
    farm.office().enrol(Change.ADD, wanted())
    farm.path.write_text(farm.path.read_text().replace('id = "saltbush-yard"', 'id = "other-yard"'))
    assert "another site" in refused(farm, Change.CARD, Wanted("node-03"))


def test_a_board_is_removed_with_user_lines_and_card(farm: EnrolledFarm) -> None:
    before = farm.tree()
    farm.office().enrol(Change.ADD, wanted())
    done = farm.office().enrol(Change.REMOVE, Wanted("node-03"))
    assert done.plan.unguarded == ("bin-4", "bin-5")
    after = farm.tree()
    ours = {"farm.toml.backup", "broker/boards/wifi.json"}
    assert {name: facts for name, facts in after.items() if name not in ours} == before
    assert "known: node-01" in refused(farm, Change.REMOVE, Wanted("node-03"))


def test_a_board_without_a_broker_for_boards_can_be_removed(farm: EnrolledFarm) -> None:
    farm.path.write_text(
        "\n".join(line for line in farm.path.read_text().splitlines() if not line.startswith("files"))
    )
    done = farm.office().enrol(Change.REMOVE, Wanted("node-01"))
    assert farm.settings.nodes == () and done.plan.unguarded == ("room-1",)


@pytest.mark.parametrize("change", list(Change))
@pytest.mark.parametrize("step", range(6))
def test_a_fault_at_every_file_leaves_everything_as_it_was(
    farm: EnrolledFarm, monkeypatch: pytest.MonkeyPatch, change: Change, step: int
) -> None:
    """Each rename in its turn meets a full disk."""
    name = "node-07" if change is Change.ADD else "node-03"
    farm.office().enrol(Change.ADD, wanted())
    before, count, rename = farm.tree(), 0, Path.replace

    def failing(path: Path, target: Path) -> Path:
        nonlocal count
        count += 1
        if count == step + 1:
            raise OSError(28, "No space left on device")
        return rename(path, target)

    board = Wanted(name) if change is Change.REMOVE else wanted(name, interval="3 min")
    monkeypatch.setattr(Path, "replace", failing)
    try:
        farm.office().enrol(change, board)
    except UsageError as error:
        monkeypatch.undo()
        assert count > step
        assert "No space left" in str(error)
        assert farm.tree() == before
    else:
        assert count <= step, "the fault was swallowed"


@pytest.mark.parametrize("change", list(Change))
@pytest.mark.parametrize("fault", ["reload", "prove", "store"])
def test_a_fault_after_the_files_puts_them_back(
    farm: EnrolledFarm, monkeypatch: pytest.MonkeyPatch, change: Change, fault: str
) -> None:
    farm.office().enrol(Change.ADD, wanted())
    farm.store().close()
    before, reloads = farm.tree(), 0

    def told(_: object) -> Reload:
        nonlocal reloads
        reloads += 1
        if fault == "reload" and reloads == 1:
            raise OSError("gone")
        return Reload.DONE

    def prove(*_: object) -> bool:
        if fault == "prove":
            raise BrokerRefused("no")
        return True

    def no_room(*_: object) -> None:
        raise StoreFull("full")

    if fault == "store":
        monkeypatch.setattr("monitor.store.nodes.Nodes.start_anew", no_room)
        monkeypatch.setattr("monitor.store.nodes.Nodes.retire", no_room)
    name = "node-07" if change is Change.ADD else "node-03"
    board = Wanted(name) if change is Change.REMOVE else wanted(name)
    unfelt = {(Change.REMOVE, "prove"), (Change.CARD, "store")}
    if (change, fault) in unfelt:
        farm.office(prove=prove, reload=told).enrol(change, board)
        return
    with pytest.raises((OSError, MonitorError)):
        farm.office(prove=prove, reload=told).enrol(change, board)
    assert {name: facts for name, facts in farm.tree().items() if ".sqlite" not in name} == {
        name: facts for name, facts in before.items() if ".sqlite" not in name
    }
    assert reloads == 2, "the broker reads the old users again"


def test_without_the_right_to_reload_the_files_stand_and_the_command_is_known(farm: EnrolledFarm) -> None:
    done = farm.office(reload=lambda _: Reload.WANTED).enrol(Change.ADD, wanted())
    assert done.reload is Reload.WANTED and not done.proven
    assert "node-03" in farm.users()


def test_the_command_for_somebody_with_the_right(farm: EnrolledFarm, monkeypatch: pytest.MonkeyPatch) -> None:
    shut = farm.broker.files.folder
    monkeypatch.setattr(enrolment, "_may_write", lambda folder: folder != shut)
    said = refused(farm, Change.ADD, wanted(interval="5 min"))
    assert f"{farm.broker.files.folder} cannot be written by this user" in said
    assert "sudo " in said and f"board add node-03 --config {farm.path}" in said
    assert "--sensor ds18b20 --sensor sht4x --probe p1=bin-4 --probe p2=bin-5" in said
    assert "--interval '5 min'" in said and "wet thumbs" not in said


def test_a_computer_that_nobody_can_find_is_named_by_hand(
    farm: EnrolledFarm, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = farm.path.read_text()
    farm.path.write_text("\n".join(line for line in text.splitlines() if "boards_hosts" not in line))
    monkeypatch.setattr(certificates, "own_names", lambda: ())
    assert "boards_hosts" in refused(farm, Change.ADD, wanted())
    monkeypatch.setattr(certificates, "own_names", lambda: ("barn.local", "barn"))
    farm.office().enrol(Change.ADD, wanted())
    assert farm.cards()["node-03"].hosts == ("barn.local", "barn")


@pytest.mark.parametrize("written", range(4))
def test_a_power_cut_between_two_files_leaves_what_can_be_done_again(
    farm: EnrolledFarm, written: int
) -> None:
    """Nothing puts the files back then: some are new and some are old."""
    for change, board in ((Change.ADD, wanted()), (Change.REMOVE, Wanted("node-03"))):
        plan = farm.office().plan(change, board)
        (farm.broker.boards / "cards").mkdir(exist_ok=True)
        write_all(plan.files[:written])
        farm.office().enrol(change, board)
        assert ("node-03" in farm.users()) is (change is Change.ADD)
        assert (farm.settings.nodes[-1].id == "node-03") is (change is Change.ADD)


def test_a_broken_memory_of_the_wifi_is_no_wifi(farm: EnrolledFarm) -> None:
    (farm.broker.boards / "wifi.json").write_text("[")
    assert farm.office().remembered_wifi() == ("", "")


@pytest.mark.mosquitto
def test_the_real_broker_lets_the_new_board_in_and_the_old_card_ends(tmp_path: Path) -> None:
    with running_farm(tmp_path) as farm:
        first = farm.office().enrol(Change.ADD, wanted())
        assert first.reload is Reload.DONE and first.proven and first.plan.card is not None
        second = farm.office().enrol(Change.CARD, Wanted("node-03"))
        assert second.proven
        ca_file = farm.broker.ca_file
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(enrolment, "PATIENCE_S", 0.0)
            with pytest.raises(BrokerRefused):
                enrolment.lets_in(farm.settings, first.plan.card, ca_file)
            farm.office().enrol(Change.REMOVE, Wanted("node-03"))
            assert second.plan.card is not None
            with pytest.raises(BrokerRefused):
                for _ in range(50):
                    enrolment.lets_in(farm.settings, second.plan.card, ca_file)
        farm.broker.stop()
        assert not enrolment.lets_in(farm.settings, second.plan.card, ca_file), "nothing answers"


@pytest.mark.mosquitto
def test_a_broker_that_does_not_read_our_file_undoes_it_all(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(enrolment, "PATIENCE_S", 0.5)
    with running_farm(tmp_path) as farm:
        before = farm.tree()
        with pytest.raises(UsageError, match="still refuses node-03"):
            farm.office(reload=lambda _: Reload.DONE).enrol(Change.ADD, wanted())
        assert farm.tree() == before


def test_a_change_says_what_no_board_measures_any_more(farm: EnrolledFarm) -> None:
    office = farm.office()
    air = wanted("node-9", place="bin-4", sensors=("sht4x",), probes=())
    assert office.plan(Change.ADD, air).unmeasured == (("bin-4", "substrate_temperature"),)
    bin_board = wanted("node-9", place="bin-4", sensors=("ds18b20", "moisture", "battery"), probes=())
    assert office.enrol(Change.ADD, bin_board).plan.unmeasured == ()
    farm.office().enrol(Change.ADD, wanted("node-10", place="bin-4", sensors=("sht4x",), probes=()))
    cut = farm.office().plan(Change.REPLACE, wanted("node-9", place="bin-4", sensors=("sht4x",), probes=()))
    assert cut.unmeasured == (("bin-4", "substrate_moisture"), ("bin-4", "substrate_temperature"))
    gone = farm.office().plan(Change.REMOVE, Wanted("node-9"))
    assert gone.unguarded == () and ("bin-4", "substrate_temperature") in gone.unmeasured
    moved = farm.office().plan(Change.CARD, wanted("node-10", place="bin-5", sensors=(), probes=()))
    assert ("bin-4", "air_temperature") in moved.unmeasured
