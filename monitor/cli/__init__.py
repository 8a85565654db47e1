"""The command line. `main` is the only way in."""

from monitor.cli.app import main, run

__all__ = ["main", "run"]
