"""A board that kept its packs for longer than seven days: its clock is right, so they are."""

from __future__ import annotations

from pathlib import Path

from service_farm import T0, farm, pack, watch_of

from monitor.records import IncomingMessage, NodeMessage, TimeSource
from monitor.service.ingest import KEPT_DAYS, RIGHT_FOR_MS, MessageDecoder, topics_of
from monitor.store import Store

DAY = 86_400_000


def test_what_a_board_kept_for_weeks_has_its_own_time_once_its_clock_was_right(tmp_path: Path) -> None:
    settings = farm(tmp_path)
    with Store.open(settings.store.path) as store:
        decoder = MessageDecoder.of(store, watch_of(settings), topics_of(settings), ())

        def take(at_ms: int, sequence: int, received_ms: int = T0, node: str = "node-1") -> NodeMessage:
            payload = pack(at_ms, 30.0, sequence)
            taken = decoder.take(IncomingMessage(f"rearing/yard/{node}/readings", payload, received_ms))
            assert isinstance(taken, NodeMessage)
            return taken

        old_ms = T0 - 20 * DAY
        alone = take(old_ms, 1)
        assert alone.time_source is TimeSource.RECEIVED and "behind" in str(alone.clock_fault)
        assert take(T0 - 500, 9).time_source is TimeSource.NODE
        kept = take(old_ms, 2, T0 + RIGHT_FOR_MS)
        assert (kept.time_source, kept.clock_fault) == (TimeSource.NODE, None)
        assert kept.readings[0].at_ms == old_ms
        assert take(old_ms, 3, T0 + RIGHT_FOR_MS * 2 + 1, "node-2").clock_fault
        # Neither a clock that starts in 1970, nor one that is ahead, nor another board's.
        for wrong_ms in (300_000_000_000, T0 + DAY, T0 - (KEPT_DAYS + 1) * DAY):
            assert take(wrong_ms, 4).time_source is TimeSource.RECEIVED
        late = T0 + RIGHT_FOR_MS * 3
        assert take(old_ms, 5, late).time_source is TimeSource.RECEIVED, "that was too long ago"
