"""The time-series store beside the farm's own database: what is written there, and how it is read back."""
