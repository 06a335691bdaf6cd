"""What all commands share: options, errors and exit codes, JSON or words.

Exit codes: 0 fine, 1 our bug, 2 bad input.
"""

from __future__ import annotations

import json
import sys
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from knowngood.errors import KnowngoodError, NotFoundError

if TYPE_CHECKING:
    from rich.console import Console

    from knowngood.bench.store import Store
    from knowngood.cli.shapes import Shape

Home = Annotated[
    Path | None,
    typer.Option("--home", envvar="KNOWNGOOD_HOME", help="Folder the store lives in.", show_default=False),
]
Json = Annotated[bool, typer.Option("--json", help="Answer in JSON (see docs/json.md).")]
UnitName = Annotated[str, typer.Argument(metavar="UNIT", help="A unit, as U1.")]

FINE, BUG, BAD_INPUT = 0, 1, 2


@contextmanager
def opened(home: Path | None) -> Iterator[Store]:
    """The store of a home."""
    from knowngood.bench.store import Store

    with Store(home) as store:
        yield store


def answer(shape: Shape, as_json: bool, show: Callable[..., None], *more: Any) -> None:
    """Prints an answer: the shape as JSON, or in words by ``show``."""
    if as_json:
        print(shape.model_dump_json(indent=2))
    else:
        from knowngood.cli.layout import console

        show(console(), shape, *more)


@contextmanager
def failing_plainly(as_json: bool) -> Iterator[None]:
    """Turns errors into a sentence (or the JSON error shape) and an exit code; nothing else prints a traceback."""
    try:
        yield
    except KnowngoodError as error:
        _tell(as_json, "input", error)
        raise SystemExit(BAD_INPUT) from None
    except (KeyboardInterrupt, BrokenPipeError, typer.Exit, typer.Abort, SystemExit):
        raise
    except Exception as error:
        if as_json:
            print(json.dumps({"error": {"kind": "bug", "message": f"{type(error).__name__}: {error}"}}, indent=2))
        traceback.print_exc(file=sys.stderr)
        print(
            f"This is a mistake of knowngood, not yours. Please report it with the text above: {error}", file=sys.stderr
        )
        raise SystemExit(BUG) from None


def _tell(as_json: bool, kind: str, error: KnowngoodError) -> None:
    if as_json:
        problem: dict[str, object] = {"kind": kind, "message": str(error)}
        for name in ("similar", "findings", "lines", "recheck"):
            if found := getattr(error, name, None):
                problem[name] = found
        print(json.dumps({"error": problem}, indent=2))
    else:
        print(error, file=sys.stderr)


def listed(texts: list[str] | None) -> list[str]:
    """The words of an option that is given several times, or once with several between spaces or commas."""
    return [word for text in texts or [] for word in text.replace(",", " ").split()]


def text_of(file: Path, encoding: str = "utf-8") -> str:
    """What a file that a person named holds. Raises NotFoundError if it cannot be read as text."""
    try:
        return file.read_text(encoding=encoding)
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "it is not UTF-8 text"
        raise NotFoundError(f"The file {file} cannot be read: {reason}.") from None


def words(out: Console, _: Shape, text: str) -> None:
    """Shows one line of text in place of an answer."""
    from rich.text import Text

    out.print(Text(text))
