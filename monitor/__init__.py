"""Climate monitor with alerts for insect rearing rooms."""

__version__ = "0.1.0"
