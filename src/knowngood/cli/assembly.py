"""The commands ``knowngood way``, ``knowngood reassembly`` and ``knowngood before-power``."""

from __future__ import annotations

from typing import Annotated

import typer

from knowngood.cli.frame import Home, Json, UnitName, answer, failing_plainly, opened


def way(
    unit: UnitName,
    targets: Annotated[list[str], typer.Argument(metavar="TARGET...", help="Access steps, parts or tests.")],
    most: Annotated[int, typer.Option("--most", min=0, help="Looks and tests shown.")] = 8,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Shows the cheapest way in to steps, parts or tests: what comes out, what to mark, and what to look at on the way.

    What is glued, sealed or opens one way only is opened only where nothing else leads in.

    Example: knowngood way U1 green-flex-socket lens-out
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import questions
        from knowngood.cli import assembly_show

        found, currency = questions.way_of(store, unit, targets)
        answer(assembly_show.way(store.unit_id(unit), found, currency), as_json, assembly_show.show_way, most)


def reassembly(unit: UnitName, home: Home = None, as_json: Json = False) -> None:
    """Prints the sheet for the way back: all that the log left open, unplugged, out or uncounted, in order.

    Each line of the sheet shows the line of the log that ticks it, behind '>'. Fasteners are counted by the log
    (unscrewed STEP COUNT x SORT), by the map where no line counted them.

    Example: knowngood reassembly U1
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import questions
        from knowngood.cli import assembly_show

        sheet = questions.reassembly_of(store, unit)
        answer(assembly_show.reassembly(store.unit_id(unit), sheet), as_json, assembly_show.show_reassembly)


def before_power(unit: UnitName, home: Home = None, as_json: Json = False) -> None:
    """Lists what is worth checking before power, cut to what was touched, the dearest to have wrong first.

    Each line shows the line of the log that ticks it, behind '>'. Once logged it is evidence, and gone from the list.

    Example: knowngood before-power U1
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import questions
        from knowngood.cli import assembly_show

        found, currency = questions.before_power_of(store, unit)
        answer(
            assembly_show.before_power(store.unit_id(unit), found, currency), as_json, assembly_show.show_before_power
        )
