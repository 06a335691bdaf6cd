"""Commands for device maps: check one, list them, learn from known-good readings."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from knowngood.cli.frame import BAD_INPUT, Home, Json, answer, failing_plainly, opened, words


def map_check(file: Annotated[Path, typer.Argument(metavar="FILE", help="A map file.")], as_json: Json = False) -> None:
    """Finds every mistake of a map: where, what is wrong, what would be right.

    Example: knowngood map check my-radio.yaml
    """
    with failing_plainly(as_json):
        from knowngood.cli import answers, show
        from knowngood.maps import findings_in

        checked = answers.checked(file, findings_in(file))
        answer(checked, as_json, show.findings)
        if not checked.right:
            raise SystemExit(BAD_INPUT)


def map_list(as_json: Json = False) -> None:
    """Lists the maps that come along.

    Example: knowngood map list
    """
    with failing_plainly(as_json):
        from knowngood.cli import shapes
        from knowngood.maps import load
        from knowngood.maps.kinds import shipped_maps

        devices = [load(name) for name in shipped_maps()]
        rows = [
            shapes.MapRow(map=one.id, what=one.what, parts=len(one.parts), functions=len(one.functions))
            for one in devices
        ]
        text = "\n".join(f"{row.map:<22} {row.parts:>3} parts  {row.what}" for row in rows)
        answer(shapes.MapList(maps=rows), as_json, words, text)


def readings(
    map_: Annotated[str, typer.Argument(metavar="MAP", help="A map's name, or its file.")],
    into: Annotated[
        Path | None, typer.Option("--into", metavar="FILE", help="Accept: write the learned map here, or over itself.")
    ] = None,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Shows what known-good units of a map read beside what it expects, and the map as it would be after learning.

    A reading counts if it was made after the last repair of a unit that then passed, with everything plugged in.

    Example: knowngood readings some-mains-device --into my-device.yaml
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import learning
        from knowngood.cli import answers, show
        from knowngood.maps import load

        device = load(map_)
        found = learning.rows(store, device)
        text, changed, file = learning.relearned(map_, found)
        if into is not None:
            learning.write(changed, into)
        shape = answers.learned(device, found, learning.difference(text, changed, file), into)
        answer(shape, as_json, show.learned)
