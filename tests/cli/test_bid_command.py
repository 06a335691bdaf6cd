"""Offers: taken down, priced, known again, let go, bought; and each message."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from running import Run, on

from knowngood.bench.store import Store
from knowngood.cli import shapes
from knowngood.log import events as ev

SAYS = "no power, small drop, mystery words"
OFFER = ("bid", "--map", "some-battery-device", "--says", SAYS, "--asking", "EUR 2")
LAMP = ("bid", "--map", str(Path(__file__).with_name("bicycle-lamp.yaml")), "--says", SAYS, "--asking", "EUR 2")
QUICK = ("--units", "4", "--pairs", "0", "--workers", "1")


@pytest.fixture
def run(tmp_path: Path) -> Run:
    """Runs a command on a store of its own, on a wide terminal."""
    return on(tmp_path / "home", COLUMNS="300")


def offered(run: Run, *more: str) -> shapes.BidAnswer:
    done = run(*OFFER, *QUICK, *more, "--json")
    assert done.exit_code == 0, done.output
    return shapes.BidAnswer.model_validate(json.loads(done.stdout))


def test_an_offer_is_heard_priced_refused_and_known_again(run: Run, tmp_path: Path) -> None:
    drawn = tmp_path / "bid.svg"
    done = run(*OFFER, *QUICK, "--picture", str(drawn))
    assert done.exit_code == 0, done.output
    assert "'no power' -> tried starts fails: anything from a bad cord to a dead main chip" in done.output
    assert "'mystery words' -> NOT UNDERSTOOD, counted as nothing" in done.output
    assert "MOST TO PAY EUR " in done.output
    assert "Nobody is asked to open it or to feed it when it is wet" in done.output
    assert drawn.read_text(encoding="utf-8").startswith("<svg")
    assert "C1   some-battery-device    EUR 2      open" in run("bid", "--list").output
    gone = run("bid", "C1", "--drop", "--why", "too dear")
    assert "refused (too dear)" in gone.output
    again = offered(run)
    [bid] = again.bids
    assert [one.candidate for one in bid.before] == ["C1"]
    assert (bid.before[0].standing, bid.before[0].note) == ("refused", "too dear")
    assert bid.offer.candidate == "C2"


def test_the_most_to_pay_is_that_of_the_figures_shown(run: Run) -> None:
    answer = offered(run, "--shade", "0 %", "--inward", "EUR 1", "--margin", "EUR 2", "--loss", "10 %")
    [bid] = answer.bids
    assert bid.by_margin == pytest.approx(bid.net.mean - 3.0)
    assert bid.by_loss == pytest.approx(bid.tail.mean - 1.0)
    assert float(bid.most.split()[1]) == pytest.approx(min(bid.by_margin, bid.by_loss), abs=0.01)
    assert bid.gain.mean == pytest.approx(bid.net.mean - 3.0)
    assert bid.lines[:1] == ["offered some-battery-device at EUR 2"]
    assert {"tried starts fails", "past dropped", f"noted listing: {SAYS}"} < set(bid.lines)


def test_candidates_are_ranked_under_a_budget(run: Run) -> None:
    run(*LAMP, *QUICK)
    run(*LAMP[:-1], "EUR 1", *QUICK)
    done = run("bid", "--budget", "EUR 3", "--inward", "EUR 1", *QUICK, "--json")
    answer = shapes.BidAnswer.model_validate(json.loads(done.stdout))
    assert [one.offer.candidate for one in answer.bids] == ["C2", "C1"]
    assert (answer.buy, answer.spends) == (["C2"], "EUR 1")
    assert (
        "Buy under EUR 5, the way here included: C2, C1: EUR 3 asked"
        in run("bid", "C1", "C2", "--budget", "EUR 5", "--inward", "EUR 1", *QUICK).output
    )


def test_a_candidate_becomes_a_unit_that_starts_with_its_lines(run: Run, tmp_path: Path) -> None:
    assert run(*LAMP, *QUICK).exit_code == 0
    assert run("log", "C1", "tried charges works").exit_code == 0
    assert "U1" in run("unit", "new", "--candidate", "C1", "--paid", "EUR 2").output
    with Store(tmp_path / "home") as store:
        lines = [ev.render(line.event) for line in store.lines("U1")]
        assert lines[0] == "bought bicycle-lamp for EUR 2"
        assert {"past dropped", "tried charges works"} < set(lines)
        assert lines[-1] == "received unit"
        assert [one.id for one in store.units()] == ["U1"]
        assert ev.render(store.lines("C1")[-1].event) == "accepted offer as U1"
    proof = json.loads(run("proof", "U1", "--json").stdout)
    assert "charges" in json.dumps(proof["unproven"])  # what its seller showed has to be shown again


def test_ctrl_c_gives_the_best_so_far(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    from knowngood.cli import bid_run

    calls: list[str] = []

    def stops(self: bid_run.Telling, name: str, so_far: object) -> None:
        calls.append(name)
        raise KeyboardInterrupt

    monkeypatch.setattr(bid_run.Telling, "__call__", stops)
    done = run(*OFFER, "--units", "40", "--workers", "1")
    assert done.exit_code == 0, done.output
    assert calls == ["C1"]
    assert " 4 units drawn" in " ".join(done.output.split())
    assert "Stopped: this is the best so far." in done.output


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("bid",), "No offer is open. Take one down: knowngood bid --map MAP"),
        (("bid", "--map", "some-battery-device"), "What is asked for it? For example: --asking"),
        (
            ("bid", "--says", "wet"),
            "--says, --asking, --past and --line take a new offer down: give its --map as well.",
        ),
        (("bid", "--drop"), "Which candidate is let go? For example: knowngood bid C1 --drop"),
        (("bid", "C9"), "No unit 'C9'."),
        (("bid", "U1"), "U1 is bought already, so there is nothing to bid."),
        (("bid", "C1", "--loss", "100 %"), "--loss: '100 %' is not a share from 0 % to below 100 %."),
        (("bid", "C1", "--margin", "USD 3"), "USD 3 is not in EUR, the bench's currency. Convert it."),
        (("bid", "C1", "--inward", "EUR -3"), "EUR -3 is negative. Leave the sign out."),
        (("bid", "C1", "--budget", "USD 3"), "USD 3 is not in EUR, the bench's currency. Convert it."),
        (("bid", "C1", "--picture", "bid.png"), "The picture is an SVG"),
        (("next", "C1"), "C1 is only offered, so there is no move yet. What to pay for it: knowngood bid C1"),
        (("log", "C1", "opened back-off"), "C1 is only offered; log what its seller says or shows."),
        (("log", "U1", "refused offer"), "U1 was bought already. An offer is made by: knowngood bid --map"),
        (("unit", "new", "--paid", "EUR 3"), "Which map? Give --map, or --candidate for an offer that was bought."),
        (
            ("unit", "new", "--paid", "EUR 3", "--candidate", "C1", "--map", "some-battery-device"),
            "A candidate brings its map and past along: leave --map and --past out.",
        ),
        (("unit", "new", "--paid", "EUR 3", "--candidate", "C2"), "C2 was bought already: it is U2."),
        (("bid", "--map", "some-battery-device", "--asking", "USD 3"), "USD 3 is not in EUR, the bench's currency."),
    ],
)
def test_what_is_wrong_is_said_and_nothing_is_stored(
    run: Run, tmp_path: Path, words: tuple[str, ...], says: str
) -> None:
    from knowngood.bench import candidates, work

    with Store(tmp_path / "home") as store:
        work.new_unit(store, "some-battery-device", "EUR 3")
        if words != ("bid",):
            for _ in range(2):
                candidates.offer(store, "some-battery-device", "EUR 3")
            candidates.accept(store, "C2", "EUR 3")
        before = [len(store.lines(one.id)) for one in (*store.units(), *store.candidates())]
    done = run(*words)
    assert done.exit_code == 2, done.output
    assert says in " ".join(done.output.split())
    with Store(tmp_path / "home") as store:
        assert [len(store.lines(one.id)) for one in (*store.units(), *store.candidates())] == before


def test_a_line_that_does_not_fit_stores_no_offer(run: Run) -> None:
    done = run(*OFFER, *QUICK, "--line", "saw nothing there")
    assert done.exit_code == 2
    assert "No part 'nothing'" in done.output
    assert "No offers yet." in run("bid", "--list").output
