"""The commands about the whole shelf, from the market to the parcel that arrives."""

from __future__ import annotations

import json
from io import StringIO

import pytest
from rich.console import Console
from running import Run
from typer.testing import Result

from knowngood.cli import shelf_shapes as shapes
from knowngood.cli import shelf_show
from knowngood.errors import ContradictionError

MAP = "ceiling-projector"


def spoken(result: Result) -> str:
    assert result.exit_code == 0, result.output
    return " ".join(result.stdout.split())


def test_a_shelf_from_the_market_to_the_parcel(run: Run) -> None:
    assert "Nothing is here. Book a unit in" in spoken(run("shelf"))
    assert "No supplier, no offer, no demand yet." in spoken(run("market"))
    for paid, *more in (("EUR 45",), ("EUR 30",), ("EUR 20", "--donor")):
        run("unit", "new", "--map", MAP, "--paid", paid, *more)
    run("log", "U1", "saw exhaust-fan missing")
    run("log", "D1", "saw exhaust-fan missing")
    run("log", "U2", "saw exhaust-fan missing", "saw lamp-module missing")
    lines = ["supplier northparts posts for EUR 6 in 3 days", f"offers northparts {MAP}/exhaust-fan new at EUR 8"]
    more = [f"offers northparts {MAP}/remote-control new at EUR 0.50", f"demand {MAP} working at most 1 at EUR 200"]
    assert "2 offers northparts ceiling-projector/exhaust-fan new at EUR 8" in spoken(run("market", *lines, *more))
    assert "No plan was accepted yet" in spoken(run("shelf"))

    answer = shapes.ShelfPlanAnswer.model_validate_json(run("shelf", "plan", "--why", "--json").stdout)
    assert answer.ended == "proved optimal"
    assert answer.rule_worth is not None
    assert answer.rule_worth <= answer.worth == answer.bound
    going = {one.unit: one for one in answer.units}
    assert {name: one.way for name, one in going.items()} == {"U1": "finish", "U2": "as-is", "D1": "parts"}
    assert [(one.unit, one.part, one.price) for one in answer.orders[0].parts] == [("U1", "exhaust-fan", "EUR 8")]
    assert answer.orders[0].payable == "EUR 14"
    best = going["U1"].next_best
    assert best is not None
    assert best.most is not None
    assert 0.0 < best.least == best.most
    assert answer.scarce is not None
    assert {(one.kind, one.id) for one in answer.scarce} >= {
        ("demand", f"working {MAP}"),
        ("part", f"{MAP}/exhaust-fan"),
    }

    assert "Accepted: line 5 of the bench's log." in spoken(run("shelf", "plan", "--accept"))
    glance = spoken(run("shelf"))
    assert "U1 ceiling-projector finish and sell exhaust-fan from new" in glance
    assert "Nothing was found since that it does not know of." in glance

    basket = spoken(run("orders"))
    assert "northparts: EUR 14 with EUR 6 postage, here in 3 days exhaust-fan new, EUR 8, for U1" in basket
    sent = spoken(run("orders", "--send", "northparts", "--along", "U1/remote-control"))
    assert "U1 6 ordered remote-control new from northparts for EUR 0.50 due" in sent
    assert "bench 6 paid EUR 6 for postage to northparts" in sent
    assert "exhaust-fan from northparts, due" in spoken(run("shelf"))
    here = run("arrived", "northparts", "--json")
    [woken] = json.loads(here.stdout)["units"]
    assert (woken["unit"], woken["parts"], woken["still"]) == ("U1", ["exhaust-fan", "remote-control"], [])
    assert woken["next"]

    assert "U1 wakes up. What it does next: knowngood next U1" in spoken(
        run("log", "U1", "ordered ballast new from northparts for EUR 30", "arrived ballast", "released ballast")
    )
    run("log", "U1", "saw ballast burnt")
    assert "! It is stale: U1 12 saw ballast burnt" in spoken(run("shelf"))
    again = spoken(run("shelf", "plan"))
    assert "What it changes of the plan that was accepted U1: ballast from nowhere -> D1" in again


def test_along_goes_with_an_order(run: Run) -> None:
    done = run("orders", "--along", "U1/exhaust-fan")
    assert (done.exit_code, done.stderr) == (2, "--along goes with --send: say from whom.\n")


def test_a_unit_that_cannot_be_thought_through_is_named(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(*_: object) -> None:
        raise ContradictionError("These cannot all be true.", [1])

    monkeypatch.setattr("knowngood.bench.shelf.facts.donor_priors", refused)
    run("unit", "new", "--map", MAP, "--paid", "EUR 45")
    run("unit", "new", "--map", MAP, "--paid", "EUR 45")
    run("log", "U1", "saw exhaust-fan missing")
    answer = shapes.ShelfPlanAnswer.model_validate_json(run("shelf", "plan", "--json").stdout)
    assert [one.unit for one in answer.units] == ["U2"]
    assert answer.troubles == {"U1": "These cannot all be true."}
    assert "! U1 is in no plan: These cannot all be true." in run("shelf", "plan").stdout


def shown(**changes: object) -> str:
    """The plan of an empty shelf in words."""
    answer = shapes.ShelfPlanAnswer(
        **{  # type: ignore[arg-type]
            **{"currency": "EUR", "period": 30, "hours": 40, "minutes": 60, "brings": 112.0, "worth": 100.0},
            **{"bound": 100.0, "gap": 0.0, "ended": "proved optimal", "seconds": 1.0, "rule_worth": 90.0, "units": []},
            **{"orders": [], "troubles": {}, "differences": None},
            **changes,
        }
    )
    out = Console(width=80, file=StringIO())
    shelf_show.plan(out, answer)
    return " ".join(out.file.getvalue().split())  # type: ignore[attr-defined]


def test_a_plan_that_is_not_proved_does_not_look_like_one_that_is() -> None:
    assert "Proved: no other plan is worth more." in shown()
    assert "EUR 90.00: EUR 10.00 less." in shown()
    stopped = shown(bound=104.0, gap=0.04, ended="best when stopped")
    assert "Proved" not in stopped
    assert "Not proved the best (best when stopped): no plan is worth more than EUR 4.00 (4 %) more." in stopped


def test_reasons_that_are_not_proved_are_given_as_what_they_lie_between() -> None:
    going = shapes.GoingShape(
        unit="U1", way="finish", settled=[], gives=[], next_best=shapes.NextBest(way="as-is", least=3.0, most=5.0)
    )
    alone = shapes.GoingShape(
        unit="D1", way="donor", settled=[], gives=[], next_best=shapes.NextBest(way=None, least=0.0, most=None)
    )
    scarce = [
        shapes.ScarceShape(kind="hour", id="", least=2.0, most=2.0),
        shapes.ScarceShape(kind="part", id=f"{MAP}/lamp", least=0.0, most=4.0),
        shapes.ScarceShape(kind="demand", id=f"loose {MAP}/lamp", least=0.0, most=0.0),
    ]
    said = shown(units=[going, alone], scarce=scarce, left_out=["unit U2"])
    assert "U1 finish and sell sell as it is EUR 3.00 to 5.00" in said
    assert "D1 keep whole no other way" in said
    assert "an hour of hands: EUR 2.00 a good lamp for a ceiling-projector: EUR 0.00 to 4.00" in said
    assert "buyer" not in said
    assert "! No time was left for: unit U2." in said
    assert "Nothing is scarce: one more of anything brings nothing." in shown(scarce=[])
    assert "Nothing is scarce" not in shown(scarce=[], left_out=["hour"])
