"""Progress bars for long work: on stderr, and only where a person looks at a terminal."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeRemainingColumn

from monitor.views.cli.output import console

Report = Callable[[int, int], None]


@contextmanager
def progress_bar(title: str) -> Iterator[Report]:
    """Gives `report(done, total)`; the bar goes away when the work is done."""
    target = console(stderr=True)
    columns = (TextColumn("{task.description}"), BarColumn(), TaskProgressColumn(), TimeRemainingColumn())
    with Progress(*columns, console=target, transient=True, disable=not target.is_terminal) as bar:
        task = bar.add_task(title, total=None)

        def report(done: int, total: int) -> None:
            bar.update(task, completed=done, total=total)

        yield report
