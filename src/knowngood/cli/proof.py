"""The command ``knowngood proof``."""

from __future__ import annotations

from typing import Annotated

import typer

from knowngood.cli.frame import Home, Json, UnitName, answer, failing_plainly, opened


def proof(
    unit: UnitName,
    most: Annotated[int, typer.Option("--most", min=0, help="Further tests shown; 0 for all.")] = 3,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Says whether a unit is proved, and which tests of least time are still to pass, with what each adds.

    They show every promised function, closed, warm and from cold, and everything touched. Then: what comes back in
    the warranty, and what ten more minutes of testing would buy.

    Example: knowngood proof U1
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import proving
        from knowngood.cli import proof_show

        found = proving.proof_of(store, unit)
        answer(proof_show.proof(store.unit_id(unit), found), as_json, proof_show.show, most)
