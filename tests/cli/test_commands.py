"""Every command, as a person or a script calls it: words, JSON, exit codes, errors."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from leaving import SAFE, TESTER, WIPED
from PIL import Image
from running import Run
from typer.testing import Result

from knowngood.cli import advice_show, layout, shapes, show
from knowngood.errors import ContradictionError
from knowngood.maps.load import file_of
from knowngood.plan.shortlist import MOST, MOST_TO_PROVE


@pytest.fixture
def unit(run: Run) -> Run:
    """The same, with a fallen projector booked in as U1."""
    done = run("unit", "new", "--map", "ceiling-projector", "--paid", "EUR 45", "--past", "dropped")
    assert done.exit_code == 0, done.output
    return run


def said(result: Result) -> dict[str, object]:
    found: dict[str, object] = json.loads(result.stdout)
    return found


def test_the_commands_of_the_first_page_work_one_after_another(unit: Run) -> None:
    assert "U1 2  saw exhaust-fan missing" in unit("log", "U1", "saw exhaust-fan missing").output
    assert unit("log", "U1", "read rail-12v 0.03 V").exit_code == 0
    belief = unit("belief", "U1")
    assert belief.exit_code == 0
    assert "exhaust-fan" in belief.output
    assert "line 2: saw exhaust-fan missing" in " ".join(belief.output.split())
    following = unit("next", "U1")
    assert following.exit_code == 0
    assert following.output.startswith("NEXT ")
    assert "Taken back: line 3, read rail-12v 0.03 V" in unit("undo", "U1").output
    shown = unit("show", "U1").output
    assert "3 - " in shown
    assert "undid 3" in shown


def test_belief_json_holds_what_the_log_says(unit: Run) -> None:
    unit("log", "U1", "saw exhaust-fan missing", "read rail-12v 0.03 V")
    answer = shapes.BeliefAnswer.model_validate(said(unit("belief", "U1", "--json")))
    assert answer.log_seq == 3
    assert answer.parts[0].part == "exhaust-fan"
    blocks = [part.p_blocks for part in answer.parts]
    assert blocks == sorted(blocks, reverse=True)
    for part in answer.parts:
        assert part.p_bad == pytest.approx(sum(part.modes.values()))
        assert 0.0 <= part.p_blocks <= part.p_bad + 1e-9
    assert answer.parts[0].moved_by[0].seq == 2


def test_a_slip_of_the_pen_is_found_from_the_command_line(unit: Run) -> None:
    """12.1 V typed as 121 V: `log` says so at once, `belief` and `next` as long as it stands; then it is taken back."""
    unit("log", "U1", "tried fans-turn works")
    logged = unit("log", "U1", "read rail-12v 121 V")
    assert "! Nothing that this map knows reads so there: a slip? Recheck it." in logged.output
    assert said(unit("log", "U1", "read rail-12v 121 V", "--json"))["readings"][0]["slip"] is True  # type: ignore[index]
    unit("undo", "U1")
    warning = (
        "This line can hardly be true: line 3: read rail-12v 121 V. Nothing that this map knows reads so there. "
        "Recheck it; a slip of the hand or pen is taken back with 'undid 3'."
    )
    assert f"! {warning}" in " ".join(unit("belief", "U1").output.split())
    advice = shapes.NextAnswer.model_validate(said(unit("next", "U1", "--json")))
    assert advice.surprise == shapes.SurpriseShape(lines=[3], log10=None, recheck=3, message=warning)
    out = layout.console()
    with out.capture() as printed:
        advice_show.advice(out, advice, 3)
    assert " ".join(printed.get().split()).startswith(f"! {warning} NEXT ")
    done = unit("log", "U1", "undid 3", "read rail-12v 12.1 V")
    assert done.exit_code == 0
    assert "!" not in done.output
    assert said(unit("belief", "U1", "--json"))["surprise"] is None


def test_lines_that_do_not_fit_together_are_named_and_which_to_recheck(unit: Run) -> None:
    """12 V typed as 12 mV: nothing strange by itself, but fans and picture need the rail."""
    working = ("tried standby-light works", "tried fans-turn works", "tried picture works")
    unit("log", "U1", *working, "read rail-12v 0.012 V")
    answer = shapes.BeliefAnswer.model_validate(said(unit("belief", "U1", "--json")))
    assert answer.surprise is not None
    assert 5 in answer.surprise.lines
    assert answer.surprise.recheck == 5
    assert answer.surprise.log10 is not None
    assert answer.surprise.log10 > 3
    words = " ".join(unit("belief", "U1").output.split())
    assert "! These lines can hardly all be true: line " in words
    assert "Recheck line 5 first; a slip of the hand or pen is taken back with 'undid 5'." in words


def test_belief_says_what_together_explains_the_log(unit: Run) -> None:
    unit("log", "U1", "found door-look not-whole", "saw lamp-door-tab broken-off close")
    unit("log", "U1", "fitted lamp-door-tab from new", "tried lamp-lights works")
    answer = shapes.BeliefAnswer.model_validate(said(unit("belief", "U1", "--json")))
    first = answer.explanations[0]
    assert [(one.part, one.mode, one.since, one.until) for one in first.faults] == [
        ("lamp-door-tab", "broken-off", None, 4)
    ]
    assert first.explains == [2, 3]
    assert len(answer.explanations) == 5
    assert answer.explained == pytest.approx(sum(one.probability for one in answer.explanations))
    chances = [one.likeliest for one in answer.explanations]
    assert chances == sorted(chances, reverse=True)
    for one in answer.explanations:
        assert one.likeliest <= one.probability <= one.with_others
    shown = unit("belief", "U1", "--most", "1").output
    assert "lamp-door-tab broken-off until line 4\n" in shown.replace("   ", "").replace(" \n", "\n")
    assert "explains lines 2, 3" in shown
    assert "as the first, with " in shown
    assert re.search(r"These 5 cover \S+ % of all that could be, most probable course first\.", shown)


def test_explanations_in_words() -> None:
    """Past and present, what differs from the first, and what the map does not know."""

    def fault(part: str, mode: str, since: int | None = None, until: int | None = None) -> shapes.FaultShape:
        return shapes.FaultShape(part=part, mode=mode, since=since, until=until)

    def words(one: shapes.ExplanationShape, first: shapes.ExplanationShape | None = None) -> list[str]:
        return show.explanation(one, first).split("\n")

    plain = {"unknown": {}, "probability": 0.1, "with_others": 0.2, "likeliest": 0.1}
    of = shapes.ExplanationShape.model_validate
    bits = [fault("tab", "broken", until=4), fault("fan", "stalls"), fault("flex", "unseated", since=7)]
    first = of({**plain, "faults": bits, "explains": [2, 3, 4, 9, 11, 12], "strange": [20]})
    assert words(first) == [
        "tab broken until line 4, fan stalls, flex unseated since line 7",
        "  explains lines 2 to 4, 9, 11, 12",
        "  leaves line 20 strange",
    ]
    less = of({**plain, "faults": bits[:2], "explains": [2], "strange": [11, 20]})
    assert words(less, first) == ["as the first, without flex unseated since line 7", "  leaves line 11 strange"]
    other = of({**plain, "faults": [bits[0], fault("fan", "missing"), bits[2]], "explains": [5], "strange": []})
    assert words(other, first) == ["as the first, but fan missing", "  explains line 5"]
    nothing = of({**plain, "faults": [], "explains": [], "strange": []})
    assert words(nothing, first) == ["nothing wrong"]
    unknown = of({**plain, "faults": [], "unknown": {"light": 0.62, "sound": 0.31}, "explains": [2], "strange": []})
    assert words(unknown) == [
        "something this map does not know (in 'light' 62 %, 'sound' 31 %)",
        "  explains line 2",
    ]


def test_next_json_ranks_moves_and_their_outcomes(unit: Run) -> None:
    answer = shapes.NextAnswer.model_validate(said(unit("next", "U1", "--json")))
    assert answer.log_seq == 1
    worths = [move.worth for move in answer.moves]
    assert worths == sorted(worths, reverse=True)
    for move in answer.moves:
        if move.kind in ("try", "test", "measure", "look"):
            assert sum(one.probability for one in move.outcomes) == pytest.approx(1.0)
    assert {"part-out", "sell-as-is"} <= {move.kind for move in answer.moves}


def test_next_says_how_many_looks_and_tests_it_considered_and_followed(unit: Run) -> None:
    before = shapes.NextAnswer.model_validate(said(unit("next", "U1", "--json")))
    asked = [one for one in (*before.moves, *before.held) if one.kind in ("look", "try", "test", "measure")]
    assert before.followed == len(asked) == MOST + MOST_TO_PROVE
    assert before.considered > before.followed
    unit("log", "U1", "saw lamp-door-tab fine")
    line = re.search(r"Looks and tests: (\d+) considered, (\d+) of them followed exactly\.", unit("next", "U1").output)
    assert line is not None
    assert int(line[1]) < before.considered, "what was looked at need not be looked at again"
    assert int(line[2]) == before.followed


@pytest.mark.parametrize(
    ("considered", "line"), [(3, "Looks and tests: 3 considered, all followed exactly.\n"), (0, "")]
)
def test_next_says_when_every_look_and_test_was_followed(unit: Run, considered: int, line: str) -> None:
    answer = shapes.NextAnswer.model_validate(said(unit("next", "U1", "--json")))
    out = layout.console()
    with out.capture() as printed:
        advice_show.advice(
            out, answer.model_copy(update={"considered": considered, "followed": considered, "held": []}), 3
        )
    assert " ".join(printed.get().split()).partition(answer.standing.sentence)[2] == f" {line.strip()}".rstrip()


def test_next_without_a_unit_ranks_those_on_the_bench(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    assert "No unit is on the bench." in run("next").output
    for _ in range(3):
        run("unit", "new", "--map", "some-battery-device", "--paid", "EUR 3")
    run("unit", "new", "--map", "some-battery-device", "--paid", "EUR 3", "--donor")
    run("log", "U2", "priced working at EUR 200")
    run("log", "U3", WIPED, "sold as-is for EUR 9")
    lines = run("next").output.splitlines()
    assert [line.split()[0] for line in lines[1:3]] == ["U2", "U1"]
    answer = shapes.BenchNext.model_validate(said(run("next", "--json")))
    first, second = answer.units
    assert (first.unit, second.unit, answer.troubles) == ("U2", "U1", {})
    assert first.per_hour is not None
    assert first.per_hour == pytest.approx(first.gain / (first.minutes / 60.0))
    alone = shapes.NextAnswer.model_validate(said(run("next", "U2", "--json")))
    assert first.log == alone.moves[0].log
    assert first.gain == pytest.approx(alone.moves[0].worth - alone.stop_worth)

    def refused(*_: object, **__: object) -> None:
        raise ContradictionError("These cannot all be true.", [1])

    monkeypatch.setattr("knowngood.bench.questions.advise", refused)
    assert "U1: These cannot all be true." in run("next").output


def test_next_says_what_the_person_holds_back(unit: Run) -> None:
    assert "U1 2  lacks part mounting-bosses" in unit("log", "U1", "no such part mounting-bosses").output
    unit("log", "U1", "not now cover off", "no such tool meter")
    told = unit("next", "U1").output
    assert "Not now: cover-off." in told
    assert "No such tool: meter." in told
    answer = shapes.NextAnswer.model_validate(said(unit("next", "U1", "--json")))
    assert {"not-now", "no-tool"} <= {one.rule for one in answer.held}
    assert not any("cover-off" in one.opens or "meter" in one.tools for one in answer.moves)
    state = shapes.UnitState.model_validate(said(unit("show", "U1", "--json")))
    assert (state.lacks, state.deferred) == (["meter", "mounting-bosses"], ["cover-off"])
    assert "put off" in unit("show", "U1").output


def test_why_names_the_line_and_the_setting_that_changed_the_advice(run: Run) -> None:
    run("unit", "new", "--map", "some-mains-device", "--paid", "EUR 3")
    run("log", "U1", "tried standby-light fails")
    told = run("why", "U1")
    assert told.exit_code == 0, told.output
    words = " ".join(told.output.split())
    assert "Runner-up, EUR" in words
    assert "Where it leads" in words
    assert "What would change it if an hour had to bring EUR" in words
    assert "What changed it Line 2, tried standby-light fails. It took supply from" in words
    run("bench", "set", "rate-floor", "60")
    answer = shapes.WhyAnswer.model_validate(said(run("why", "U1", "--json")))
    assert answer.changed_by_settings is not None
    assert answer.changed_by_settings.lines == ["set rate-floor EUR 60"]
    assert answer.changed_by_settings.before != answer.move


def test_lines_come_from_standard_input_and_from_a_file(unit: Run, tmp_path: Path) -> None:
    done = unit("log", "U1", typed="# a remark\nsaw mains-inlet fine\n\nexhaust fan missing\n")
    assert done.exit_code == 0, done.output
    assert "U1 3  saw exhaust-fan missing" in done.output
    file = tmp_path / "more.log"
    file.write_text("tried standby-light works\n", encoding="utf-8")
    assert "U1 4  tried standby-light works" in unit("log", "U1", "--file", str(file)).output


def test_one_wrong_line_of_several_stores_none(unit: Run) -> None:
    done = unit("log", "U1", "saw mains-inlet fine", "saw exhaust-fan mising")
    assert done.exit_code == 2
    assert "Line 2 of 2: No condition 'mising'. Similar: 'missing'" in done.stderr
    assert "Nothing was stored." in done.stderr
    assert said(unit("show", "U1", "--json"))["log_seq"] == 1


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("belief", "U9"), "No unit 'U9'. There are: U1."),
        (("log", "U1", "saw exhaust-fann missing"), "No part 'exhaust-fann'. Similar: 'exhaust-fan'"),
        (("log", "U1", "saw fan missing"), "could be 'exhaust-fan', 'exhaust-fan-plug'"),
        (("log", "U1", "read rail-12v 3 ohm"), "'rail-12v' is read in V, and '3 ohm' is in ohm."),
        (("log", "U1", "closed cover-off"), "'cover-off' is not open."),
        (("log", "U1", "fitted lamp-door from D4"), "no unit 'D4'"),
        (("unit", "new", "--map", "ceiling-projectr", "--paid", "EUR 1"), "Similar: 'ceiling-projector'"),
        (("unit", "new", "--map", "ceiling-projector", "--paid", "45"), "Write the currency's code first"),
        (("unit", "new", "--map", "ceiling-projector", "--paid", "EUR 1", "--past", "droped"), "Similar: 'dropped'"),
        (("bench", "set", "rate-flor", "3"), "Similar: 'rate-floor'"),
        (("rehearse", "ceiling-projector", "--units", "1", "--past", "wett"), "No past 'wett'"),
        (("log", "U1", "--file", "nowhere.log"), "The file nowhere.log cannot be read"),
    ],
)
def test_bad_input_is_said_plainly_with_what_would_be_right(unit: Run, words: tuple[str, ...], message: str) -> None:
    done = unit(*words)
    assert done.exit_code == 2
    assert message in done.stderr
    assert "Traceback" not in done.output
    if words[0] != "unit" or "new" in words:
        error = shapes.ErrorAnswer.model_validate(said(unit(*words, "--json"))).error
        assert error.kind == "input"
        assert message in error.message


def test_undo_can_be_repeated_and_redone(unit: Run) -> None:
    unit("log", "U1", "saw mains-inlet fine", "saw exhaust-fan missing")
    assert unit("undo", "U1").exit_code == 0
    assert unit("undo", "U1").exit_code == 0
    nothing = unit("undo", "U1")
    assert nothing.exit_code == 2
    assert "only its purchase is left" in nothing.stderr
    assert "Holds again: line 2" in unit("redo", "U1").output
    assert "Holds again: line 3" in unit("redo", "U1").output


def test_a_part_moves_from_a_donor_and_the_shelf_knows(unit: Run) -> None:
    unit("unit", "new", "--map", "ceiling-projector", "--paid", "EUR 5", "--donor")
    assert unit("log", "D1", "harvested lamp-door", "harvested ballast").exit_code == 0
    assert unit("log", "D1", "harvested main-board", "identified main board B").exit_code == 0
    stock = shapes.StockAnswer.model_validate(said(unit("stock", "--json")))
    assert [(one.part, one.unit, one.revision) for one in stock.parts] == [
        ("ballast", "D1", None),
        ("lamp-door", "D1", None),
        ("main-board", "D1", "B"),
    ]
    assert "revision B" in unit("stock").output
    assert unit("log", "U1", "swapped lamp-door from D1 for EUR 8").exit_code == 0
    assert [one["part"] for one in said(unit("stock", "--json"))["parts"]] == ["ballast", "main-board"]
    found = shapes.LedgerAnswer.model_validate(said(unit("ledger", "U1", "--json")))
    assert (found.account.paid, found.account.carried) == ("EUR 45", "EUR -0.08")


def test_the_stock_is_told_in_words(unit: Run) -> None:
    assert unit("stock").output == "Nothing on the shelf.\n"
    unit("unit", "new", "--map", "ceiling-projector", "--paid", "EUR 5", "--donor", "--past", "surged")
    unit("log", "D1", "saw config-store dusty slight", "harvested config-store in drawer 3", "put unit in shelf 2")
    unit("log", "U1", "reserved config-store from D1")
    unit("stock", "9 x resistor 20 ohm in tin 4 -- from an old lab")
    told = " ".join(unit("stock").output.split())
    assert "S1 9 x resistor 20 ohm tin 4 -- from an old lab" in told
    assert re.search(
        r"config-store from D1 good 97 % \+; drawer 3; reserved for U1 Configuration store with the shading table of "
        r"this engine, from a unit that had a surge; works only with its own optical-engine; "
        r"seen dusty slight \(D1 line 2\); not tested",
        told,
    )
    assert re.search(r"D1 ceiling-projector, shelf 2: \d\d parts still in it: knowngood stock D1", told)
    narrowed = unit("stock", "lamp-door", "--map", "ceiling-projector").output
    assert narrowed.startswith("lamp-door                from D1         good 9")
    assert "still in D1, shelf 2" in narrowed
    assert "S1" not in narrowed
    taken = unit("log", "U1", "fitted exhaust-fan from used", "released config-store")
    assert "!" not in taken.output
    unit("unit", "new", "--map", "ceiling-projector", "--paid", "EUR 5")
    unit("log", "U1", "reserved config-store from D1")
    taken = unit("log", "U2", "fitted config-store from D1")
    assert "! 'config-store' from D1 is reserved for U1 too. If U1 is not to have it" in " ".join(taken.output.split())
    assert "! U1 has 'config-store' from D1 reserved, and it is in U2 now." in unit("stock").output
    refused = unit("stock", "lamp-dor")
    assert refused.exit_code == 2
    assert "No part, unit or lot 'lamp-dor' in stock. Similar: 'lamp-door'" in refused.stderr


def test_every_answer_fits_its_shape(unit: Run, tmp_path: Path) -> None:
    file = tmp_path / "wrong.yaml"
    file.write_text("map: x\n", encoding="utf-8")
    picture = tmp_path / "fan.png"
    Image.new("RGB", (8, 8)).save(picture)
    unit("log", "U1", "tried standby-light works")
    calls: list[tuple[type[shapes.Shape], tuple[str, ...]]] = [
        (shapes.UnitNew, ("unit", "new", "--map", "some-mains-device", "--paid", "EUR 3")),
        (shapes.UnitList, ("unit", "list")),
        (shapes.IntakeAnswer, ("intake", "U1")),
        (shapes.PhotoAnswer, ("photo", "U1", str(picture), "--of", "exhaust-fan", "--before")),
        (shapes.ExportAnswer, ("export", "U1", str(tmp_path / "u1"))),
        (shapes.ImportAnswer, ("import", str(tmp_path / "u1"))),
        (shapes.Logged, ("log", "U1", "weighed 4 kg", "recorded serial K1", "quarantined unit -- damp")),
        (shapes.IntakeAnswer, ("intake", "U1")),
        (shapes.Logged, ("log", "U1", "cleared unit")),
        (shapes.Logged, ("log", "U1", "noted smells burnt")),
        (shapes.Logged, ("undo", "U1")),
        (shapes.Logged, ("redo", "U1")),
        (shapes.UnitState, ("show", "U1")),
        (shapes.BeliefAnswer, ("belief", "U1")),
        (shapes.NextAnswer, ("next", "U1")),
        (shapes.BenchNext, ("next",)),
        (shapes.WhyAnswer, ("why", "U2")),
        (shapes.TellsAnswer, ("tells", "U2")),
        (shapes.LedgerAnswer, ("ledger", "U1")),
        (shapes.ShelfLedger, ("ledger", "--by", "past")),
        (shapes.PartsAnswer, ("parts", "U2")),
        (shapes.WayAnswer, ("way", "U1", "board-up")),
        (shapes.ReassemblyAnswer, ("reassembly", "U1")),
        (shapes.TimetableAnswer, ("timetable",)),
        (shapes.BeforePowerAnswer, ("before-power", "U1")),
        (shapes.BringUpAnswer, ("bring-up", "U1")),
        (shapes.ProofAnswer, ("proof", "U1")),
        (shapes.MapCheck, ("map", "check", str(file))),
        (shapes.MapList, ("map", "list")),
        (shapes.StockAnswer, ("stock", "3 x resistor 20 ohm")),
        (shapes.LabelAnswer, ("label", "U1")),
        (shapes.Logged, ("log", "U1", "saw main-board burnt marked 10R")),
        (shapes.MarksAnswer, ("marks", "U1")),
        (shapes.MarketAnswer, ("market", "supplier northparts posts for EUR 6 in 3 days")),
        (shapes.ShelfAnswer, ("shelf",)),
        (shapes.ShelfPlanAnswer, ("shelf", "plan", "--why", "--accept")),
        (shapes.Logged, ("log", "U1", "ordered exhaust-fan new from northparts for EUR 8")),
        (shapes.OrdersAnswer, ("orders",)),
        (shapes.ArrivedAnswer, ("arrived", "northparts")),
        (shapes.SafetyTestAnswer, ("safety-test", "U1")),
        (shapes.ReleaseAnswer, ("release", "U1", "--as-is", "--ask")),
        (shapes.GradeAnswer, ("grade", "U1")),
        (shapes.ListingAnswer, ("listing", "U1")),
        (shapes.ReportAnswer, ("report", "U1", "--pdf", str(tmp_path / "a.pdf"))),
        (shapes.Logged, ("log", "U1", "clapped at 00:00:05 of a.mp4")),
        (shapes.FilmAnswer, ("film", "U1", "--vtt", str(tmp_path / "a.vtt"))),
        (shapes.InstrumentsAnswer, TESTER),
        (shapes.BenchAnswer, ("bench", "show")),
        (shapes.BenchAnswer, ("bench", "set", "rate-floor", "EUR 15")),
        (shapes.RehearseAnswer, ("rehearse", "some-battery-device", "--units", "1", "--policy", "planner")),
        (
            shapes.BidAnswer,
            (
                "bid",
                "--map",
                "some-battery-device",
                "--says",
                "no power",
                "--asking",
                "EUR 3",
                "--units",
                "2",
                "--workers",
                "1",
            ),
        ),
        (shapes.CandidateList, ("bid", "--list")),
        (shapes.BookAnswer, ("book", "charge", "--capacitance", "330 uF", "--voltage", "400 V")),
        (shapes.ReadingsAnswer, ("readings", "some-mains-device")),
        (shapes.GrownAnswer, ("map", "grow", "U1", "--yes", "all")),
        (shapes.ErrorAnswer, ("belief", "U9")),
    ]
    assert {shape for shape, _ in calls} == set(shapes.ANSWERS)
    for shape, words in calls:
        answer = said(unit(*words, "--json"))
        parsed = shape.model_validate(answer)
        missing = set(json.loads(parsed.model_dump_json())) - set(answer)
        assert shape is shapes.ErrorAnswer or not missing, words
        assert set(answer) <= set(shape.model_fields), words


def test_a_right_and_a_wrong_map_are_told_apart(run: Run, tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.yaml"
    wrong.write_text("map: radio\nwaht: A radio\n", encoding="utf-8")
    done = run("map", "check", str(wrong))
    assert done.exit_code == 2
    assert f"{wrong}:2:1: No key 'waht' here. Similar: 'what', 'weight'." in done.stdout.replace("\n", "")
    right = Path("src/knowngood/maps/library/maps/some-mains-device.yaml")
    assert "nothing wrong" in run("map", "check", str(right)).output


def test_readings_of_known_good_units_are_shown_and_a_map_learns_from_them(run: Run, tmp_path: Path) -> None:
    own = tmp_path / "own.yaml"
    own.write_text(Path("src/knowngood/maps/library/maps/some-battery-device.yaml").read_text(encoding="utf-8"))
    assert "Nothing to learn yet" in run("readings", str(own)).output
    from knowngood.maps import load

    works = [f"tried {name} works" for name in load(str(own)).wanted]
    for number in range(1, 7):
        run("unit", "new", "--map", str(own), "--paid", "EUR 3")
        run("log", f"U{number}", "opened board-out", f"read io-rail 3.3{number} V", "closed all", *works)
    shown = run("readings", str(own)).output
    assert re.search(r"io-rail +1.8 V to 3.4 V +6: 3.335 V \+/- \d+", shown)
    assert "-    nominal: 1.8 V to 3.4 V" in shown
    assert "--into FILE" in shown
    done = run("readings", str(own), "--into", str(own))
    assert f"Written to{own}.Units" in re.sub(r"\s", "", done.output).replace("Writtento", "Written to")
    assert "nominal: 1.8 V to 3.4 V" not in own.read_text(encoding="utf-8")
    assert "nothing wrong" in run("map", "check", str(own)).output
    assert re.search(r"io-rail +3.* 6: 3.335 V", run("readings", str(own)).output), "what was learned from still counts"


def test_impossible_lines_are_named(run: Run, tmp_path: Path) -> None:
    """A map whose test cannot err, and two answers of it that cannot both be."""
    text = """
map: lamp
what: Lamp
power: mains
unknown: 0 %
worth: {working: EUR 20, as_is: EUR 5, parts: EUR 2}
parts:
  bulb: {what: Bulb, kind: button, base: 20 %}
functions:
  lights:
    what: it lights
    needs: [bulb]
    wanted: true
    tried: {do: Switch it on, minutes: 1 min, power: mains}
tests:
  sure: {do: Look at it, senses: lights, miss: 0 %, false_alarm: 0 %, minutes: 1 min}
  sure-too: {do: Look again, parts: {bulb: [worn, stuck, plunger-broken, missing]}, miss: 0, false_alarm: 0, minutes: 1}
"""
    from knowngood.maps.kinds import kinds

    modes = ", ".join([*kinds()["button"].modes, "missing"])
    file = tmp_path / "lamp.yaml"
    file.write_text(text.replace("worn, stuck, plunger-broken, missing", modes), encoding="utf-8")
    assert run("unit", "new", "--map", str(file), "--paid", "EUR 1").exit_code == 0
    run("log", "U1", "noted a bulb", "found sure-too ok", "found sure bad")
    done = run("belief", "U1")
    if done.exit_code == 0:  # a weak button passes both; then only 'missing' and the like are told apart
        pytest.skip("this kind has a mode that is weak, so the two answers can both be true")
    assert done.exit_code == 2
    assert "line 3: found sure-too ok; line 4: found sure bad" in done.stderr


def test_our_own_mistakes_have_another_exit_code(unit: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("planted")

    monkeypatch.setattr("knowngood.bench.questions.belief_of", broken)
    done = unit("belief", "U1")
    assert done.exit_code == 1
    assert "a mistake of knowngood, not yours" in done.stderr


def test_a_logged_reading_says_where_it_falls(unit: Run) -> None:
    done = unit("log", "U1", "opened cover-off", "read rail-12v 0.03 V", "rail-12v-to-ground OL")
    assert "U1 3  read rail-12v 0.03 V\n   absent 97 % +\n" in done.output
    assert "U1 4  read rail-12v-to-ground OL ohm\n   open 97 % +\n" in done.output
    answer = shapes.Logged.model_validate(said(unit("log", "U1", "read rail-12v 11.35 V", "--json")))
    [reading] = answer.readings
    assert (reading.zone, reading.unit, reading.fits_map, reading.flag) == ("low", "V", True, None)
    assert reading.conformity == "cannot be told"
    assert 0.5 < reading.zones["low"] < 0.9
    assert sum(reading.zones.values()) == pytest.approx(0.99)
    assert said(unit("log", "U1", "noted nothing read", "--json"))["readings"] == []


def test_what_a_map_has_from_the_handbook_is_shown_with_the_call(unit: Run) -> None:
    call = "feedback-output(reference 0.8 V, upper 31k6, lower 10k1)"
    unit("log", "U1", "opened cover-off")
    moves = said(unit("next", "U1", "--most", "999", "--json"))["moves"]
    (measuring,) = [one for one in moves if one["target"] == "rail-3v3"]
    assert measuring["why"].endswith(f"Expect 3.303 V +/- 5 %, by {call}.")
    done = unit("log", "U1", "read rail-3v3 3.12 V").output
    assert "U1 3  read rail-3v3 3.12 V\n   low 94 %; too near to a limit to be told\n" in done
    assert f"3.138 V to 3.468 V by the handbook: {call}" in " ".join(done.split())
    [reading] = said(unit("log", "U1", "read rail-3v3 3.3 V", "--json"))["readings"]
    assert reading["rests_on"] == call
    listed = unit("readings", "ceiling-projector")
    assert f"rail-3v3 by the handbook: {call}" in " ".join(listed.output.split())
    rows = said(unit("readings", "ceiling-projector", "--json"))["rows"]
    assert {row["test"]: row["rests_on"] for row in rows if row["rests_on"]} == {"rail-3v3": call}
    checked = unit("map", "check", str(file_of("ceiling-projector")))
    assert f"rail-3v3, nominal: 3.303 V +/- 5 % by {call} (regulator data sheets" in checked.output


def test_belief_flags_a_reading_that_known_good_units_do_not_have(unit: Run) -> None:
    unit(*TESTER)
    for number, volts in enumerate(("12.02", "12.04", "12.11"), start=2):
        unit("unit", "new", "--map", "ceiling-projector", "--paid", "EUR 40")
        lines = ("opened cover-off", f"read rail-12v {volts} V", "closed all", *SAFE, WIPED, "sold working for EUR 200")
        assert unit("log", f"U{number}", *lines).exit_code == 0
    unit("log", "U1", "opened cover-off", "read rail-12v 12.1 V", "read rail-12v 0.03 V")
    flag = "rail-12v 0.03 V: map says 12 V +/- 5 %, 3 known-good units read 12.04 V (MAD 20 mV)"
    belief = unit("belief", "U1")
    assert f"! {flag}" in " ".join(belief.output.split())
    answer = shapes.BeliefAnswer.model_validate(said(unit("belief", "U1", "--json")))
    [reading] = answer.readings
    assert (reading.seq, reading.flag, reading.fits_map, reading.fits_reference) == (4, flag, False, False)
    assert reading.reference is not None
    assert (reading.reference.units, reading.reference.median) == (3, 12.04)
    assert reading.reference.mad == pytest.approx(0.02)


def test_the_bench_keeps_its_meter(run: Run) -> None:
    assert "meter-ohms      600 ohm 1 % + 5" in run("bench", "show").output
    shown = run("bench", "set", "meter-volts", "6 V 0.05 % + 2, 60 V 0.05 % + 2")
    assert "meter-volts     6 V 0.05 % + 2, 60 V 0.05 % + 2" in shown.output
    wrong = run("bench", "set", "meter-volts", "very good")
    assert wrong.exit_code == 2
    assert "meter-volts: 'very good' is no range of a meter in V. Write it as '6 V 0.5 % + 3, 60 V" in wrong.stderr


def test_what_a_test_would_tell_after_an_act_that_is_only_considered(unit: Run) -> None:
    """The 12 V is made from the 380 V that a dead ballast shorts: unplugged, the reading that was made is worth making
    again. It is what the belief of the log with that line would say, and nothing is logged."""
    act = "unplugged ballast-feed-lead"
    unit("log", "U1", "opened board-up", "read rail-5v-standby 5.02 V", "read rail-12v 0.03 V")
    now = said(unit("tells", "U1", "--most", "0", "--json"))
    told = said(unit("tells", "U1", "--after", act, "--most", "0", "--json"))
    by_name = [{one["id"]: one for one in each["questions"]} for each in (now, told)]  # type: ignore[attr-defined]
    assert "rail-12v" not in by_name[0]
    good = next(one for one in by_name[1]["rail-12v"]["outcomes"] if one["outcome"] == "good")
    assert by_name[1]["rail-12v"]["bits"] > 0.2
    assert good["suspects"][0]["part"] == "ballast"
    assert (told["log_seq"], told["after"]) == (now["log_seq"], [act])
    shown = unit("tells", "U1", "--after", act, "--most", "2").output
    assert shown.startswith(f"If first: {act}")
    unit("log", "U1", act)
    assert said(unit("tells", "U1", "--most", "0", "--json"))["questions"] == told["questions"]


def test_a_considered_act_that_does_not_fit_is_refused(unit: Run) -> None:
    refused = unit("tells", "U1", "--after", "unplugged nothing")
    assert refused.exit_code == 2
    assert "No connection 'nothing'" in refused.output


def test_a_mark_proposes_what_the_shelf_has(unit: Run) -> None:
    unit("stock", "25 x resistor 10 ohm 1 % 0805 in drawer 3", "1 x cap 100n X7R 10V in tin 2")
    logged = " ".join(unit("log", "U1", "saw main-board burnt marked resistor 10R").output.split())
    assert "resistor 10 ohm: usual value; R is the decimal point" in logged
    assert "shelf: S1 resistor 10 ohm 1 % 0805 (25 left, drawer 3)" in logged
    assert "its line does not say power, voltage, construction: look it up or measure" in logged
    assert "nothing on the shelf fits: buy resistor 1.24 ohm 1 %" in logged
    assert "the mark does not say tolerance, power, voltage, construction, size." in logged
    assert "! A fusible or flameproof resistor, and one across the mains, is there for safety" in logged
    unit("log", "U1", "used 2 of S1 on main-board")
    assert "S1       23 x resistor 10 ohm 1 % 0805" in unit("stock").output
    said_again = " ".join(unit("marks", "U1").output.split())
    assert "(23 left, drawer 3)" in said_again
    fine = unit("log", "U1", "saw lamp-door fine marked 104").output
    assert "shelf" not in fine
    assert "Log: marked resistor 104" in " ".join(fine.split())


def test_marks_without_any_mark_say_how_to_log_one(unit: Run) -> None:
    assert "No mark seen in U1. Log one: saw PART CONDITION marked 10R" in unit("marks", "U1").output
    refused = unit("stock", "12 frogs")
    assert refused.exit_code == 2
    assert "'frogs' has no value" in refused.stderr


def test_parts_says_what_to_do_with_each_part_and_what_is_best_for_the_whole(unit: Run) -> None:
    unit("unit", "new", "--map", "ceiling-projector", "--paid", "EUR 20", "--donor")
    unit("log", "U1", "tried standby-light works", "tried fans-turn works", "saw lamp-door-tab broken-off close")
    answer = shapes.PartsAnswer.model_validate(said(unit("parts", "U1", "--json")))
    worths = [one.worth for one in answer.wholes]
    assert worths == sorted(worths, reverse=True)
    assert answer.margin == pytest.approx(worths[0] - worths[1])
    tab = answer.parts[0]
    assert tab.parts == ["lamp-door-tab"]
    assert {one.kind for one in tab.options} == {"keep", "mend", "take", "buy"}
    assert all(len(one.works) == 1 and 0.0 <= one.works[0] <= 1.0 for one in tab.options)
    best = next(one for one in tab.options if one.chosen)
    assert best.worth == pytest.approx(worths[0])
    assert best.cautions
    shown = unit("parts", "U1", "--most", "1").output
    assert shown.startswith("BEST  Work on it: worth EUR ")
    assert f"lamp-door-tab: {show.chance(tab.p_blocks)} likely to stop something" in shown
    assert "D1 still holds it" in " ".join(shown.split())
    assert f"{len(answer.parts) - 1} more suspects" in shown
