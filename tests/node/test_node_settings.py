"""Card and settings on the board: strict limits, two copies, the old ones kept whatever happens."""

from __future__ import annotations

import json
from typing import Any

import pytest
from board_cards import card, pasted, summed
from micropython_run import run_lives

from monitor.boards.card import INTERVALS_S, SEND_EVERY, checksum, read_card
from monitor.errors import CardError

pytestmark = [pytest.mark.micropython, pytest.mark.usefixtures("micropython")]

ROM, OTHER_ROM = "28ff641dc1160364", "28ff00000000001a"

BEGIN = """
import json, os
from ram_flash import PowerCut, RamBoard, RamFlash
from settings import Settings, checksum
flash = RamFlash(32)
flash.format()
flash.mount()
def start():
    return Settings(RamBoard())
def spoil(name):
    with open("/flash/" + name, "rb") as f:
        raw = bytearray(f.read())
    raw[len(raw) // 2] ^= 4
    with open("/flash/" + name, "wb") as f:
        f.write(raw)
s = start()
"""


def board(code: str, **given: Any) -> Any:
    """What a script with `s`, the settings of an empty board, printed last; `given` are its variables."""
    names = "".join(f"{name} = json.loads({json.dumps(value)!r})\n" for name, value in given.items())
    return run_lives(BEGIN + names + code, timeout=60.0, heap="8m")


def settings(**changed: Any) -> str:
    values: dict[str, Any] = {"interval_s": 30, "send_every": 2, "probes": {ROM: "p1"}}
    values |= changed
    return json.dumps(summed({key: value for key, value in values.items() if value is not None}))


def test_the_card_of_the_monitor_and_of_an_independent_writer_have_the_sum_of_the_board() -> None:
    many = [card(), card(wifi="", ca=""), card(wifi="Ferme Bé – 2"), card(probes=[], hosts=["10.0.0.7"])]
    found = board("print(json.dumps([checksum(c) for c in cards]))", cards=many)
    assert found == [each["sum"] for each in many] == [checksum(each) for each in many]
    sent = json.loads(settings(buzzer=False))
    assert board("print(json.dumps(checksum(c)))", c=sent) == sent["sum"] == checksum(sent)


def test_a_card_is_kept_over_a_restart_and_gives_the_first_values() -> None:
    code = """
first = s.take_card(text)
s = start()
values = [s.get(k) for k in ("interval_s", "wifi", "wifi_password", "probes", "buzzer")]
print(json.dumps([first, s.card, values, s.sum, s.get("power")]))
"""
    reason, kept, values, total, power = board(code, text=pasted(card()))
    assert reason == ""
    assert kept == card()
    assert values == [60, "Ferme Bé", "wet thumbs 1", {}, True]
    assert total == ""
    assert power == "mains"


def test_settings_lie_over_the_card_until_another_card_comes() -> None:
    code = """
s.take_card(text)
before = s.take(sent)
s = start()
over = [s.get("interval_s"), s.get("send_every"), s.get("probes"), s.get("buzzer"), s.sum]
s.take_card(text)  # the same card changes nothing
same = s.get("interval_s")
s.take_card(newer)
s = start()  # as a board does
now = [s.get("interval_s"), s.sum]
s = start()
print(json.dumps([before, over, same, now, [s.get("interval_s"), s.sum, s.card["password"]]]))
"""
    sent = settings(buzzer=False)
    newer = pasted(card(interval_s=300, password="another"))
    before, over, same, now, later = board(code, text=pasted(card()), sent=sent, newer=newer)
    assert before == ""
    assert over == [30, 2, {ROM: "p1"}, False, json.loads(sent)["sum"]]
    assert same == 30
    assert now == [300, ""]
    assert later == [300, "", "another"]


BAD_SETTINGS = {
    "too often": (settings(interval_s=9), "interval_s must be 10 to 3600"),
    "too rare": (settings(interval_s=3601), "interval_s must be"),
    "half": (settings(interval_s=30.5), "interval_s must be"),
    "text": (settings(interval_s="30"), "interval_s must be"),
    "true": (settings(interval_s=True), "interval_s must be"),
    "none": (settings().replace("30", "null"), "interval_s must be"),
    "send_every": (settings(send_every=61), "send_every must be 1 to 60"),
    "buzzer": (settings(buzzer=1), "buzzer is not usable"),
    "probe name": (settings(probes={ROM: "a/b"}), "probes is not usable"),
    "long name": (settings(probes={ROM: "a" * 17}), "probes is not usable"),
    "serial": (settings(probes={"28FF641DC1160364": "p1"}), "probes is not usable"),
    "twice": (settings(probes={ROM: "p1", OTHER_ROM: "p1"}), "probes is not usable"),
    "nine": (settings(probes={f"28ff6400000000{n:02x}": f"p{n}" for n in range(9)}), "probes is not usable"),
    "list": (settings(probes=["p1"]), "probes is not usable"),
    "host": (settings(hosts=["192.168.1.66"]), "hosts is not usable"),
    "user": (settings(user="node-04"), "user is not usable"),
    "password": (settings(password="x"), "password is not usable"),
    "ca": (settings(ca=""), "ca is not usable"),
    "strange key": (settings(**{"a\nb<": 1}), "a\nb< is not usable"),
    "wrong sum": (settings().replace("30", "31"), "its sum does not fit"),
    "no sum": ('{"interval_s":30}', "its sum does not fit"),
    "cut": (settings()[:40], "no JSON object"),
    "empty": ("", "no JSON object"),
    "nested": ("[" * 800, "no JSON object"),
    "number": ("17", "no JSON object"),
    "long": (settings(x="x" * 900), "x is not usable"),
}


def test_hostile_settings_change_nothing_and_the_reason_is_kept() -> None:
    code = """
s.take_card(text)
s.take(good)
def force():
    return [s.get(k) for k in ("interval_s", "send_every", "probes", "buzzer", "wifi", "user")] + [s.sum]
was = force()
files = [os.stat("/flash/settings" + c)[6] for c in "1"], flash.operations
said = []
for payload in bad:
    said.append([s.take(payload.encode()), s.refused])
    assert force() == was
for payload in (b"\\xff\\xfe\\x00", bytes(range(256)), b"\\0" * 50):
    assert s.take(payload)
assert files == ([os.stat("/flash/settings" + c)[6] for c in "1"], flash.operations), "something was written"
assert s.take(good) == s.refused == ""
assert flash.operations == files[1], "the same settings are written again"
print(json.dumps(said))
"""
    bad = [payload for payload, _ in BAD_SETTINGS.values()]
    found = board(code, text=pasted(card()), good=settings(), bad=bad)
    for (name, (_, why)), (reason, kept) in zip(BAD_SETTINGS.items(), found, strict=True):
        assert why in reason, name
        assert kept == reason
        assert len(reason) < 200, name


def test_several_faults_are_said_at_once() -> None:
    bad = settings(interval_s=5, send_every=0, host="x")
    reason = board("print(json.dumps(s.take(bad)))", bad=bad)
    assert reason.count(";") == 2


CUTS = """
s.take_card(text)
s.take(good)
s.set_probes({rom: "p2"})
image = [bytes(block) for block in flash.data]
cut = 0
while True:
    cut += 1
    flash = RamFlash(data=[bytearray(block) for block in image])
    flash.mount()
    s = start()
    flash.cut_at = cut
    try:
        if WHAT == "card":
            said = flash.until_cut(s.take_card, newer)
        elif WHAT == "settings":
            said = flash.until_cut(s.take, better)
        else:
            said = flash.until_cut(s.set_probes, {rom: "p9"})
        assert said == "", said
        break
    except PowerCut:
        pass
    flash = RamFlash(data=flash.data)
    flash.mount()
    s = start()
    state = [s.card["password"], s.get("interval_s"), s.get("probes")[rom]]
    assert state in (OLD, NEW), state
print(cut)
"""


@pytest.mark.parametrize(
    ("what", "old", "new"),
    [
        ("card", ["h8Qz-T0pSecret", 30, "p2"], ["another", 60, "p2"]),
        ("settings", ["h8Qz-T0pSecret", 30, "p2"], ["h8Qz-T0pSecret", 90, "p2"]),
        ("probes", ["h8Qz-T0pSecret", 30, "p2"], ["h8Qz-T0pSecret", 30, "p9"]),
    ],
)
def test_a_cut_at_each_block_operation_leaves_the_old_or_the_new(
    what: str, old: list[Any], new: list[Any]
) -> None:
    code = CUTS.replace("WHAT", repr(what)).replace("OLD", repr(old)).replace("NEW", repr(new))
    given = {
        "text": pasted(card()),
        "newer": pasted(card(password="another")),
        "good": settings(probes=None),
        "better": settings(probes=None, interval_s=90),
        "rom": ROM,
    }
    assert board(code, **given) > 2


def test_the_older_copy_is_used_when_the_newer_is_damaged_and_nothing_when_both_are() -> None:
    code = """
s.take_card(text)
s.take_card(newer)
s.take(good)
s.take(better)
spoil("card0")
spoil("settings0")
s = start()
older = [s.card["password"], s.get("interval_s")]
s.take_card(newer)
assert start().card["password"] == "another"
spoil("card0")
spoil("card1")
spoil("settings1")
s = start()
gone = s.card, s.sum, s.get("probes")
print(json.dumps([older, gone, s.take_card(text), start().card["sum"]]))
"""
    newer = pasted(card(password="another"))
    given = {"text": pasted(card()), "newer": newer, "good": settings(), "better": settings(interval_s=90)}
    older, gone, said, total = board(code, **given)
    # The settings that are left came with the newer card, so they do not count beside the older one.
    assert older == ["h8Qz-T0pSecret", 60]
    assert (gone, said, total) == ([None, "", {}], "", card()["sum"])


def test_names_of_the_monitor_go_before_those_that_the_board_gave_itself() -> None:
    code = """
s.take_card(text)
s.set_probes({a: "p1", b: "p2"})
alone = s.get("probes")
s.take(sent)
s = start()
print(json.dumps([alone, s.get("probes")]))
"""
    sent = settings(probes={OTHER_ROM: "p1"})
    alone, both = board(code, text=pasted(card()), a=ROM, b=OTHER_ROM, sent=sent)
    assert alone == {ROM: "p1", OTHER_ROM: "p2"}
    assert both == {OTHER_ROM: "p1"}, "a name is given once"


def test_a_typed_wifi_stays_when_the_card_is_renewed() -> None:
    code = """
bare = s.take_card(text)
long = s.take_card(text, "x" * 33, "")
s.take_card(text, "Shed", "longer-77")
s.take_card(newer)
s = start()
print(json.dumps([bare, long, s.get("wifi"), s.get("wifi_password"), s.card["password"]]))
"""
    text = pasted(card(wifi="", wifi_password=""))
    newer = pasted(card(wifi="", wifi_password="", password="another"))
    bare, long, *rest = board(code, text=text, newer=newer)
    assert "names no Wi-Fi" in bare
    assert "names no Wi-Fi" in long
    assert rest == ["Shed", "longer-77", "another"]


def test_a_flash_that_refuses_keeps_the_old_card_and_says_so() -> None:
    code = """
s.take_card(text)
class Broken(RamFlash):
    def writeblocks(self, block, buffer, offset=0):
        return -5
flash = Broken(data=flash.data)
flash.mount()
s = start()
print(json.dumps([s.take_card(newer), s.take(sent), s.card["password"], s.get("interval_s"), s.refused]))
"""
    newer = pasted(card(password="another"))
    said, settings_said, password, interval, refused = board(
        code, text=pasted(card()), newer=newer, sent=settings()
    )
    assert "flash is full or broken" in said
    assert settings_said == refused == said
    assert (password, interval) == ("h8Qz-T0pSecret", 60)


def test_no_secret_is_in_any_sentence_of_the_board() -> None:
    code = """
said = [s.take_card(text[:n]) for n in range(0, len(text), 7)]
said += [s.take_card(text[:n] + "~" + text[n + 1:]) for n in range(0, len(text), 3)]
print(json.dumps(said))
"""
    text = pasted(card())
    said = board(code, text=text)
    assert all(said), "a card with one letter changed was taken"
    assert not [each for each in said if "h8Qz" in each or "thumbs" in each or card()["ca"][:20] in each]


def test_the_board_takes_every_card_that_the_monitor_makes() -> None:
    changes: list[dict[str, Any]] = [{"interval_s": n} for n in (9, *INTERVALS_S, 3601)] + [
        {"send_every": n} for n in (0, *SEND_EVERY, 61)
    ]
    changes += [{key: text} for key in ("root", "site", "node", "user", "tls_name") for text in TEXTS]
    changes += [{"hosts": [text]} for text in TEXTS] + [{"probes": [text]} for text in TEXTS]
    changes += [{key: text} for key in ("password", "wifi", "wifi_password", "power") for text in TEXTS]
    changes += [{"hosts": [f"10.0.0.{n}" for n in range(many)]} for many in (0, 1, 6, 7)]
    changes += [{"port": n} for n in (0, 1, 65535, 65536)]
    texts = [pasted(card(**({"ca": ""} | change))) for change in changes]
    code = """
said = []
for change in changes:
    one = dict(base)
    one.update(change)
    one["sum"] = checksum(one)
    said.append(s.take_card(json.dumps(one), "Shed", "longer-77"))
print(json.dumps(said))
"""
    said = board(code, changes=changes, base=card(ca=""))
    made = [is_made(text) for text in texts]
    assert sum(made) > 40
    for change, reason, is_right in zip(changes, said, made, strict=True):
        assert not (reason and is_right), f"{change}: {reason}"
    refused = sum(1 for reason in said if reason)
    assert refused >= 6, "the board looks at the limits of numbers itself; the sum proves the rest"


TEXTS = [
    "",
    "a",
    "node-03",
    "a" * 16,
    "a" * 17,
    "a" * 32,
    "a" * 33,
    "a" * 40,
    "a" * 41,
    "a" * 63,
    "a" * 64,
    "a" * 254,
]
TEXTS += [
    "-a",
    "a/b",
    "a b",
    "é" * 16,
    "é" * 17,
    "a.b_c-d",
    "::1",
    "fd00::1",
    "a\nb",
    "mains",
    "battery",
    "#",
    "+",
]


def is_made(text: str) -> bool:
    try:
        read_card(text)
    except CardError:
        return False
    return True
