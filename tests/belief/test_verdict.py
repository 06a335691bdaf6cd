"""What a reading says by itself, and what meters and known-good units make of the belief."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from knowngood.belief import sensing
from knowngood.belief.believe import Belief, believe
from knowngood.belief.sensing import Measuring
from knowngood.belief.verdict import Verdict, verdict
from knowngood.handbook.book import ask
from knowngood.handbook.quantities import parse_reading
from knowngood.handbook.readings import DEFAULT_METER, DIODE_SHORT, Meter, Reference, parse_ranges
from knowngood.log.lines import understand
from knowngood.log.state import Line, State, replay
from knowngood.maps import load
from knowngood.maps.device import Device

PROJECTOR = load("ceiling-projector")
HAND_HELD = load("some-battery-device")
COARSE = Meter(parse_ranges("60 V 5 % + 9", "V"), DEFAULT_METER.ohms, DEFAULT_METER.diode, DEFAULT_METER.amps, 600)
FOUR = Reference(12.04, 0.05, 4)


def judged(reading: str, known: Reference | None = None, test: str = "rail-12v", device: Device = PROJECTOR) -> Verdict:
    measuring = Measuring(references={test: known} if known else {})
    return verdict(device, device.tests[test], reading, measuring=measuring, seq=7)


def after(*texts: str, measuring: Measuring = sensing.BY_THE_MAP, device: Device = PROJECTOR) -> Belief:
    events = [understand(device, State(), one) for one in ("bought x for EUR 1", *texts)]
    log = replay(device, [Line(seq, "", event) for seq, event in enumerate(events, start=1)])
    return believe(device, log, measuring=measuring)


def p_bad(belief: Belief, part: str) -> float:
    return next(one.p_bad for one in belief.suspects if one.part == part)


@pytest.mark.parametrize(
    ("reading", "known", "flag"),
    [
        ("0.03 V", FOUR, "rail-12v 0.03 V: map says 12 V +/- 5 %, 4 known-good units read 12.04 V (MAD 50 mV)"),
        (
            "12.55 V",
            FOUR,
            "rail-12v 12.55 V fits the map only: map says 12 V +/- 5 %, 4 known-good units read 12.04 V (MAD 50 mV)",
        ),
        (
            "13.4 V",
            Reference(13.3, 0.1, 3),
            "rail-12v 13.4 V fits the known-good units only: map says 12 V +/- 5 %, 3 known-good units read 13.3 V "
            "(MAD 100 mV)",
        ),
        ("0.03 V", Reference(12.0, 0.0, 1), "rail-12v 0.03 V: map says 12 V +/- 5 %, 1 known-good unit reads 12 V"),
        ("OL V", FOUR, "rail-12v OL V: map says 12 V +/- 5 %, 4 known-good units read 12.04 V (MAD 50 mV)"),
        ("12.1 V", FOUR, None),
        ("-12.1 V", FOUR, None),
        ("12.55 V", Reference(12.0, 0.0, 2), None),  # too few to judge by, and the map agrees
        ("0.03 V", None, None),
        ("11.35 V", None, None),
    ],
)
def test_a_reading_that_disagrees_is_flagged_in_one_line(
    reading: str, known: Reference | None, flag: str | None
) -> None:
    assert judged(reading, known).flag == flag


@pytest.mark.parametrize(
    ("test", "reading", "zone", "fits_map"),
    [
        ("rail-12v", "0.03 V", "absent", False),
        ("rail-12v", "9.8 V", "low", False),
        ("rail-12v", "12.1 V", "in tolerance", True),
        ("rail-12v", "15 V", "high", False),
        ("rail-12v-to-ground", "0.3 ohm", "shorted", False),
        ("rail-12v-to-ground", "OL ohm", "open", True),
        ("rail-12v-to-ground", "4k7 ohm", "in tolerance", True),
    ],
)
def test_the_zone_is_named(test: str, reading: str, zone: str, fits_map: bool) -> None:
    found = judged(reading, test=test)
    assert (found.zone, found.fits_map, found.seq) == (zone, fits_map, 7)


def test_a_reading_just_outside_the_limits_is_not_called_a_disagreement() -> None:
    """11.35 V on 11.4 V to 12.6 V: u = 0.0501 V, so that it is rejected only below 11.4 V - 2 u."""
    assert judged("11.35 V").fits_map
    assert not judged("11.25 V").fits_map


@pytest.mark.parametrize(
    ("test", "readings"),
    [
        (
            "rail-12v",
            ("0.03 V", "11.2 V", "11.35 V", "11.45 V", "11.52 V", "12 V", "12.49 V", "12.59 V", "12.65 V", "15 V"),
        ),
        ("rail-3v3", ("3.10 V", "3.13 V", "3.15 V", "3.2 V", "3.46 V", "3.6 V")),
        ("rail-12v-to-ground", ("0.3 ohm", "70 ohm", "95 ohm", "115 ohm", "4k7 ohm", "150 kohm")),
    ],
)
def test_the_log_and_the_handbook_say_the_same_of_a_reading(test: str, readings: tuple[str, ...]) -> None:
    said = set()
    model = sensing.reading_model(PROJECTOR, PROJECTOR.tests[test], high=True)
    for text in readings:
        of_log, read = judged(text, test=test), parse_reading(text)
        unit, limits = read.unit, of_log.expected
        figures = {"reading": read.value, "uncertainty": model.uncertainty(read.value, read.digit)}
        figures |= {"low": limits.low, "high": limits.high}
        ((row,),) = [one.results for one in ask("conformity", {k: f"{v!r} {unit}" for k, v in figures.items()}).answers]
        by_name = {one.name: one.value for one in row}
        assert by_name["verdict"] == of_log.conformity
        assert by_name["chance"] == pytest.approx(of_log.zones["in tolerance"] / (1.0 - model.slip), abs=1e-12)
        assert of_log.fits_map == (by_name["verdict"] != "outside")
        assert of_log.conformity == "cannot be told" or (of_log.zone == "in tolerance") == (
            of_log.conformity == "inside"
        )
        said.add(of_log.conformity)
    assert said == {"inside", "cannot be told", "outside"}


# ---- in the belief ----


def test_the_meter_at_the_time_of_a_line_is_the_one_that_counts() -> None:
    lines = ("opened cover-off", "read rail-12v 11.0 V")
    good, bad = after(*lines), after(*lines, measuring=Measuring(COARSE))
    at_the_time = after(*lines, measuring=Measuring(COARSE, {3: DEFAULT_METER}))
    assert p_bad(bad, "supply-12v") < p_bad(good, "supply-12v")
    assert p_bad(at_the_time, "supply-12v") == pytest.approx(p_bad(good, "supply-12v"), rel=1e-12)


def test_known_good_units_that_read_the_same_clear_a_rail_outside_the_map() -> None:
    lines = ("opened cover-off", "read rail-12v 11.0 V")
    known = Measuring(references={"rail-12v": Reference(11.02, 0.03, 6)})
    assert p_bad(after(*lines, measuring=known), "supply-12v") < 0.2 * p_bad(after(*lines), "supply-12v")


def test_what_a_question_expects_has_the_references_in_it() -> None:
    known = Measuring(references={"rail-12v": Reference(13.3, 0.02, 6)})
    test = PROJECTOR.tests["rail-12v"]
    with_them, without = (after(measuring=one).table(test) for one in (known, sensing.BY_THE_MAP))
    assert with_them.sum(axis=1) == pytest.approx(np.ones(len(with_them)))
    assert with_them[2, 3] > 0.5 > without[2, 3]


# ---- diode mode ----


def test_diode_mode_senses_a_short_as_the_resistance_does() -> None:
    shorted, clear, none = (
        after(*lines, device=HAND_HELD) for lines in (["read io-rail-diode 0.003 V"], ["read io-rail-diode 0.42 V"], [])
    )
    assert p_bad(shorted, "io-ceramics") > 20 * p_bad(none, "io-ceramics")
    assert p_bad(clear, "io-ceramics") < p_bad(none, "io-ceramics")


def test_a_short_in_diode_mode_is_a_known_short() -> None:
    def rails(reading: str) -> frozenset[str]:
        event = understand(HAND_HELD, State(), f"io rail diode {reading}")
        return replay(HAND_HELD, [Line(1, "", event)]).state.shorted

    assert rails("0.003") == {"io-rail"}
    assert rails("0.42") == rails("OL") == frozenset()


@pytest.mark.parametrize("test", ["io-rail", "io-rail-to-ground", "io-rail-diode"])
def test_drawn_readings_fall_in_a_state_as_often_as_its_table_says(test: str) -> None:
    """4000 draws: four standard errors of a share are at most 0.032."""
    draw = np.random.default_rng(5)
    of = HAND_HELD.tests[test]
    states = sensing.reading_states(HAND_HELD, of)
    table = sensing.reading_table(HAND_HELD, of)
    spans = sensing.reading_model(HAND_HELD, of).spans
    ordered = sorted(states, key=lambda one: spans[one].low)
    ends = [spans[one] for one in ordered]
    borders = [(left.high + right.low) / 2 for left, right in pairwise(ends)]
    for row, state in enumerate(states):
        counts = dict.fromkeys(states, 0)
        for _ in range(4000):
            value = parse_reading(sensing.sample_reading(HAND_HELD, of, state, draw)).value
            place = np.log10(max(value, 1e-9)) if of.id.endswith("ground") else value
            counts[ordered[int(np.searchsorted(borders, place))]] += 1
        shares = np.array([counts[one] / 4000 for one in states])
        assert shares == pytest.approx(table[row], abs=0.032), state
    assert DIODE_SHORT < 0.2
