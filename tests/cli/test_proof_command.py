"""``knowngood proof`` as a person calls it: what is still to pass leads to PROVED, and what is in the way is said."""

from __future__ import annotations

import json
from typing import Any

import pytest
from running import Run


@pytest.fixture
def unit(run: Run) -> Run:
    """The same, with a hand-held device booked in as U1."""
    assert run("unit", "new", "--map", "some-battery-device", "--paid", "EUR 9").exit_code == 0
    return run


def proof(run: Run) -> dict[str, Any]:
    done = run("proof", "U1", "--json")
    assert done.exit_code == 0, done.output
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def test_following_what_is_still_to_pass_leads_to_proved(unit: Run) -> None:
    unit("log", "U1", "tried starts fails", "opened back-off", "mended pack-plug reseat", "declared sound")
    before = proof(unit)
    assert (before["proved"], before["open"]) == (False, ["back-off"])
    assert before["wait"] == 480.0
    assert [one["from_cold"] for one in before["tests"]].count(True) == 1
    assert any("pack-plug touched" in shown for one in before["tests"] for shown in one["shows"])
    assert before["tests"][-1]["after"] == before["known_good_after"] < 1.0
    lines = ["closed all", "waited 8 h", *(one["log"] for one in before["tests"])]
    assert unit("log", "U1", *lines).exit_code == 0
    after = proof(unit)
    assert after["proved"]
    assert after["tests"] == []
    assert after["known_good"] == pytest.approx(before["known_good_after"])
    assert [one["function"] for one in after["listing"]["not_working"]] == ["sound"]
    assert "sound" not in [one["function"] for one in after["listing"]["works"]]
    assert after["listing"]["not_shown"] == []
    told = unit("proof", "U1").output
    assert "\nPROVED: known good" in told
    assert "Declared as not working: sound" in told
    unit("log", "U1", "opened back-off")
    assert not proof(unit)["proved"]


def test_what_is_in_the_way_is_said(unit: Run) -> None:
    told = unit("proof", "U1").output
    assert "NOT PROVED" in told
    assert "Still to pass" in told
    unit("log", "U1", "tried picture fails")
    hidden = unit("proof", "U1").output
    assert "Does not work: picture. Mend it, or declare it." in hidden
    assert "Masked: picture-lit, by picture. Mend that, or declare both." in hidden
    unit("log", "U1", "past wet")
    held = " ".join(unit("proof", "U1").output.split())
    assert (
        "Power on a wet board turns a small fault into a lost board. First: Unplug the pack before anything else"
        in held
    )


def test_the_warranty_is_the_bench_s_own(unit: Run) -> None:
    assert proof(unit)["returns"]["days"] == 90
    assert unit("bench", "set", "warranty", "180").exit_code == 0
    assert unit("bench", "set", "carriage", "EUR 20").exit_code == 0
    back = proof(unit)["returns"]
    assert back["days"] == 180
    assert back["reserve"] == pytest.approx(back["chance"] * back["per_return"])
    refused = unit("bench", "set", "warranty", "for ever")
    assert refused.exit_code == 2
    assert "warranty: 'for ever' is not a whole number from 0 to 3650." in refused.stderr
