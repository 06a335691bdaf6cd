"""The book against published values: one row of ``data/handbook/SUBJECT.csv`` a test, its source in the failure.

Columns: ``ask`` is the call; ``gives`` the field of its result (``2.resistance`` is the second of several rows, the
field of the only value is its name on the page), or ``refused`` with part of the message as the value; ``tolerance``
is relative, 5e-4 where empty. ``status`` says how well the source is known: ``confirmed`` in the named source,
``second-hand``, ``derived`` from the formula.
"""

from __future__ import annotations

import ast
import csv
import dataclasses
from pathlib import Path
from types import UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

import pytest

from knowngood.errors import RangeError
from knowngood.handbook import book

DATA = Path(__file__).parent / "data" / "handbook"
USUAL = 5e-4


def rows() -> list[Any]:
    found = []
    for file in sorted(DATA.glob("*.csv")):
        with file.open(encoding="utf-8", newline="") as text:
            found += [pytest.param(file.stem, row, id=f"{file.stem}-{row['id']}") for row in csv.DictReader(text)]
    return found


@pytest.mark.parametrize(("subject", "row"), rows())
def test_a_published_value_comes_out(subject: str, row: dict[str, str]) -> None:
    call = ast.parse(row["ask"], mode="eval").body
    assert isinstance(call, ast.Call)
    assert isinstance(call.func, ast.Name)
    one = book.formulas()[call.func.id.replace("_", "-")]
    assert one.subject == subject
    arguments = {word.arg: ast.literal_eval(word.value) for word in call.keywords}
    where = f"{row['ask']}, {row['source']} ({row['status']})"
    assert row["status"] in ("confirmed", "second-hand", "derived"), where
    if row["gives"] == "refused":
        with pytest.raises(RangeError) as raised:
            one(**arguments)
        assert row["value"] in str(raised.value), where
        assert str(raised.value).startswith(f"{one.name}: "), where
        return
    result = one(**arguments)
    assert is_of(result, get_type_hints(one.function)["return"]), where
    found = field(result, row["gives"], list(one.page.gives))
    if isinstance(found, str):
        assert found == row["value"], where
    elif isinstance(found, bool):
        assert found == (row["value"] == "yes"), where
    else:
        assert found == pytest.approx(float(row["value"]), rel=float(row["tolerance"] or USUAL), abs=1e-300), where


def is_of(value: Any, declared: Any) -> bool:
    """Whether a result is what its formula declares, field by field."""
    origin, inner = get_origin(declared), get_args(declared)
    if origin in (UnionType, Union):
        return any(is_of(value, one) for one in inner)
    if origin is tuple:
        return isinstance(value, tuple) and all(is_of(one, inner[0]) for one in value)
    if dataclasses.is_dataclass(value):
        return type(value) is declared and all(
            is_of(getattr(value, name), of_it) for name, of_it in get_type_hints(declared).items()
        )
    return isinstance(value, (int, float) if declared is float else declared)


def field(result: Any, gives: str, named: list[str]) -> Any:
    number, _, name = gives.rpartition(".")
    if number:
        result = result[int(number) - 1]
    assert name in named
    return getattr(result, name) if dataclasses.is_dataclass(result) else result
