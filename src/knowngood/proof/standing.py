"""What stands in the present state of a unit: what passed and what failed, what masks others, a start from cold.

An act on the unit (``log.state.ACTS``) ends all that was shown of its functions; a test of a part stands as long as
the part is as it was.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import inf

from knowngood.belief.believe import Belief
from knowngood.belief.evaluate import World, behave
from knowngood.belief.story import split_by
from knowngood.log import events as ev
from knowngood.log.state import ACTS, Line, Replay, State, minutes_between
from knowngood.maps.device import AnyMode, Device, FunctionLevel, PartModes, Test
from knowngood.maps.words import Level

REST = 8 * 60.0
"""Minutes without power after which a start counts as one from cold: a night (common practice, no source)."""

Tests = frozenset[str]


@dataclass(frozen=True)
class Masked:
    """A promised function that nobody can judge, and the functions or parts that hide it."""

    function: str
    by: tuple[str, ...]


@dataclass(frozen=True)
class Standing:
    """What has been shown, and what keeps more from being shown."""

    passed: Tests
    """Tests of functions that passed since the last act, with the unit closed and whole."""
    found_fine: Tests
    """Tests of parts that passed with the parts as they are now."""
    failing: tuple[str, ...]
    """Promised functions that did not work fully when last tried since the last act."""
    masked: tuple[Masked, ...]
    dark: frozenset[str]
    """Functions that cannot be good now: declared, failing or masked, and all that rests on them."""
    started_cold: bool
    """A start from cold was among what passed."""
    lain: float
    """Minutes since the unit last had power."""


def standing(belief: Belief, told: Replay) -> Standing:
    """What stands after a log."""
    device, state = belief.device, told.state
    last = _last_outcomes(device, told)
    works = {test: outcome == device.tests[test].outcomes[0] for test, outcome in last.items()}
    failed = {_function(device.tests[test]) for test, passed in works.items() if not passed} - state.proven
    whole = is_whole(state)
    cold, lain = _cold_start(device, told)
    masked, dark = _masked(device, state, belief.wanted, failed)
    return Standing(
        frozenset(test for test, passed in works.items() if passed and whole),
        frozenset(
            test.id
            for test in device.tests.values()
            if isinstance(test.senses, (PartModes, AnyMode)) and belief.outcome_in_this_state(test) == test.outcomes[0]
        ),
        tuple(one for one in belief.wanted if one in failed),
        masked,
        dark,
        cold and whole,
        lain,
    )


def shown_by(device: Device, told: Replay, stands: Standing) -> dict[str, Line]:
    """By function that was shown to work as the unit is now: the last line that shows it."""
    found = {}
    for line in told.lines:
        if isinstance(line.event, (ev.Tried, ev.Found)) and line.event.test in stands.passed:
            test = device.tests[line.event.test]
            if _function(test) in told.state.proven and line.event.outcome == test.outcomes[0]:
                found[_function(test)] = line
    return found


def last_tries(device: Device, told: Replay) -> dict[str, Line]:
    """By function the last line that tried it, whatever was done since."""
    found = {}
    for line in told.lines:
        if isinstance(line.event, (ev.Tried, ev.Found)):
            senses = device.tests[line.event.test].senses
            if isinstance(senses, FunctionLevel):
                found[senses.function] = line
    return found


def in_words(device: Device, function: str) -> str:
    """A function in the words of the map, or its name if the map does not know it."""
    return device.functions[function].what if function in device.functions else function


def is_whole(state: State) -> bool:
    """Whether the unit is closed, with everything in it that goes back."""
    return not (state.ajar or state.unplugged or state.loose or state.removed - state.harvested)


def _function(test: Test) -> str:
    assert isinstance(test.senses, FunctionLevel)
    return test.senses.function


def _last_outcomes(device: Device, told: Replay) -> dict[str, str]:
    """By test of a function what it gave last, since the last act on the unit, the latest last."""
    found: dict[str, str] = {}
    for line in told.lines:
        if isinstance(line.event, ACTS):
            found = {}
        elif isinstance(line.event, (ev.Tried, ev.Found)):
            test = device.tests[line.event.test]
            if isinstance(test.senses, FunctionLevel):
                found.pop(test.id, None)
                found[test.id] = line.event.outcome
    return found


def is_start(test: Test) -> bool:
    """Whether a test starts the unit, cold if it has rested."""
    return test.power != "off" and test.feeds is None


def _cold_start(device: Device, told: Replay) -> tuple[bool, float]:
    """Whether a test that needs no warmth passed right after a rest, with no act on the unit since; and for how many
    minutes the unit has had no power. What it did before it came in is not known: then it counts as rested."""
    cold, rested = False, inf
    before: Line | None = None
    for line in told.lines:
        rested += _rest(before, line)
        if isinstance(line.event, ACTS):
            cold = False
        elif isinstance(line.event, (ev.Tried, ev.Found, ev.Read)):
            test = device.tests[line.event.test]
            if is_start(test):
                passed = not isinstance(line.event, ev.Read) and line.event.outcome == test.outcomes[0]
                if isinstance(test.senses, FunctionLevel) and not test.warm and passed and rested >= REST:
                    cold = True
                rested = 0.0
        before = line
    return cold, rested + (minutes_between(told.lines[-1].time, told.now) if told.now and told.lines else 0.0)


def _rest(before: Line | None, line: Line) -> float:
    """Minutes from one line to the next: by their times, or what the second says was waited if that is more."""
    waited = line.event.wait if isinstance(line.event, ev.Waited) else 0.0
    return max(waited, minutes_between(before.time, line.time) if before else 0.0)


def _masked(
    device: Device, state: State, wanted: Iterable[str], failed: Iterable[str]
) -> tuple[tuple[Masked, ...], frozenset[str]]:
    """Promised functions that cannot be good while others are not, or parts are not there, and all that cannot be."""
    stopped = (state.declared & device.functions.keys()) | frozenset(failed)
    gone = state.harvested
    split = split_by(device, state)

    def levels(functions: frozenset[str], parts: frozenset[str], parted: frozenset[str]) -> dict[str, Level]:
        return behave(device, World(unknown=functions, absent=parts, split=parted)).level

    everything = levels(stopped, gone, split)
    dark = frozenset(name for name, level in everything.items() if level < Level.GOOD)
    alone = {
        **{one: levels(frozenset({one}), frozenset(), frozenset()) for one in sorted(stopped)},
        **{one: levels(frozenset(), frozenset({one}), frozenset()) for one in sorted(gone)},
    }
    found = []
    for name in wanted:
        if name not in dark or name in stopped or name in state.proven:
            continue
        by = [one for one, level in alone.items() if level[name] < Level.GOOD]
        by += [part for married in device.married if name in split for part in married.parts if name in married.spoils]
        found.append(Masked(name, tuple(dict.fromkeys(by)) or tuple(alone)))
    return tuple(found), dark
