"""Entry point."""
