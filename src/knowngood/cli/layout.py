"""What every answer in words is laid out with: the terminal, a grid, a text that stands or hangs further in."""

from __future__ import annotations

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text


def console() -> Console:
    """The terminal, or 80 columns where there is none."""
    out = Console(highlight=False)
    return out if out.is_terminal else Console(width=80, highlight=False, color_system=None)


def grid(*columns: tuple[str, str]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    for name, justify in columns:
        table.add_column(name, justify=justify, overflow="fold")  # type: ignore[arg-type]
    return table


def under(indent: int, text: str, style: str = "") -> Padding:
    """A text that stands so many columns in, on every line that it takes."""
    return Padding(Text(text, style=style), (0, 0, 0, indent))


def hanging(lead: str, text: str) -> Table:
    """A text that goes on below its own start and not below its lead."""
    row = Table.grid()
    row.add_column(width=len(lead), no_wrap=True)
    row.add_column(overflow="fold")
    row.add_row(Text(lead), Text(text))
    return row
