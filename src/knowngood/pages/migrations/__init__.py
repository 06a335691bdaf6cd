"""The tables of the pages."""
