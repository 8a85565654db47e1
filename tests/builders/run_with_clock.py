"""`rearing-monitor` on a computer whose clock is wrong by a stated number of seconds.

    python run_with_clock.py SECONDS run --config farm.toml

Everything else is the real command. Where the clock is right the trials start `python -m monitor` itself.
"""

from __future__ import annotations

import sys
import time


def shift_clock(by_s: float) -> None:
    """Every part of the program asks the time module, so it is moved there, before anything is imported."""
    real, real_ns = time.time, time.time_ns
    time.time = lambda: real() + by_s
    time.time_ns = lambda: real_ns() + round(by_s * 1e9)


if __name__ == "__main__":
    shift_clock(float(sys.argv[1]))
    from monitor.cli.app import run

    sys.exit(run(sys.argv[2:]))
