"""``safety-test`` as it is printed."""

from __future__ import annotations

from running import Run


def test_what_comes_before_all_of_it_is_said_once_and_each_steps_own_caution_at_the_step(run: Run) -> None:
    for words in (
        ("unit", "new", "--map", "ceiling-projector", "--paid", "EUR 45"),
        ("log", "U1", "stated cord none", "stated metal earthed"),
    ):
        assert run(*words).exit_code == 0
    told = " ".join(run("safety-test", "U1").output.split())
    assert told.count("licensed practice come") == 1
    assert told.index("licensed practice come") < told.index("1. visual")
    steps = ("protective-earth", "insulation", "protective-current")
    earth, insulation, current = (told.index(f". {step}:") for step in steps)
    assert "! In many places this test is reserved to qualified persons." in told[earth:insulation]
    assert "! The test puts 500 V d.c. on the unit:" in told[insulation:current]
