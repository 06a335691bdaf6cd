"""Where exact tables do not fit, the commands answer by the likeliest cases and say how far off that may be."""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import partial
from typing import Any

import pytest
from running import Run
from typer.testing import Result

from knowngood.belief import wiring
from knowngood.belief.bounded import PartialNetwork
from knowngood.cli.partly import share
from knowngood.errors import TooLargeError

LOG = (
    "tried standby-light works",
    "tried starts fails",
    "opened cover-off",
    "read main-rail 0.9 V",
    "unplugged fan-plug",
    "read main-rail 12.1 V",
    "plugged fan-plug",
    "closed all",
)


@pytest.fixture
def run(run: Run) -> Run:
    """The same, with a mains device booked in as U1 and measured."""
    done(run("unit", "new", "--map", "some-mains-device", "--paid", "EUR 5"))
    done(run("log", "U1", *LOG))
    return run


def done(result: Result) -> str:
    assert result.exit_code == 0, result.output
    return result.stdout


def does_not_fit(*_: object, **__: object) -> None:
    raise TooLargeError("exact inference needs a table of 12345 entries", 12345)


@pytest.fixture
def in_part(monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    def in_part() -> None:
        monkeypatch.setattr(wiring, "network", does_not_fit)
        monkeypatch.setattr(wiring, "PartialNetwork", partial(PartialNetwork, pieces=(2**12, 2**8, 2**4), enough=0.02))

    return in_part


def asked(run: Run, *words: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(done(run(*words, "--json")))
    return found


def test_what_does_not_fit_is_answered_in_part_within_what_is_missed(run: Run, in_part: Callable[[], None]) -> None:
    exact, told = asked(run, "belief", "U1"), asked(run, "tells", "U1", "--most", "0")
    proved = asked(run, "proof", "U1")
    assert exact["partly"] is told["partly"] is proved["partly"] is None
    in_part()
    found = asked(run, "belief", "U1")
    missed = found["partly"]["missed"]
    assert 0.0 < missed <= 0.02
    assert found["partly"]["table"] == 12345
    assert found["partly"]["cases"] == found["cases"] > 1
    assert abs(found["known_good"] - exact["known_good"]) <= missed
    chances = {one["part"]: one for one in exact["parts"]}
    off = [abs(one[key] - chances[one["part"]][key]) for one in found["parts"] for key in ("p_bad", "p_blocks")]
    assert 1e-9 < max(off) <= missed
    outcomes = {(one["id"], each["outcome"]): each for one in told["questions"] for each in one["outcomes"]}
    for one in asked(run, "tells", "U1", "--most", "0")["questions"]:
        for each in one["outcomes"]:
            true = outcomes[one["id"], each["outcome"]]
            assert abs(each["probability"] - true["probability"]) <= missed
            assert missed * 0.999 <= each["missed"] <= 1.0
            assert abs(each["known_good"] - true["known_good"]) <= each["missed"]
    then = asked(run, "proof", "U1")
    assert abs(then["known_good"] - proved["known_good"]) <= then["partly"]["missed"]
    assert abs(then["known_good_after"] - proved["known_good_after"]) <= then["partly"]["missed"] + 1e-12


def test_parts_are_chosen_in_part_within_what_is_missed(run: Run, in_part: Callable[[], None]) -> None:
    exact = asked(run, "parts", "U1", "--most", "0")
    assert exact["partly"] is None
    in_part()
    found = asked(run, "parts", "U1", "--most", "0")
    missed = found["partly"]["missed"]
    assert 0.0 < missed <= 0.05
    true = {(tuple(one["parts"]), each["do"]): each["works"] for one in exact["parts"] for each in one["options"]}
    off = [
        abs(chance - of)
        for one in found["parts"]
        for each in one["options"]
        if (one_true := true.get((tuple(one["parts"]), each["do"])))
        for chance, of in zip(each["works"], one_true, strict=True)
    ]
    assert 1e-9 < max(off) <= missed
    best = {json.dumps(one["courses"]): one["works"] for one in exact["wholes"]}
    same = [
        (one["works"], best[json.dumps(one["courses"])])
        for one in found["wholes"]
        if json.dumps(one["courses"]) in best
    ]
    assert same
    assert all(abs(works - of) <= missed for works, of in same)


@pytest.mark.parametrize("command", ["belief", "next", "why", "tells", "proof", "parts"])
def test_each_command_says_so(run: Run, in_part: Callable[[], None], command: str) -> None:
    in_part()
    first = " ".join(done(run(command, "U1")).split()).partition("Whether lines")[0]
    assert "! Not exact: a table of 12,345 entries would not fit. This rests on the likeliest" in first
    assert "so no chance here lies further than that from the true one" in first


def test_what_cannot_be_answered_in_part_is_refused_with_the_size(run: Run, in_part: Callable[[], None]) -> None:
    in_part()
    refused = run("bid", "--map", "some-mains-device", "--says", "no power", "--asking", "EUR 2", "--units", "4")
    assert refused.exit_code == 2
    assert "exact inference needs a table of 12345 entries" in refused.output


@pytest.mark.parametrize(
    ("missed", "words"),
    [(1e-12, "0.000000001 %"), (0.25, "25.00 %"), (0.250001, "25.01 %"), (0.000594, "0.060 %"), (1.01e-5, "0.0011 %")],
)
def test_a_bound_in_words_is_never_less_than_it_is(missed: float, words: str) -> None:
    assert share(missed) == words
    assert float(words.removesuffix(" %")) >= 100.0 * missed
