"""A board that is enrolled, in words: what was done, its card, how far it has come, what is missing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from monitor.boards.enrolment import BoardEntry, Change, Done, EnrolmentPlan
from monitor.boards.first_word import FirstWord, Step
from monitor.boards.program import CopiedProgram
from monitor.errors import said_of
from monitor.farm.records import NodeRow
from monitor.settings.plan import Plan
from monitor.words import boards
from monitor.words.localizer import Localizer

_WITH_REASON = frozenset({Step.REFUSED, Step.WRONG_CARD, Step.NO_TRUST})


def done_lines(done: Done, plan: Plan, words: Localizer) -> Iterator[str]:
    """What was written, for a person who has just asked for it."""
    change, node = done.plan.change, done.plan.node
    if change is Change.REMOVE:
        yield words.t("board.removed", node=node)
        yield from unguarded_lines(done.plan, plan, words)
        return
    yield words.t(f"board.done_{change.value}", node=node, place=_places(plan, node))
    yield from unguarded_lines(done.plan, plan, words)
    if done.plan.card_file is not None:
        yield words.t("board.card_file", file=str(done.plan.card_file))
    if done.proven:
        yield words.t("board.proven", node=node)


def unguarded_lines(written: EnrolmentPlan, plan: Plan, words: Localizer) -> Iterator[str]:
    """The places that the change leaves without a board, or without what they are guarded by."""
    for place in written.unguarded:
        yield words.t("board.unguards", place=plan.title(place))
    for place, quantity in written.unmeasured:
        yield words.t("board.unmeasured", place=plan.title(place), quantity=words.quantity_name(quantity))


def _places(plan: Plan, node: str) -> str:
    known = plan.nodes.get(node)
    places = dict.fromkeys([known.place, *known.probes.values()] if known else [])
    return ", ".join(plan.title(place) for place in places if place)


def step_line(first: FirstWord, words: Localizer) -> str:
    """How far the board has come, and what to look at."""
    if first.step in _WITH_REASON:
        return words.t(
            f"board.step_{first.step.value}", node=first.node, why=words.sentence(said_of(first.reason))
        )
    return words.t(f"board.step_{first.step.value}", node=first.node)


def heard_lines(first: FirstWord, plan: Plan, words: Localizer) -> Iterator[str]:
    """Its first values, each with its place, and where they differ from what the settings expect."""
    for key, reading in first.values:
        home = plan.home_of(key)
        yield words.t(
            "board.value",
            what=f"{key.probe} {words.quantity_name(key.quantity)}".strip(),
            value=words.value(key.quantity, reading.calibrated),
            place=plan.title(home) if home else words.t("nodes.no_place"),
        )
    if first.missing:
        yield words.t("board.not_heard", names=", ".join(first.missing))
    if first.strange:
        yield words.t("board.not_expected", names=", ".join(first.strange))


def copied_lines(copied: CopiedProgram, words: Localizer) -> Iterator[str]:
    """What was copied, file by file, and how it goes onto a board."""
    key = "board.files_compiled" if copied.precompiled else "board.files_plain"
    yield words.n(key, len(copied.files), folder=str(copied.folder), size=str(copied.size_bytes))
    for name, size in copied.files:
        yield f"  {size:>6}  {name}"
    yield words.t("board.files_next", command=f"mpremote cp {copied.folder}/* :")
    if copied.precompiled:
        old = " ".join(
            f":{name.removesuffix('.mpy')}.py" for name, _ in copied.files if name.endswith(".mpy")
        )
        yield words.t("board.files_older", command=f"mpremote rm {old}")


def list_lines(
    entries: Iterable[BoardEntry], heard: Mapping[str, NodeRow], plan: Plan, words: Localizer
) -> Iterator[str]:
    """A line for each board that is there, and one for all that are planned: in the settings, no more."""
    planned = []
    for entry in entries:
        row = heard.get(entry.name)
        if entry.has_card or entry.has_user or (row is not None and row.heard):
            yield entry_line(entry, row, plan, words)
        else:
            place = _places(plan, entry.name)
            planned.append(f"{entry.name} ({place})" if place else entry.name)
    if planned:
        yield words.n("board.planned", len(planned), boards=words.listing(planned))
        yield words.t("board.planned_do")


def entry_line(entry: BoardEntry, row: NodeRow | None, plan: Plan, words: Localizer) -> str:
    """One board of the list: its place, when it was heard, what it lacks to be let in."""
    parts = [_places(plan, entry.name) or words.t("nodes.no_place")]
    parts.append(words.t("nodes.never") if row is None else boards.heard(row, words))
    if not entry.has_card:
        parts.append(words.t("board.without_card"))
    if entry.has_user is False:
        parts.append(words.t("board.without_user"))
    return f"{words.t('nodes.head', node=entry.name)} {words.clauses(parts)}"
