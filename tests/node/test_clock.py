"""What time it is on a board: the rules by which it takes the monitor's, the chip's and its own."""

from __future__ import annotations

import pytest
from micropython_run import run_script

pytestmark = pytest.mark.micropython

PRELUDE = """
import json
import clock
class Board:
    ticks, own, was_set = 5000, None, []
    def ticks_ms(self): return self.ticks
    def now_s(self): return self.own
    def set_now_s(self, s): self.was_set = self.was_set + [s]
class Chip:
    def __init__(self, said): self.said, self.written = said, []
    def read(self): return self.said
    def write(self, s): self.written.append(s); self.said = s
NOW = 1790000000000
board = Board()
def answer(c, unix_ms, took=0, **more):
    asked = json.loads(c.question())
    board.ticks += took
    said = {"id": asked["id"], "unix_ms": unix_ms}
    said.update(more)
    return c.answer(json.dumps(said).encode())
"""


def run(code: str) -> list[str]:
    """The lines that a script prints."""
    return run_script(PRELUDE + code).splitlines()


def test_without_any_clock_time_is_uptime() -> None:
    assert run("c = clock.Clock(board, 60000); print(c.now_s(), c.source)") == ["(65, False) none"]


def test_the_answer_is_dated_at_the_middle_and_kept_in_the_chip() -> None:
    lines = run("""
c = clock.Clock(board)
answer(c, NOW, took=4000)
print(c.now_s(), c.source, board.was_set)
""")
    assert lines == ["(1790000002, True) monitor [1790000002]"]


@pytest.mark.parametrize(
    ("chip", "own", "seen"),
    [
        ("1790000000", "None", "(1790000000, True) chip"),
        ("None", "1790000500", "(1790000500, True) kept"),
        ("1790000000", "1790000500", "(1790000000, True) chip"),
        ("946684800", "1790000500", "(1790000500, True) kept"),
        ("None", "None", "(5, False) none"),
        ("946684800", "1000", "(5, False) none"),
        ("4102444800", "None", "(5, False) none"),
    ],
)
def test_what_a_start_knows(chip: str, own: str, seen: str) -> None:
    """A clock chip outranks the board's own clock; neither is believed before 2025."""
    code = f"board.own = {own}; c = clock.Clock(board, 0, Chip({chip})); print(c.now_s(), c.source)"
    assert run(code) == [seen]


@pytest.mark.parametrize(
    "unix_ms",
    [
        "946684800000",
        "1735689599999",
        "4102444800000",
        "10 ** 30",
        "-5",
        "True",
        "'now'",
        "1.79e12",
        "None",
        "[1]",
    ],
)
def test_a_time_before_the_build_or_no_time_is_refused(unix_ms: str) -> None:
    assert run(f"c = clock.Clock(board); answer(c, {unix_ms}); print(c.now_s(), c.source)") == [
        "(5, False) none"
    ]


def test_a_step_of_more_than_a_day_needs_two_answers_that_agree() -> None:
    lines = run("""
c = clock.Clock(board)
answer(c, NOW)
for seconds in (90000, 190000, 190010, -90000, 190020, -90000):
    answer(c, NOW + seconds * 1000)
    print(c.now_s()[0] - NOW // 1000, c.doubt is not None)
""")
    assert lines == ["0 True", "0 True", "190010 False", "190010 True", "190020 False", "190020 True"]


def test_a_step_within_a_day_is_taken_at_once() -> None:
    assert run("c = clock.Clock(board); answer(c, NOW); answer(c, NOW - 80000000); print(c.now_s())") == [
        "(1789920000, True)"
    ]


def test_only_the_answer_to_the_last_question_counts_and_only_once() -> None:
    lines = run("""
c = clock.Clock(board)
first = json.loads(c.question())["id"]
second = json.loads(c.question())["id"]
for number in (first, second, second):
    print(c.answer(json.dumps({"id": number, "unix_ms": NOW, "done": 4})) is not None, c.source)
""")
    assert lines == ["False none", "True monitor", "False monitor"]


def test_an_answer_that_took_more_than_a_minute_says_nothing() -> None:
    assert run("c = clock.Clock(board); print(answer(c, NOW, took=60001), c.source)") == ["None none"]


@pytest.mark.parametrize(
    "payload",
    [b"", b"{", b"[]", b"7", b"null", b"{}", b'{"id":"1"}', b'{"id":null}', b"\xff\xfe", b"[" * 2000],
)
def test_what_is_no_answer(payload: bytes) -> None:
    assert run(f"c = clock.Clock(board); c.question(); print(c.answer({payload!r}), c.source)") == [
        "None none"
    ]


def test_an_answer_without_time_still_says_what_is_stored() -> None:
    assert run("c = clock.Clock(board); print(answer(c, None, boot=7, done=41)['done'], c.source)") == [
        "41 none"
    ]


def test_the_question_names_what_waits_for_confirmation() -> None:
    lines = run("""
c = clock.Clock(board)
print(sorted(json.loads(c.question())), sorted(json.loads(c.question(7, 38, 41)).items())[:2])
""")
    assert lines == ["['id'] [('boot', 7), ('first', 38)]"]


def test_the_clock_chip_is_set_when_it_is_off_and_left_alone_when_it_is_right() -> None:
    lines = run("""
for said in (1790000002, 1789999998, 1790000003, None):
    chip = Chip(said)
    c = clock.Clock(board, 0, chip)
    answer(c, NOW)
    print(chip.written)
""")
    assert lines == ["[]", "[]", "[1790000000]", "[1790000000]"]
