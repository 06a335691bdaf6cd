"""Intake, photos and a return as a person calls them."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest
from PIL import Image
from running import Run
from typer.testing import Result

from knowngood.bench.store import utc_now


@pytest.fixture
def unit(run: Run) -> Run:
    """The same, with a projector booked in as U1."""
    assert run("unit", "new", "--map", "ceiling-projector", "--paid", "EUR 45").exit_code == 0
    return run


def words(result: Result) -> str:
    assert result.exit_code == 0, result.output
    return " ".join(result.output.split())


def test_intake_shows_what_it_has_and_what_is_lacking(unit: Run) -> None:
    unit("log", "U1", "tried lamp-lights fails", "weighed 3.93 kg", "recorded serial KX100-4711", "noted rattles")
    said = words(unit("intake", "U1"))
    assert said.startswith("U1 as received; no act on it yet")
    assert "fails lamp-lights line 2" in said
    assert "serial KX100-4711" in said
    assert "170 g less than its map says: about what 'lamp-module' (170 g) weighs" in said
    assert "noted rattles" in said
    assert "Still lacking, the most urgent first: the last day to dispute the purchase" in said
    assert "whether it is locked to an account > checked account-lock none|locked" in said
    unit("log", "U1", "opened lamp-out")
    said = words(unit("intake", "U1"))
    assert "intake ended with line 6" in said
    assert "Still lacking" not in said


def test_a_quarantine_stands_where_it_is_looked_for(unit: Run) -> None:
    unit("log", "U1", "quarantine -- insects")
    assert "IN QUARANTINE for 0 days (line 2): insects it ends with: cleared unit" in words(unit("intake", "U1"))
    assert "quarantine insects" in words(unit("show", "U1"))
    assert "NEXT Keep it apart until the reason is gone." in words(unit("next", "U1"))


def test_a_near_day_to_dispute_by_is_mentioned(unit: Run) -> None:
    near = (date.fromisoformat(utc_now()[:10]) + timedelta(days=3)).isoformat()
    for question in (("unit", "list"), ("show", "U1"), ("next", "U1")):
        assert "can be disputed" not in words(unit(*question))
    unit("log", "U1", f"disputable until {near}")
    for question in (("unit", "list"), ("show", "U1"), ("next", "U1"), ("intake", "U1")):
        assert f"It can be disputed until {near}: " in words(unit(*question))


def test_a_photo_is_before_the_work_or_after_it(unit: Run, tmp_path: Path) -> None:
    file = tmp_path / "a.jpg"
    Image.new("RGB", (8, 8)).save(file)
    assert "U1 2 photographed lamp-door as 0002-" in words(
        unit("photo", "U1", str(file), "--of", "lamp door", "--after")
    )
    refused = unit("photo", "U1", str(file), "--of", "unit", "--after", "--before")
    assert refused.exit_code == 2
    assert "A photo shows how it was before the work, or after it." in refused.stderr


def test_a_return_is_told_where_it_matters(unit: Run) -> None:
    unit("log", "U1", "wiped unit by clear", "recorded serial K1", "sold as-is for EUR 60")
    said = words(unit("log", "U1", "returned -- no picture"))
    assert "! U1 is an unknown unit again: it begins at intake" in said
    assert "! Is it the same unit, with the same boards? Serials when it was sold: K1 (unit)." in said
    unit("log", "U1", "recorded serial K2", "refunded EUR 60", "caused by transport")
    said = words(unit("intake", "U1"))
    assert "U1 as received, back from its buyer (line 5: no picture)" in said
    assert "! Serial of 'unit' is K2, and was K1 when it was sold" in said
    assert "came back no picture (cause: transport)" in words(unit("show", "U1"))
    assert "came back: transport" in words(unit("ledger"))
    assert "1 of 1" in words(unit("ledger", "--by", "cause"))
