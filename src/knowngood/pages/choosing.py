"""What a line that was not understood may have meant: a few whole lines to choose from, never one picked silently."""

from __future__ import annotations

from contextlib import suppress

from knowngood.bench.store import Store
from knowngood.bench.work import replayed
from knowngood.errors import LineError
from knowngood.log import events as ev
from knowngood.log.lines import understand

MOST = 4


def meant(store: Store, unit: str, text: str, error: LineError) -> tuple[str, ...]:
    """Canonical lines that the error's names make of the text, each of which can be logged now; none if none fits.

    A name takes the place of any run of words that it can stand for; a whole line stands for the text.
    """
    device, told = replayed(store, unit)
    words = text.split()
    found: list[str] = []
    for name in error.similar:
        tries = [name] if " " in name else []
        tries += [
            " ".join([*words[:start], name, *words[end:]])
            for end in range(len(words), 0, -1)
            for start in range(end)
            if end - start <= 3
        ]
        for one in tries:
            with suppress(LineError):
                line = ev.render(understand(device, told.state, one))
                if line not in found and name in line:
                    found.append(line)
                    break
    return tuple(found[:MOST])
