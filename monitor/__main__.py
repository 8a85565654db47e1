"""Entry point: `rearing-monitor ...` or `python -m monitor ...`."""

import gc

# Nothing that the imports make is garbage; looking for it takes a tenth of the time of a short command.
# `cli.app` switches the collector on again when the command is loaded.
gc.disable()

from monitor.cli import main  # noqa: E402

if __name__ == "__main__":
    main()
