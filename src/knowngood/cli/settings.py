"""The bench's own settings: its rates, tools and meter."""

from __future__ import annotations

from typing import Annotated

import typer

from knowngood.cli.frame import Home, Json, answer, failing_plainly, opened, words


def bench_set(
    key: Annotated[str, typer.Argument(help="A setting, as rate-floor.")],
    value: Annotated[str, typer.Argument(help='Its value, as "EUR 12".')],
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Changes a setting; the bench's log remembers the old one.

    Example: knowngood bench set rate-floor "EUR 15"
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import work

        work.bench_set(store, key, value)
    bench_show(home, as_json)


def bench_show(home: Home = None, as_json: Json = False) -> None:
    """Shows the settings that hold.

    Example: knowngood bench show
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import work
        from knowngood.bench.settings import SETTINGS, shown
        from knowngood.cli import shapes

        settings = work.bench_settings(store)
        values = {key: shown(settings, key) for key in SETTINGS}
        text = "\n".join(f"{key:<15} {value}\n{'':<15}   {SETTINGS[key].says}" for key, value in values.items())
        answer(shapes.BenchAnswer(log_seq=store.bench_seq(), settings=values), as_json, words, text)
