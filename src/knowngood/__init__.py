"""A bench tool that turns a broken unit into a known-good one at the least cost, and shows its reasons."""

__version__ = "0.1.0"
