"""Did it pass the electrical test after repair, may I work on that live part? All limits: published-limits."""

from __future__ import annotations

from dataclasses import dataclass

from knowngood.errors import RangeError
from knowngood.handbook.formula import formula
from knowngood.handbook.limits import Verdict, judged, limits, undecided

COPPER = 1.724138e-8
"""Resistivity of annealed copper at 20 degC, ohm m (IEC 60028:1925)."""


@dataclass(frozen=True)
class Published:
    quantity: str
    applies_to: str
    limit: str
    rules: str
    source: str


@formula
def published_limits(topic: str, words: str = "") -> tuple[Published, ...]:
    """The published safety limits of a topic, each with its rule set and edition.

    Test after repair, live work (body current, residual-current device, probe tips), lithium cells and their transport,
    lasers, rosin fume, alcohol, lead and static (ESD). Reference values, not a certificate. Limits of two rule sets are
    never mixed. What is second-hand, from memory or common practice says so and decides nothing.

    Formula: a table
    Args:
        topic: what it is about (one of test-after-repair, live-work, cells, transport, lasers, chemicals-and-static)
        words: that a row holds, all of them (text)
    Gives:
        limit: in the notation of its source (text)
        quantity: that it limits (text)
        applies_to: what it holds for (text)
        rules: rule set and edition (text)
        source: where it stands (text)
    Source: of each row, beside it
    Caution: Local wiring rules, workplace law and licensed practice come before every figure here.

    >>> [row.limit for row in published_limits("test-after-repair", "protective-conductor current")]
    ['at most 3.5 mA']
    """
    asked = words.lower().split()
    found = tuple(
        Published(row.quantity, row.applies_to or "all", row.text(), row.rules, row.source)
        for row in limits().values()
        if row.topic == topic
        and all(word in f"{row.id} {row.quantity} {row.applies_to} {row.rules} {row.note}".lower() for word in asked)
    )
    if not found:
        raise RangeError(f"published-limits: no limit of {topic} has the words '{words}'.")
    return found


@dataclass(frozen=True)
class Step:
    step: str
    german: str | None
    british: str | None


@formula
def plan_of_tests(protection: str) -> tuple[Step, ...]:
    """Which tests a unit of a protection class gets after repair, in order, and their limits.

    The supply of a class III unit is of class I or II itself. Classes and the tests of each are from memory, the order
    is confirmed. Routine high-voltage tests of a repaired consumer unit are none of these: they stress the Y capacitors
    and arresters (common practice, no source).

    Formula: a table
    Args:
        protection: class of the unit (one of I, II, III)
    Gives:
        step: of the test (text)
        german: limit by EN 50678 (VDE 0701):2021, or DIN VDE 0701-0702 for currents (text)
        british: limit by the IET Code of Practice, 5th ed. (text)
    Source: DIN VDE 0701-0702 limit tables (order); EN 61140 and IEC 62368-1, from memory (classes); limits as in
        published-limits
    Caution: Local wiring rules, workplace law and licensed practice come first; in many places this test is reserved to
        qualified persons. A pass says nothing of the next owner's use; keep the record.

    >>> [row.step.partition(":")[0] for row in plan_of_tests("II")]
    ['look', 'insulation to touchable metal', 'touch current', 'function', 'record']
    """
    text = {name: row.text() for name, row in limits().items()}
    size = len(protection)
    insulation = text[f"de.r_iso.class{size}"], text.get(f"uk.r_iso.class{size}")
    touch = Step("touch current: on metal that is not earthed", text["de.i_touch"], text["uk.i_leak"])
    measured = {
        "I": (
            Step(
                "earth path: the cord moved along its full length",
                f"{text['de.r_pe']}, cord up to 5 m and 1.5 mm^2",
                f"{text['uk.r_pe']} and the cord's protective conductor",
            ),
            Step("insulation to earth: 500 V d.c.", *insulation),
            Step("protective-conductor current", text["de.i_pe"], text["uk.i_leak"]),
            touch,
        ),
        "II": (Step("insulation to touchable metal: 500 V d.c.", *insulation), touch),
        "III": (
            Step("supply: it is a proper SELV source", None, None),
            Step("insulation: where the rules ask", *insulation),
        ),
    }
    look = Step("look: case, cord, plug, marks, the class claimed and the class found", None, None)
    record = "record: unit, class, rule set and edition, instrument and its check date, cord, readings, name, date"
    return (look, *measured[protection], Step("function", None, None), Step(record, None, None))


@formula
def earth_path(
    earth: float, cord: float, section: float = 1.5e-6, error: float = 0.0, protection: str = "I"
) -> tuple[Verdict, ...]:
    """Whether the protective conductor of a class I unit passes after repair, by cable length.

    Move the cord along its full length while measuring. The British limit grows with the cord's own conductor,
    reckoned as copper at 20 degC; a section not given is taken as thick, which is the strict side.

    Formula: German: R <= 0.3 ohm; British: R <= 0.1 ohm + rho L / A; the tester's error e taken off: R (1 + e) <= limit
    Args:
        earth: measured from the plug's earth pin to the touchable metal (ohm, 0 to 1e6)
        cord: length of the mains cord (m, 0 to 100)
        section: of its protective conductor (m^2, 1e-7 to 1e-5)
        error: the tester's stated error at this reading, digits counted in, as a share of it (1, 0 to 0.5)
        protection: class of the unit (one of I, II, III)
    Gives:
        verdict: by this rule set (text)
        limit: of the rule set (text)
        display: the highest reading that passes (ohm)
        rules: rule set and edition (text)
        source: where the limit stands (text)
    Source: of each row, beside it; rho: IEC 60028:1925
    Caution: Local wiring rules, workplace law and licensed practice come first; in many places this test is reserved to
        qualified persons. A unit that fails here: do not power it, do not sell it, mark it.

    >>> [row.verdict for row in earth_path(earth=0.21, cord=2.0, section=1.0e-6, error=0.05)]
    ['pass', 'FAIL']
    """
    if protection != "I":
        raise RangeError(
            f"earth-path: class {protection} does not rely on an earth; an earth pin of class II may be functional "
            "only. Measure insulation and touch current."
        )
    conductor = COPPER * cord / section
    british = f"at most {0.1 + conductor:.3g} ohm: 0.1 ohm and {conductor:.3g} ohm of the cord"
    return (
        judged("de.r_pe", earth, error, "ohm")
        if cord <= 5.0 and section <= 1.5e-6
        else undecided("de.r_pe", "its limit here holds for a cord up to 5 m and 1.5 mm^2"),
        judged("uk.r_pe", earth, error, "ohm", added=conductor, limit=british),
    )


@formula
def insulation_test(
    insulation: float, protection: str, heater: bool = False, error: float = 0.0
) -> tuple[Verdict, ...]:
    """What an insulation reading after repair stands beside, by protection class.

    Tested at 500 V d.c. (confirmed), at 250 V where 500 V cannot be used. All limits here are from memory, so there is
    no verdict: compare with your copy of the rules. Mains side to SELV output must be measured after repair.

    Formula: R >= limit of the class
    Args:
        insulation: measured between the mains pins and touchable metal (ohm, 0 to 1e13)
        protection: class of the unit (one of I, II, III)
        heater: whether heating elements are switched on (yes or no)
        error: the tester's stated error at this reading, digits counted in, as a share of it (1, 0 to 0.5)
    Gives:
        verdict: by this rule set (text)
        limit: of the rule set (text)
        display: the lowest reading that passes (ohm)
        rules: rule set and edition (text)
        source: where the limit stands (text)
    Source: EN 50678 (VDE 0701):2021; IET Code of Practice, 5th ed. (Nov 2020): limits from memory
    Caution: Local wiring rules, workplace law and licensed practice come first. The test puts 500 V d.c. on the unit:
        hands off, and discharge it afterwards. A unit that fails: do not power it, do not sell it, mark it.

    >>> [row.limit for row in insulation_test(insulation=1.4e6, protection="II")]
    ['at least 2.0 Mohm (from memory)', 'at least 2.0 Mohm (from memory)']
    """
    german = "de.r_iso.class1_heater" if heater and protection == "I" else f"de.r_iso.class{len(protection)}"
    british = f"uk.r_iso.class{len(protection)}"
    return tuple(judged(name, insulation, error, "ohm") for name in (german, british) if name in limits())


@formula
def protective_current_test(protective: float, error: float = 0.0) -> tuple[Verdict, ...]:
    """Whether the current in the protective conductor of a class I unit passes after repair.

    Two rule sets, not to be mixed. The German limit was published for the standard before EN 50678:2021.

    Formula: I (1 + e) <= limit
    Args:
        protective: current measured in the protective conductor, a.c. r.m.s. (A, 0 to 10)
        error: the tester's stated error at this reading, digits counted in, as a share of it (1, 0 to 0.5)
    Gives:
        verdict: by this rule set (text)
        limit: of the rule set (text)
        display: the highest reading that passes (A)
        rules: rule set and edition (text)
        source: where the limit stands (text)
    Source: of each row, beside it
    Caution: Local wiring rules, workplace law and licensed practice come first. The unit is under mains voltage while
        this is measured; earth path and insulation pass before.

    >>> [row.verdict for row in protective_current_test(protective=4.0e-3)]
    ['FAIL', 'pass']
    """
    return tuple(judged(name, protective, error, "A") for name in ("de.i_pe", "uk.i_leak"))


@formula
def touch_current_test(touch: float, error: float = 0.0) -> tuple[Verdict, ...]:
    """Whether the current from touchable metal that is not earthed passes after repair.

    Two rule sets that differ by a factor of 10, not to be mixed. The German limit was published for the standard before
    EN 50678:2021.

    Formula: I (1 + e) <= limit
    Args:
        touch: current measured from touchable metal, a.c. r.m.s. (A, 0 to 10)
        error: the tester's stated error at this reading, digits counted in, as a share of it (1, 0 to 0.5)
    Gives:
        verdict: by this rule set (text)
        limit: of the rule set (text)
        display: the highest reading that passes (A)
        rules: rule set and edition (text)
        source: where the limit stands (text)
    Source: of each row, beside it
    Caution: Local wiring rules, workplace law and licensed practice come first. The unit is under mains voltage while
        this is measured: keep hands off its metal.

    >>> [row.verdict for row in touch_current_test(touch=0.6e-3)]
    ['FAIL', 'pass']
    """
    return tuple(judged(name, touch, error, "A") for name in ("de.i_touch", "uk.i_leak"))


@dataclass(frozen=True)
class Said:
    says: str
    status: str
    source: str


def _said(says: str, name: str) -> Said:
    row = limits()[name]
    return Said(says, row.status, row.source)


@formula
def body_current(current: float) -> tuple[Said, ...]:
    """What a current through the body is known to do, 50 or 60 Hz.

    Formula: a table
    Args:
        current: through the body, a.c. r.m.s. (A, 0 to 10)
    Gives:
        says: what is published beside it (text)
        status: how well that is known (text)
        source: where it stands (text)
    Source: of each row, beside it
    Caution: No current through a person is safe to try. Local codes, workplace law and licensed practice come first.

    >>> body_current(current=2e-3)[0].says
    'above 0.5 mA, the upper edge of zone AC-1: it is felt'
    """
    zone, line = limits()["60479.ac1"].quantity_in("A"), limits()["60479.line_b"].quantity_in("A")
    first = (
        "up to 0.5 mA, zone AC-1: usually no reaction"
        if current <= zone
        else "above 0.5 mA, the upper edge of zone AC-1: it is felt"
    )
    second = "up to" if current <= line else "above"
    return (
        _said(first, "60479.ac1"),
        _said(
            f"{second} about 5 mA (older edition 10 mA), below which long exposure usually harms nobody", "60479.line_b"
        ),
    )


@formula
def live_part(live: float) -> tuple[Said, ...]:
    """Whether a live part of this voltage may be worked on.

    Device maps here are stricter for stored charge: hands only below 10 V (common practice, no source).

    Formula: a table
    Args:
        live: voltage to ground (V, 0 to 1e6)
    Gives:
        says: what holds for it (text)
        status: how well that is known (text)
        source: where it stands (text)
    Source: of each row, beside it
    Caution: De-energise, let stored charge off and measure before hands go near. Local codes, workplace law and
        licensed practice come first.

    >>> [row.says for row in live_part(live=24.0)][0]
    'below 50 V: to be de-energised as well where a burn or an arc is to be feared; injuries happened at 12 and 24 V'
    """
    duty = limits()["osha.v_deenergise"].quantity_in("V")
    first = (
        "to be de-energised before work: 50 V to ground or more"
        if live >= duty
        else "below 50 V: to be de-energised as well where a burn or an arc is to be feared; "
        "injuries happened at 12 and 24 V"
    )
    return (
        _said(first, "osha.v_deenergise"),
        _said("energy source class 1 (ES1) ends at 60 V d.c., 30 V r.m.s., 42.4 V peak", "62368.es1.v_dc"),
    )
