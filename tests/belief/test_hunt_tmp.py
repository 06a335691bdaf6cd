"""Belief against a sum over every course of events on drawn devices, and what must hold on any device."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass

import devices as dv
import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from oracle import Joint

from knowngood.belief.believe import Belief, believe
from knowngood.belief.what_if import SOMETHING_ELSE, Query, ask, query_look, query_test
from knowngood.errors import ContradictionError
from knowngood.log import events as ev
from knowngood.log.state import Replay
from knowngood.maps.device import Device, FunctionLevel, PartModes, RailToGround, RailVoltage
from knowngood.belief import sensing

LARGEST = 2**16
Donors = Mapping[int, NDArray[np.float64]]


def drawn(count: int) -> settings:
    slow = [HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much]
    return settings(max_examples=count, deadline=None, suppress_health_check=slow)


@dataclass(frozen=True)
class Case:
    """A device, a log, and what came from donors; shown by its log and the parts and functions in question."""

    device: Device
    events: tuple[ev.Event, ...]
    donors: Donors

    @property
    def replay(self) -> Replay:
        return dv.log(self.device, self.events)

    def __repr__(self) -> str:
        shown = ["", *(ev.render(event) for event in self.events), *map(str, self.donors.items())]
        tables = (self.device.parts, self.device.functions, self.device.tests)
        shown += [f"{_short(one)}" for table in tables for one in table.values()]
        return "\n    ".join([*shown, f"{self.device.married} unknown {self.device.unknown}"])


def _short(thing: object) -> str:
    """A table with only what is not empty."""
    if is_dataclass(thing) and not isinstance(thing, type):
        values = ((one.name, getattr(thing, one.name)) for one in fields(thing))
        return ", ".join(f"{name} {_short(value)}" for name, value in values if value not in (None, (), False, "drawn"))
    return str(tuple(map(_short, thing))) if isinstance(thing, tuple) else str(thing)


@st.composite
def cases(draw: st.DrawFn, parts: int = 5, functions: int = 4, most: int = 2**9) -> Case:
    device = draw(dv.devices(parts, functions, most))
    events = tuple(draw(dv.logs(device)))
    donors = {}
    for line in dv.log(device, events).lines:
        if isinstance(line.event, ev.Fitted) and line.event.origin == "D1":
            count = len(device.parts[line.event.part].states)
            weights = np.array(draw(st.lists(st.integers(1, 5), min_size=count, max_size=count)), float)
            donors[line.seq] = weights / weights.sum()
    return Case(device, events, donors)


def jointly(case: Case) -> Joint:
    joint = Joint(case.device, case.replay, case.donors)
    assume(joint.size <= LARGEST)
    return joint


def believed(case: Case, *more: str, tests: bool = False) -> Belief:
    """The belief of a case, with more lines at its end."""
    replay = dv.log(case.device, [*case.events, *more])
    return believe(case.device, replay, donors=case.donors, tests=case.device.tests.values() if tests else ())


@drawn(1500)
@given(cases())
def test_belief_is_the_sum_over_every_course_of_events(case: Case) -> None:
    joint = jointly(case)
    if joint.total == 0.0:
        with pytest.raises(ContradictionError):
            believed(case)
        return
    belief = believed(case)
    assert belief.log_evidence == pytest.approx(joint.log_evidence, rel=1e-12, abs=1e-12)
    for suspect in belief.suspects:
        expected = joint.posterior(suspect.part)
        assert list(suspect.modes.values()) == pytest.approx(list(expected[1:]), rel=1e-10, abs=1e-12), suspect.part
        assert suspect.p_bad == pytest.approx(expected[1:].sum(), rel=1e-10, abs=1e-12), suspect.part
        assert suspect.p_blocks == pytest.approx(joint.p_blocks(suspect.part), rel=1e-10, abs=1e-12), suspect.part
    assert belief.known_good == pytest.approx(joint.known_good(), rel=1e-10, abs=1e-12)
    for function, chance in belief.unknown.items():
        assert chance == pytest.approx(joint.unknown(function), rel=1e-10, abs=1e-12)
