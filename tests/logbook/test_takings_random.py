"""Whatever was put right or taken back: the sums are those of a logbook that was right from the beginning."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from takings_book import BIN, COHORT, FILL, PLACE, YieldBook, without_numbers

from monitor.records import SubjectKind
from monitor.yields.records import Takings


@dataclass(frozen=True)
class Deed:
    """An entry as it is right, what was wrong of it at first, and whether it was never so."""

    about: SubjectKind
    subject: str
    kind: str
    right: dict[str, Any]
    wrong: dict[str, Any]
    never: bool


GRAMS = st.floats(0.5, 60.0).map(lambda number: round(number, 1))
KG = st.floats(0.05, 0.4).map(lambda number: round(number, 2))
PERCENT = st.integers(0, 100)
USES = st.sampled_from([{}, {"use": "sold"}, {"tray": "tray-1"}, {"tray": "tray-2"}])
LARVAE = st.sampled_from([{}, {"use": "feed"}, {"use": "sold"}, {"use": "breeding", "mean_mg": 150}])


def _eggs() -> st.SearchStrategy[dict[str, Any]]:
    return st.builds(lambda grams, use: {"grams": grams, **use}, GRAMS, USES)


def _taken() -> st.SearchStrategy[dict[str, Any]]:
    larvae = st.builds(lambda kg, use: {"kg": kg, "what": "larvae", **use}, KG, LARVAE)
    residue = st.builds(lambda kg: {"kg": kg, "what": "residue", "moisture": 0.5}, KG)
    prepupae = st.builds(lambda count: {"animals": count, "what": "prepupae"}, st.integers(1, 50))
    return st.one_of(larvae, residue, prepupae)


BODIES: dict[tuple[SubjectKind, str, str], st.SearchStrategy[dict[str, Any]]] = {
    (PLACE, "cage-1", "collect"): _eggs(),
    (PLACE, "cage-2", "collect"): _eggs(),
    (PLACE, "cage-1", "dead"): st.builds(lambda n: {"animals": n}, st.integers(1, 500)),
    (COHORT, "e0", "saw"): st.builds(lambda n: {"event": "hatch", "percent": n}, PERCENT),
    (COHORT, "flies-1", "flies"): st.builds(lambda n: {"flies": n}, st.integers(1, 500)),
    (COHORT, "flies-1", "eggs"): st.builds(lambda grams: {"grams": grams}, GRAMS),
    (BIN, "bin-1", "feed"): st.builds(lambda kg: {"kg": kg, "moisture": 0.6}, KG),
    (BIN, "bin-1", "take"): _taken(),
    (PLACE, "bin-1", "note"): st.builds(lambda n: {"note": f"note {n}"}, PERCENT),
}


@st.composite
def _deeds(draw: st.DrawFn) -> Deed:
    about, subject, kind = draw(st.sampled_from(list(BODIES)))
    body = BODIES[about, subject, kind]
    return Deed(about, subject, kind, draw(body), draw(body), draw(st.integers(0, 3)) == 0)


def _begun() -> YieldBook:
    log = YieldBook()
    log.write(COHORT, "flies-1", "start", 0, stage="adult", place="cage-1", animals=4000)
    log.write(COHORT, "e0", "start", 0, stage="egg", place="tray-1", grams=10.0)
    log.write(BIN, "bin-1", "fill", 0, **FILL, larvae=10_000, age_days=6)
    return log


def _sums(log: YieldBook) -> Takings:
    """What was taken; the names of cohorts of eggs may follow the tray that was said first."""
    takings = without_numbers(log.takings())
    return replace(takings, eggs=tuple(replace(each, into=None, cohort=None) for each in takings.eggs))


@settings(max_examples=60, deadline=None)
@given(st.lists(_deeds(), max_size=8), st.randoms(use_true_random=False))
def test_what_was_put_right_or_taken_back_counts_as_if_it_had_been_right_at_first(
    deeds: list[Deed], random: Any
) -> None:
    wrong, right = _begun(), _begun()
    written: list[tuple[int, Deed]] = []
    for hours, deed in enumerate(deeds, 50):
        written.append((wrong.write(deed.about, deed.subject, deed.kind, hours * 2.0, **deed.wrong), deed))
        if not deed.never:
            right.write(deed.about, deed.subject, deed.kind, hours * 2.0, **deed.right)
    random.shuffle(written)
    for number, deed in written:
        if deed.never:
            wrong.undo(number)
        elif deed.right != deed.wrong:
            wrong.correct(number, **(dict.fromkeys(deed.wrong) | deed.right))
    assert wrong.book().refused == right.book().refused == ()
    assert _sums(wrong) == _sums(right)


def test_taking_everything_back_leaves_nothing() -> None:
    log = YieldBook()
    numbers = [log.eggs(48, 12.0, tray="tray-1"), log.eggs(50, 3.0, use="sold"), log.eggs(51, 4.0)]
    assert any(getattr(log.takings(), each.name) for each in fields(Takings))
    for number in numbers:
        log.undo(number)
    assert list(log.takings().all()) == [] and log.book().cohorts == {}
