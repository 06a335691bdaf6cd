"""Chances that a hand leaves a connection wrong, against the published values that they are anchored on.

Published: E. Hollnagel, Cognitive Reliability and Error Analysis Method, CREAM (1998), nominal failure probabilities of
cognitive functions, execution. That making a connection is such an action, and that a check-off line leaves a tenth,
is the project's own bench mapping: common practice, no source.
"""

from __future__ import annotations

import pytest

from knowngood.handbook import human_error

CREAM_EXECUTION = {
    "action missed": 0.03,
    "action of wrong type": 0.003,
    "action at wrong time": 0.003,
    "action out of sequence": 0.003,
    "action on wrong object": 0.0005,
}
"""Nominal values (Hollnagel 1998)."""


def test_a_connection_left_unseated_is_the_action_missed() -> None:
    assert CREAM_EXECUTION["action missed"] == human_error.UNSEATED_PER_TOUCH


def test_a_connection_made_the_wrong_way_round_is_the_action_of_wrong_type() -> None:
    assert CREAM_EXECUTION["action of wrong type"] == human_error.REVERSED_PER_TOUCH


def test_the_check_off_line_takes_it_to_the_figure_of_the_bench_mapping() -> None:
    """0.03 blind to 0.003 with one check-off line a connector: common practice, no source."""
    assert pytest.approx(0.003) == human_error.UNSEATED_PER_TOUCH * human_error.CHECKED_FACTOR


def test_the_module_says_what_is_published_and_what_is_judgement() -> None:
    assert human_error.__doc__
    assert "CREAM (1998)" in human_error.__doc__
    assert "common practice, no source" in human_error.__doc__
