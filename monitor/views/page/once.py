"""A form that is sent twice does its work once."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable

MOST_REMEMBERED = 500


class Once:
    """One form, one entry: a second tap on the same button finds what the first one wrote."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._done: OrderedDict[str, str] = OrderedDict()

    def do(self, mark: str, work: Callable[[], str]) -> str:
        """Do the work unless the form with this mark has done it; gives where to go. One at a time."""
        with self._lock:
            if mark and mark in self._done:
                return self._done[mark]
            found = work()
            if mark:
                self._done[mark] = found
                while len(self._done) > MOST_REMEMBERED:
                    self._done.popitem(last=False)
            return found
