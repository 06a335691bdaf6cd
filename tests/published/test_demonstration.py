"""What a clean soak shows of a unit, as the belief and the proof use it, against published figures.

Sources: NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.5.1 (mean time between failures after a test without one:
2 T / chi^2); Bayes' rule (0.3 suspected, caught with 0.8, leaves 0.079); exponential distribution for a fault that
shows once per T (a clean 1 T, 2 T, 3 T: 63, 86, 95 %; the same as a rule of the bench: common practice, no source).
"""

from __future__ import annotations

from dataclasses import replace
from math import exp
from math import log as log_of

import pytest
from small import device, log, part, tried, wanted

from knowngood.belief.believe import believe
from knowngood.handbook.reliability import fault_left
from knowngood.maps.device import Device, Mode
from knowngood.maps.words import Level
from knowngood.proof.returns import shown_by_soak


def flaky(shows_every: float, runs: float) -> Device:
    """A lamp whose plug, if faulty (30 %), shows it once in some minutes; watched for ``runs`` minutes by a test that
    never errs."""
    fault = Mode("poor-contact", "poor contact", 1.0, Level.NONE, shows=shows_every)
    plug = replace(part("plug", base=0.3), modes=(fault,))
    test = tried("light", runs=runs, miss=0.0, false_alarm=0.0)
    return device([plug], [wanted("light", "plug")], [test], unknown=0.0)


def chance(device: Device, *lines: str) -> float:
    """The chance that the plug is faulty after a log."""
    return believe(device, log(device, *lines)).suspects[0].p_bad


@pytest.mark.parametrize(("times", "caught"), [(1.0, 0.63), (2.0, 0.86), (3.0, 0.95)])
def test_a_clean_soak_leaves_of_an_intermittent_fault_what_bayes_rule_leaves(times: float, caught: float) -> None:
    assert 1.0 - exp(-times) == pytest.approx(caught, abs=0.005)
    left = chance(flaky(shows_every=60.0, runs=60.0 * times), "tried light works")
    assert left == pytest.approx(fault_left(suspected=0.3, caught=1.0 - exp(-times)))


def test_the_published_example_of_a_fault_left_after_a_clean_test() -> None:
    """0.3 suspected, a soak long enough to show it with 0.8: 0.079 is left."""
    lamp = flaky(shows_every=60.0, runs=60.0 * log_of(5.0))
    assert chance(lamp) == pytest.approx(0.3)
    assert chance(lamp, "tried light works") == pytest.approx(0.079, abs=0.0005)


def test_ten_clean_minutes_show_little_of_the_time_between_failures() -> None:
    assert shown_by_soak(10.0) == pytest.approx(10.0 / 2.9957, abs=1e-3)  # half of chi^2(0.95; 2)
