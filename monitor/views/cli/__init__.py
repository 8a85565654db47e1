"""The command line. `main` is the only way in."""

from monitor.views.cli.app import main, run

__all__ = ["main", "run"]
