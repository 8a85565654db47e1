"""SQLite store: readings and hours, nodes, alarm journal, outbox, commands, logbook, archive queue."""

from monitor.store.archive_queue import ArchiveStatus, ParkedReading
from monitor.store.connection import Database
from monitor.store.readings import Excursion, Extremes, Series, excursions, extremes, gaps
from monitor.store.store import Store

__all__ = [
    "ArchiveStatus",
    "Database",
    "Excursion",
    "Extremes",
    "ParkedReading",
    "Series",
    "Store",
    "excursions",
    "extremes",
    "gaps",
]
