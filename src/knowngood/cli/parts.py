"""The command ``knowngood parts``."""

from __future__ import annotations

from typing import Annotated

import typer

from knowngood.cli.frame import Home, Json, UnitName, answer, failing_plainly, opened


def parts(
    unit: UnitName,
    most: Annotated[int, typer.Option("--most", min=0, help="Parts shown; 0 for all.")] = 4,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Says what to do with each part, and what is best for the whole unit: keep, mend, take, buy, do without.

    Worth is that of the unit with all else as in the best choice; worse is the chance to make it worse by itself.

    Example: knowngood parts U1
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import questions
        from knowngood.cli import parts_show

        found, currency, seq = questions.choices_of(store, unit)
        shape = parts_show.parts(store.unit_id(unit), store.device(unit).id, found, currency, seq)
        answer(shape, as_json, parts_show.show, most or len(found.parts))
