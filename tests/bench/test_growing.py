"""A map grown from a first teardown has the structure of the device; a second only adds to it and contradicts it."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from knowngood.bench import work
from knowngood.bench.growing import Growth, grown
from knowngood.bench.questions import belief_of
from knowngood.bench.store import Store
from knowngood.errors import LineError, MapError, NotFoundError
from knowngood.log.fasteners import sorts
from knowngood.maps import Device, load
from knowngood.maps.naming import proposed_kind

TRUTH = load("ceiling-projector")
STARTER = load("some-mains-device")


def teardown(truth: Device, starter: Device, draw: random.Random) -> list[str]:
    """The lines of a drawn teardown: steps in an order that the device allows, each with what lies behind it."""
    lines: list[str] = []
    opened: list[str] = []
    coming = {name: step.id for step in truth.steps.values() for name in (*step.unplugs, *step.removes)}

    def meet(behind: str | None) -> None:
        parts = [part for part in truth.parts.values() if part.behind == behind]
        draw.shuffle(parts)
        for part in parts:
            said = [f" behind {behind}"] if behind and (part.id in coming or draw.random() < 0.5) else []
            if behind and not said and opened[-1] != behind:
                said = [f" behind {behind}"]
            if part.is_connection:
                latch = f" latch {part.latch}" if part.latch else ""
                said += [latch, " reversible" if part.reversible else ""]
            lines.append(f"met {'plug' if part.is_connection else 'part'} {part.id}{''.join(said)}")

    meet(None)
    while left := [one for one in truth.steps.values() if one.id not in opened and set(one.after) <= set(opened)]:
        step = draw.choice(left)
        by_order = list(step.after) == opened[-1:]
        behind = f" behind {' and '.join(step.after)}" if step.after and not (by_order and draw.random() < 0.5) else ""
        if step.id in starter.steps and by_order:
            lines.append(f"opened {step.id} in {step.open_minutes:g} min")
        else:
            lines.append(f"met step {step.id}{behind} in {step.open_minutes:g} min")
        counts = list(sorts(step).items())
        draw.shuffle(counts)
        lines += [f"unscrewed {step.id} {count} x {sort}" for sort, count in counts]
        opened.append(step.id)
        meet(step.id)
    for name, step in coming.items():
        sort = "plug" if truth.parts[name].is_connection else "part"
        behind = truth.parts[name].behind
        lines.append(f"met {sort} {name}{f' behind {behind}' if behind else ''} with {step}")
    return [
        *lines,
        *(f"met plug {one.id} joins {' and '.join(one.joins)}" for one in truth.parts.values() if one.joins),
    ]


def grow_one(store: Store, map_: str, lines: list[str], yes: list[str], into: Path | None = None) -> Growth:
    unit = work.new_unit(store, map_, "EUR 20")
    work.log_lines(store, unit, lines)
    return grown(store, unit, yes, into)


@pytest.mark.parametrize("seed", range(4))
def test_a_drawn_teardown_gives_back_precedence_fasteners_and_connections(
    store: Store, tmp_path: Path, seed: int
) -> None:
    lines = teardown(TRUTH, STARTER, random.Random(seed))
    yes = [f"{part.id}={part.kind}" for part in TRUTH.parts.values()]
    found = grow_one(store, "some-mains-device", lines, yes, tmp_path / "grown.yaml")
    device = load(str(tmp_path / "grown.yaml"))
    assert found.grown.left_out == ()
    assert {conflict.what.split(" of ")[0] for conflict in found.grown.conflicts} <= {"kind"}
    for step in TRUTH.steps.values():
        again = device.steps[step.id]
        assert set(again.after) == set(step.after)
        assert sorts(again) == sorts(step)
        assert again.open_minutes == step.open_minutes
        assert set(again.unplugs) == set(step.unplugs)
        assert set(again.removes) == set(step.removes)
    for part in TRUTH.parts.values():
        kept = device.parts[part.id]
        assert (kept.joins, kept.latch, kept.reversible) == (part.joins, part.latch, part.reversible)
        assert part.behind is None or kept.behind == part.behind
    second = grow_one(store, str(tmp_path / "grown.yaml"), lines, yes)
    assert second.grown.changed == second.grown.text
    assert {conflict.what.split(" of ")[0] for conflict in second.grown.conflicts} <= {"kind"}


def test_names_propose_the_kinds_that_two_maps_give_or_none() -> None:
    for name, least in (("ceiling-projector", 0.6), ("pocket-navigator", 0.6)):
        parts = load(name).parts.values()
        proposed = [(proposed_kind(part.id, plug=part.is_connection), part.kind) for part in parts]
        right = sum(kind == truth for kind, truth in proposed)
        assert right / len(proposed) > least, (right, len(proposed))


FIRST = [
    "met step lid-off in 4 min",
    "unscrewed lid-off 3 x M3x8",
    "opened cover-off",
    "met part side-fan",
    "met part thing",
    "met plug side-fan-lead with cover-off joins side-fan and main-board",
]


def test_a_part_comes_in_only_with_a_yes(store: Store, tmp_path: Path) -> None:
    found = grow_one(store, "some-mains-device", FIRST, []).grown
    assert [(one.name, one.kind, one.taken) for one in found.proposals] == [
        ("side-fan", "fan", False),
        ("side-fan-lead", "wire-lead", False),
    ]
    assert found.left_out == (
        ("side-fan", "nobody said what kind it is: --yes side-fan=fan"),
        ("thing", "nobody said what kind it is: --yes thing=KIND"),
    )
    assert "'side-fan-lead' joins 'side-fan', too, which is left out." in found.assumed
    assert "  side-fan:" not in found.changed
    agreed = grown(store, "U1", ["all"], tmp_path / "grown.yaml").grown
    assert [one.name for one in agreed.proposals if one.taken] == ["side-fan", "side-fan-lead"]
    device = load(str(tmp_path / "grown.yaml"))
    assert device.id == "grown"
    assert not device.starter
    assert device.parts["side-fan"].kind == "fan"
    assert {"side-fan", "side-fan-lead"} <= set(device.functions["all-else"].needs)
    assert "thing" not in device.parts
    again = grown(store, "U1", ["thing=sensor"], tmp_path / "grown.yaml").grown  # the file grows, not the starter
    assert again.conflicts == ()
    assert "thing" in load(str(tmp_path / "grown.yaml")).functions["all-else"].needs


def test_comments_and_all_else_of_a_starter_stay(store: Store) -> None:
    found = grow_one(store, "some-mains-device", FIRST, ["all"]).grown
    taken_out = [line for line in found.text.splitlines() if line not in found.changed.splitlines()]
    assert taken_out == ["map: some-mains-device", "starter: true", "what: Some device on mains"]


@pytest.mark.parametrize(
    ("line", "what", "map_says", "log_says"),
    [
        ("met step lid-off behind cover-off", "order of 'lid-off'", "after no other", "after cover-off"),
        ("met step cover-off", "order of 'cover-off'", "after lid-off", "before lid-off"),
        ("unscrewed lid-off 2 x M3x8", "fasteners of 'lid-off'", "3 x M3x8", "2 x M3x8"),
        ("unscrewed lid-off 3 x M4x8", "fasteners of 'lid-off'", "none of M4x8: 3 x M3x8", "3 x M4x8"),
        ("met part side-fan as motor", "kind of 'side-fan'", "fan", "motor"),
        ("met part side-fan behind board-up", "behind of 'side-fan'", "cover-off", "board-up"),
        ("met plug side-fan-lead with board-up", "unplugs of 'side-fan-lead'", "with cover-off", "with board-up"),
        ("met plug side-fan-lead joins fan", "joins of 'side-fan-lead'", "side-fan and main-board", "fan"),
    ],
)
def test_a_second_teardown_contradicts_and_does_not_overwrite(
    store: Store, tmp_path: Path, line: str, what: str, map_says: str, log_says: str
) -> None:
    into = tmp_path / "grown.yaml"
    grow_one(store, "some-mains-device", [*FIRST, "met step board-up behind cover-off"], ["all"], into)
    found = grow_one(store, str(into), [line], []).grown
    assert found.changed == found.text
    [conflict] = found.conflicts
    assert (conflict.what, conflict.map_says, conflict.seq, conflict.log_says) == (what, map_says, 2, log_says)
    number = int(conflict.place.split(":")[1])
    assert conflict.place.startswith("map grown:")
    assert conflict.what.split("'")[1] in "\n".join(found.text.splitlines()[number - 12 : number])


@pytest.mark.parametrize(
    "lines",
    [
        ["opened lid-off", "unscrewed lid-off 3"],
        ["met step lid-off", "unscrewed lid-off 2", "unscrewed lid-off 1 x M3x8", "met step cover-off"],
        [
            "met part side-fan as fan behind lid-off",
            "met plug side-fan-lead with cover-off joins main-board and side-fan",
        ],
        ["opened cover-off in 9 min", "closed all"],
    ],
)
def test_where_a_second_teardown_agrees_it_is_silent(store: Store, tmp_path: Path, lines: list[str]) -> None:
    into = tmp_path / "grown.yaml"
    grow_one(store, "some-mains-device", FIRST, ["all"], into)
    found = grow_one(store, str(into), lines, []).grown
    assert (found.conflicts, found.changed) == ((), found.text)


def test_what_was_met_changes_nothing_that_is_believed_or_open(store: Store) -> None:
    unit = work.new_unit(store, "some-mains-device", "EUR 20")
    before = belief_of(store, unit)[0].suspects
    work.log_lines(store, unit, FIRST[:2] + FIRST[3:5])
    assert belief_of(store, unit)[0].suspects == before
    assert work.replayed(store, unit)[1].state.open_steps == frozenset()


@pytest.mark.parametrize(
    ("yes", "error", "message"),
    [
        ("side-fan", LineError, "'side-fan' is no yes. Say NAME=KIND, as exhaust-fan=fan, or all."),
        ("side-fam=fan", NotFoundError, "No part or plug 'side-fam' was met. Similar: 'side-fan'"),
        ("side-fan=fam", NotFoundError, "No part kind 'fam' for 'side-fan'. Similar: 'fan'."),
    ],
)
def test_a_yes_that_is_none_is_refused(store: Store, yes: str, error: type[Exception], message: str) -> None:
    with pytest.raises(error, match="^" + message.replace(".", r"\.")):
        grow_one(store, "some-mains-device", FIRST, [yes])


def test_lines_that_make_a_circle_are_refused_with_the_circle(store: Store, tmp_path: Path) -> None:
    lines = ["met step a-off", "met step b-off behind a-off", "met step a-off behind b-off"]
    with pytest.raises(MapError, match="A circle: 'a-off' comes after 'b-off' comes after 'a-off'"):
        grow_one(store, "some-mains-device", lines, [], tmp_path / "grown.yaml")
    assert not (tmp_path / "grown.yaml").exists()


def test_a_file_that_did_not_grow_from_the_map_is_not_written_over(store: Store, tmp_path: Path) -> None:
    other = tmp_path / "other.yaml"
    other.write_text(load("some-battery-device").text, encoding="utf-8")
    with pytest.raises(NotFoundError, match="did not grow from 'some-mains-device': it lacks 'mains-inlet'"):
        grow_one(store, "some-mains-device", FIRST, [], other)
    assert other.read_text(encoding="utf-8") == load("some-battery-device").text
    with pytest.raises(NotFoundError, match=r"'My Radio' is no name: .* Write it into 'my-radio.yaml'."):
        grown(store, "U1", [], tmp_path / "My Radio.yaml")
