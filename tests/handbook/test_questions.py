"""Twenty questions as a repairer asks them, written down before they were tried: the words find the page, the values
get the answer.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from knowngood.handbook.book import ask, find

Given = dict[str, str]

RUN = [(0, 25), (90, 150), (180, 200), (205, 217), (235, 242), (245, 266), (255, 242), (275, 217), (340, 60)]
"""Corners of a measured temperature log: seconds, degrees; too hot at its peak."""

LOG = "time s,temperature degC\n" + "\n".join(
    f"{time},{low + (high - low) * (time - begin) / (end - begin):.1f}"
    for (begin, low), (end, high) in pairwise(RUN)
    for time in range(begin, end)
)

QUESTIONS: list[tuple[str, str, Given, str]] = [
    (
        "how long until the capacitor is safe to touch",
        "discharge-time",
        {"capacitance": "330 uF", "voltage": "400 V", "resistor": "2k2"},
        "1.377 s",
    ),
    (
        "what wire replaces this burnt trace",
        "jumper",
        {"width": "0.5 mm", "length": "20 mm", "current": "1 A"},
        "AWG 34",
    ),
    ("what do the characters 01C on this resistor say", "resistor-mark", {"mark": "01C"}, "10 kohm"),
    (
        "is 4.62 V on a 5 V rail a fault or the meter",
        "conformity",
        {"reading": "4.62 V", "low": "4.75 V", "high": "5.25 V", "uncertainty": "20 mV"},
        "outside",
    ),
    (
        "how hot will the chip run with that paste",
        "interface",
        {"bond_line": "50 um", "conductivity": "3 W/mK", "area": "15 x 15 mm", "power": "30 W"},
        "2.222 K",
    ),
    ("what does 104 on this capacitor mean", "capacitor-mark", {"mark": "104"}, "100 nF"),
    (
        "may a 25 V capacitor stand in for a 16 V one",
        "electrolytic-fits",
        {
            **{"old_capacitance": "470 uF", "new_capacitance": "470 uF", "old_voltage": "16 V", "new_voltage": "25 V"},
            **{"old_temperature": "105 degC", "new_temperature": "85 degC"},
        },
        "does not fit",
    ),
    (
        "what voltage should this regulator put out from its divider",
        "feedback-output",
        {"reference": "0.8 V", "upper": "10k2", "lower": "3k24"},
        "3.319 V",
    ),
    ("was my reflow profile good", "profile", {"log": LOG, "alloy": "SAC305", "body_limit": "260 C"}, "1 outside"),
    (
        "how long may this level 3 chip lie open",
        "floor-life",
        {"level": "3", "exposed": "9 days"},
        "exceeded: bake it before soldering",
    ),
    (
        "0.4 V on the CC pin of the USB-C socket, what does the charger offer",
        "contact",
        {"contact": "0.4 V"},
        "default USB",
    ),
    (
        "how tight do I turn an M2 screw into plastic",
        "screw-into-plastic",
        {"diameter": "2 mm", "stripping": "25 cN m"},
        "12.5 cN m",
    ),
    (
        "is the earth resistance of this lead good enough",
        "earth-path",
        {"earth": "0.21 ohm", "cord": "1.5 m", "error": "5 %"},
        "at most 0.117 ohm",
    ),
    ("the cell reads 2.1 V, may I charge it", "cell-voltage", {"cell": "2.1 V"}, "below its end of discharge"),
    (
        "how long must I soak test a fault that shows once an hour",
        "soak-time",
        {"shows_every": "1 h", "cycle": "10 min"},
        "2.996 h",
    ),
    (
        "where on the board is the short from the millivolts",
        "short-on-trace",
        {"places": "0, 10, 20, 30 mm", "drops": "12.41, 9.98, 7.6, 5.22 mV", "flat": "2.8 mV"},
        "40.06 mm",
    ),
    (
        "what does the 10k thermistor read at 60 degrees",
        "ntc-resistance",
        {"at_25": "10k", "beta": "3380", "temperature": "60 degC"},
        "3.039 kohm",
    ),
    (
        "how long will this electrolytic last at 65 degrees",
        "electrolytic-life",
        {"rated_life": "5000 h", "rated_temperature": "105 degC", "temperature": "65 degC"},
        "80000 h",
    ),
    ("at what temperature does this solder melt", "alloy", {"alloy": "Sn42Bi58"}, "138 degC"),
    (
        "how many of the units I sell will come back",
        "returns-by-record",
        {"sold": "60", "returned": "3", "units": "40"},
        "2.295",
    ),
]


@pytest.mark.parametrize(("question", "page", "given", "answer"), QUESTIONS, ids=[one[1] for one in QUESTIONS])
def test_a_repairer_finds_the_page_and_gets_the_answer(question: str, page: str, given: Given, answer: str) -> None:
    assert page in [one.name for one in find(question)[:4]]
    [found] = ask(page, given).answers
    said = [value.text() for row in found.results for value in row]
    assert any(answer in text for text in said), said
    assert found.formula.page.source


def test_there_are_twenty() -> None:
    assert len({page for _, page, _, _ in QUESTIONS}) == 20
