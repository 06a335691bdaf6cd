"""The command line as the tests call it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from typer.testing import CliRunner, Result

from knowngood.cli.main import app

Run = Callable[..., Result]


def on(home: Path, **env: str) -> Run:
    """Runs a command on a store; ``typed`` is what the person types then."""

    def call(*words: str, typed: str | None = None) -> Result:
        return CliRunner().invoke(app, list(words), input=typed, env={"KNOWNGOOD_HOME": str(home), **env})

    return call
