"""Each event has one canonical line, and what is typed wrong is told apart from it."""

from __future__ import annotations

import re
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import get_args

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from knowngood.errors import LineError
from knowngood.handbook.quantities import Money
from knowngood.log import events as ev
from knowngood.log.events.listing import Grade
from knowngood.log.events.release import STATED, UNITS
from knowngood.log.lines import understand
from knowngood.log.state import State, after
from knowngood.maps import load

NAMES = st.from_regex(r"[a-z0-9][a-z0-9-]{0,12}", fullmatch=True)
WORDS = st.from_regex(r"[a-z]{1,8}(-[a-z]{1,6})?", fullmatch=True)
TENTHS = st.integers(0, 9999).map(lambda tenths: tenths / 10)
MONEY = st.builds(Money, st.sampled_from(["EUR", "USD", "JPY", "KWD"]), st.integers(0, 10**7))
TEXTS = st.from_regex(r"[A-Za-z][A-Za-z0-9,.()]{0,9}( [A-Za-z][A-Za-z0-9,.()]{0,9}){0,4}", fullmatch=True).filter(
    lambda text: not re.search(r" in \d| in$|^in \d", text)
)
READINGS = st.builds("{} {}".format, st.decimals(0, 999, places=2), st.sampled_from(["V", "mV", "ohm", "kohm"]))
SORTS = st.sampled_from(["M3x8", "M2.5x6", "clip", "captive", "in", "x"])
FILM_TIMES = st.builds("{:02d}:{:02d}:{:02d}{}".format, *[st.integers(0, 59)] * 3, st.sampled_from(["", ".5", ".125"]))
FILMS = st.sampled_from(["bench-1.mp4", "GX010042.MP4", "left"])
STATED_OTHERWISE = [(topic, value) for topic, values in STATED.items() for value in values]
TAIL = {"minutes": st.none() | TENTHS, "note": st.just("") | TEXTS}
FIELDS: dict[str, dict[str, st.SearchStrategy[object]]] = {
    "bought": {
        "map": NAMES,
        "price": MONEY,
        "past": st.lists(WORDS, max_size=3).map(tuple),
        "source": st.none() | NAMES,
    },
    "offered": {"map": NAMES, "price": MONEY, "past": st.lists(WORDS, max_size=3).map(tuple)},
    "refused": {},
    "accepted": {"unit": st.sampled_from(["U1", "D12"])},
    "received": {},
    "past": {"what": WORDS},
    "asked": {},
    "saw": {
        "part": NAMES,
        "condition": WORDS.filter(
            lambda word: word not in ("slight", "clear", "severe", "glance", "close", "magnified")
        ),
        "degree": st.sampled_from([None, "slight", "clear", "severe"]),
        "look": st.sampled_from([None, "glance", "close", "magnified"]),
        "mark": st.none()
        | st.sampled_from(["10R", "104 X7R 50V", "brown,black,black,red,brown", "1/4W 4k7 +/- 5 %"])
        | TEXTS,
    },
    "read": {"test": NAMES, "reading": READINGS | st.sampled_from(["OL", "OL ohm"])},
    "drew": {
        "reading": st.builds("{} {}".format, st.integers(0, 900), st.sampled_from(["A", "mA", "W"])),
        "what": NAMES,
    },
    "tried": {"test": NAMES, "outcome": st.sampled_from(["works", "weak", "fails"]), "bench": st.booleans()},
    "found": {"test": NAMES, "outcome": WORDS},
    "opened": {"step": NAMES},
    "closed": {"step": NAMES},
    "unscrewed": {"step": NAMES, "count": st.integers(0, 99), "sort": st.none() | SORTS},
    "screwed": {"step": NAMES, "count": st.integers(0, 99), "sort": st.none() | SORTS},
    "met": {
        "sort": st.sampled_from(["part", "step", "plug"]),
        "name": NAMES,
        "kind": st.none() | NAMES,
        "behind": st.none() | st.lists(NAMES, min_size=1, max_size=3).map(tuple),
        "step": st.none() | NAMES,
        "joins": st.none() | st.lists(NAMES, min_size=1, max_size=2).map(tuple),
        "latch": st.none() | NAMES,
        "reversible": st.booleans(),
    },
    "checked": {"what": WORDS},
    "unplugged": {"connection": NAMES},
    "plugged": {"connection": NAMES},
    "removed": {"part": NAMES},
    "harvested": {"part": NAMES, "place": st.none() | TEXTS},
    "fitted": {
        "part": NAMES,
        "origin": st.sampled_from(["D1", "U12", "new", "used", "back"]),
        "price": st.none() | MONEY,
    },
    "mended": {"part": NAMES, "remedy": WORDS, "price": st.none() | MONEY},
    "used": {"count": st.integers(1, 999), "lot": st.integers(1, 99).map("S{}".format), "part": st.none() | NAMES},
    "discharged": {"part": NAMES, "reading": st.builds("{} V".format, st.integers(0, 400))},
    "began": {"wait": st.none() | TENTHS},
    "dried": {},
    "put": {"part": NAMES, "place": TEXTS},
    "declared": {"function": NAMES},
    "waited": {"wait": TENTHS},
    "worked": {"work": TENTHS},
    "paid": {"amount": MONEY, "what": TEXTS},
    "got": {"amount": MONEY, "what": TEXTS},
    "sold": {"how": st.sampled_from(["working", "as-is"]), "price": MONEY},
    "parted": {"worth": MONEY},
    "vended": {"part": NAMES, "price": MONEY},
    "scrapped": {"part": NAMES},
    "priced": {"how": st.sampled_from(["working", "as-is", "parts"]), "price": MONEY},
    "lacks": {"sort": st.sampled_from(["tool", "part"]), "name": TEXTS},
    "has": {"sort": st.sampled_from(["tool", "part"]), "name": TEXTS},
    "deferred": {"name": NAMES},
    "resumed": {"name": NAMES},
    "identified": {"part": NAMES, "revision": st.sampled_from(["A", "B2", "1.4"])},
    "planned": {"way": st.sampled_from(["finish", "as-is", "parts", "donor", "wait"])},
    "reserved": {"part": NAMES, "origin": st.sampled_from(["D1", "U12", "new", "used"])},
    "ordered": {
        "part": NAMES,
        "condition": st.sampled_from(["new", "used"]),
        "supplier": NAMES,
        "price": MONEY,
        "due": st.none() | st.dates().map(str),
    },
    "arrived": {"part": NAMES},
    "released": {"part": NAMES},
    "stated": {"topic": st.just("class"), "value": st.sampled_from(["I", "II", "III"])}
    | {"length": st.none(), "section": st.none()},
    "inspected": {
        "what": st.sampled_from(["visual", "supply", "function"]),
        "outcome": st.sampled_from(["passed", "failed"]),
    },
    "measured": {
        "quantity": st.sampled_from(sorted(UNITS)),
        "reading": READINGS | st.sampled_from(["OL", "OL ohm"]),
        "instrument": NAMES,
        "voltage": st.none() | st.builds("{} V".format, st.integers(100, 1000)),
        "limit": st.none() | READINGS,
        "rules": st.sampled_from([None, "german", "british"]),
    },
    "wiped": {
        "part": NAMES,
        "method": st.sampled_from(["clear", "purge", "destroy"]),
        "tool": st.none() | TEXTS.filter(lambda text: "verified" not in text),
        "check": st.none() | TEXTS,
    },
    "overrode": {"matter": st.sampled_from(["not-proved", "open-steps", "declared-faults", "damaged-cell"])},
    "recorded": {"serial": st.sampled_from(["KX100-4711", "0042", "a/7"]), "part": st.none() | NAMES},
    "weighed": {"weight": st.sampled_from(["4.1 kg", "38 g", "0,25 kg"])},
    "disputable": {"until": st.dates().map(str)},
    "quarantined": {},
    "cleared": {},
    "left": {"function": NAMES},
    "photographed": {
        "target": NAMES,
        "file": st.sampled_from(["0007-1f3c09ab.jpg", "12345-00000000.heic"]),
        "when": st.sampled_from([None, "before", "after"]),
    },
    "marked": {
        "file": st.sampled_from(["0007-1f3c09ab.jpg", "12345-00000000.heic"]),
        "x": st.integers(0, 100),
        "y": st.integers(0, 100),
        "target": NAMES,
    },
    "dispatched": {"carrier": NAMES, "number": st.none() | st.just("RP-12"), "price": st.none() | MONEY},
    "disposed": {"part": NAMES, "place": TEXTS},
    "returned": {},
    "refunded": {"amount": MONEY},
    "caused": {"by": NAMES.filter(lambda name: name not in ("transport", "use")), "mode": WORDS, "unknown": st.none()},
    "graded": {"grade": st.sampled_from(get_args(Grade))},
    "listed": {"price": st.none() | MONEY},
    "clapped": {"at": FILM_TIMES, "film": FILMS, "line": st.none() | st.integers(1, 999)},
    "hid": {"start": st.just("00:00:00"), "end": FILM_TIMES.filter(lambda at: at > "00:00:00"), "film": FILMS},
    "noted": {"text": TEXTS},
    "undid": {"line": st.integers(1, 999)},
    "redid": {"line": st.integers(1, 999)},
}


@st.composite
def events(draw: st.DrawFn) -> ev.Event:
    verb = draw(st.sampled_from(sorted(FIELDS)))
    tail = {} if verb == "noted" else TAIL
    values = {name: draw(strategy) for name, strategy in {**FIELDS[verb], **tail}.items()}
    if verb == "clapped" and values["line"] is None:
        values["moment"] = draw(st.none() | st.datetimes(datetime(2020, 1, 1)).map("{:%Y-%m-%dT%H:%M:%SZ}".format))
    if verb in ("overrode", "graded", "hid", "quarantined", "left", "returned"):
        values["note"] = draw(TEXTS)
    if verb == "caused" and draw(st.booleans()):
        values = {**values, "by": None, "mode": None, "unknown": "unknown"}
    if verb == "caused" and values["by"] and draw(st.booleans()):
        values = {**values, "by": draw(st.sampled_from(["transport", "use"])), "mode": None}
    if verb == "stated" and draw(st.booleans()):
        values["topic"], values["value"] = draw(st.sampled_from(STATED_OTHERWISE))
        if values["topic"] == "cord" and values["value"] != "none":
            values["length"] = draw(st.floats(0.1, 100))
            values["section"] = draw(st.none() | st.floats(0.1, 10))
    return ev.EVENTS[verb](**values)


def test_every_verb_is_drawn_below() -> None:
    assert set(FIELDS) == set(ev.EVENTS)


@given(events())
def test_a_rendered_event_is_read_back_as_itself(event: ev.Event) -> None:
    line = ev.render(event)
    assert "\n" not in line
    assert ev.parse(line) == event
    assert ev.render(ev.parse(line)) == line


@pytest.mark.parametrize("event", ev.EVENTS.values())
def test_the_example_of_a_verb_is_right_and_its_form_is_shown_when_a_line_is_not(event: type[ev.Event]) -> None:
    assert ev.render(ev.parse(event.example)) == event.example
    verb = event.example.split()[0]
    with pytest.raises(LineError) as wrong:
        ev.parse(verb)
    assert f"Write: {event.form}. For example: {event.example}" in str(wrong.value)


@given(st.text(max_size=60))
@example("LIGHT")  # one word, in the name of one part
def test_whatever_is_typed_is_understood_or_refused_plainly(text: str) -> None:
    with suppress(LineError):
        understand(DEVICE, State(), text)


DEVICE = load("ceiling-projector")


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("exhaust fan missing", "saw exhaust-fan missing"),
        ("saw exhaust fan missing severe", "saw exhaust-fan missing severe"),
        ("rail-12v 4.62", "read rail-12v 4.62 V"),
        ("rail 12v to ground OL", "read rail-12v-to-ground OL ohm"),
        ("read rail-12v 12,1", "read rail-12v 12,1 V"),
        ("lamp-lights fails", "tried lamp-lights fails"),
        ("flex latches flat", "found flex-latches flat"),
        ("reseated green flex socket", "mended green-flex-socket reseat"),
        ("swapped exhaust-fan from D1", "fitted exhaust-fan from D1"),
        ("not now exhaust fan", "deferred exhaust-fan"),
        ("Not-now cover off", "deferred cover-off"),
        ("no such tool ESR METER", "lacks tool ESR meter"),
        ("lacks soldering iron in 2 min", "lacks tool soldering iron in 2 min"),
        ("no such part exhaust fan", "lacks part exhaust-fan"),
        ("lacks exhaust-fan -- asked twice", "lacks part exhaust-fan -- asked twice"),
        ("opened cover off in 5 min", "opened cover-off in 5 min"),
        ("main board burnt marked 10R", "saw main-board burnt marked 10R"),
        ("saw main-board burnt Marked 104 50V in 2 min -- why", "saw main-board burnt marked 104 50V in 2 min -- why"),
        ("saw main-board burnt marked Gray red BLACK gold", "saw main-board burnt marked grey,red,black,gold"),
        (
            "saw main-board burnt marked resistors purple, red,red",
            "saw main-board burnt marked resistor violet,red,red",
        ),
        ("saw main-board burnt marked red", "saw main-board burnt marked red"),
        ("used s3", "used 1 of S3"),
        ("listed -- on the board at the market", "listed unit -- on the board at the market"),
        ("clapped at 3:12 of bench-1.mp4", "clapped at 00:03:12 of bench-1.mp4"),
        (
            "clapped 2026-06-01T12:15:00+02:00 at 0:03:12.50 of a.mp4",
            "clapped 2026-06-01T10:15:00Z at 00:03:12.5 of a.mp4",
        ),
        ("unscrewed cover off 7 m3x8", "unscrewed cover-off 7 x M3x8"),
        ("unscrewed cover-off 9 in 2 min -- tray 3", "unscrewed cover-off 9 in 2 min -- tray 3"),
        ("met step lid-off", "met step lid-off"),
        ("identified main board as B", "identified main-board as B"),
        ("identified main b in 2 min -- on its edge", "identified main-board as B in 2 min -- on its edge"),
        ("reserved lamp door from D1", "reserved lamp-door from D1"),
        ("used 2 x S3 on main board in 4 min", "used 2 of S3 on main-board in 4 min"),
        ("serial KX100-4711", "recorded serial KX100-4711"),
        ("dispute until 2026-12-10", "disputable until 2026-12-10"),
        ("quarantine -- damp", "quarantined unit -- damp"),
        ("quarantined unit in 2 min -- damp", "quarantined unit in 2 min -- damp"),
        ("not tried lamp lights -- wet", "left lamp-lights untried -- wet"),
        ("lamp-lights untried -- wet", "left lamp-lights untried -- wet"),
        ("photographed exhaust fan as 0007-1f3c09ab.jpg", "photographed exhaust-fan as 0007-1f3c09ab.jpg"),
        ("mounting bosses broken off", "saw mounting-bosses broken-off"),
        ("saw mounting bosses Broken Off close", "saw mounting-bosses broken-off close"),
        ("door look not whole", "found door-look not-whole"),
        ("stated cord detachable 1,8 m 0,75 mm2", "stated cord detachable 1.8 m 0.75 mm2"),
    ],
)
def test_shorthand_expands(typed: str, meant: str) -> None:
    assert ev.render(understand(DEVICE, State(), typed)) == meant


def test_a_mark_on_a_photo_names_what_is_there_in_short_and_a_second_one_moves_it() -> None:
    state = State()
    for typed in (
        "photographed unit as 0007-1f3c09ab.jpg",
        "marked photo 0007-1f3c09ab.jpg at 34% 71% as exhaust fan -- blade gone",
        "marked photo 0007-1f3c09ab.jpg at 3 % 7 % as main board",
        "marked photo 0007-1f3c09ab.jpg at 30 % 70 % as exhaust fan -- blade gone",
    ):
        event = understand(DEVICE, state, typed)
        state = after(DEVICE, state, event, 1)
    assert [ev.render(mark) for _, mark in state.intake.marks] == [
        "marked photo 0007-1f3c09ab.jpg at 3 % 7 % as main-board",
        "marked photo 0007-1f3c09ab.jpg at 30 % 70 % as exhaust-fan -- blade gone",
    ]


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ("graded nice -- shiny", "Write: graded unmarked|marked|scarred|faulty|unproved -- WHY."),
        ("graded marked", "A grade needs its reason, after ' -- '."),
        ("clapped at 00:61:00 of a.mp4", "'00:61:00': minutes and seconds go up to 59."),
        ("clapped 2026-06-01T10:15:00 at 00:01:00 of a.mp4", "in which time zone? End it with Z for UTC, or +02:00"),
        ("clapped 2026-66-01 at 00:01:00 of a.mp4", "'2026-66-01' is not a moment. Write it as 2026-06-01T10:15:00Z"),
        ("hid 00:02:00 to 00:01:00 of a.mp4 -- why", "It ends at 00:01:00, and that is not after 00:02:00."),
        ("hid 00:01:00 to 00:02:00 of a.mp4", "What is hidden needs its reason, after ' -- '."),
        ("", "An empty line."),
        ("CUT", "'CUT' is not understood: it starts with no verb"),
        ("saw fan missing", "'fan' could be 'exhaust-fan'"),
        ("sow exhaust-fan missing", "Similar: 'saw'"),
        ("saw exhaust-fan brokn-off", "No condition 'brokn-off'. Similar: 'broken-off'."),
        ("saw main-board burnt marked red,blak,red", "No colour 'blak'. Similar: 'black'."),
        ("saw main board marked 10R", "What was seen on 'main-board' besides the mark?"),
        ("used 2 of the old ones", "is not understood. Write: used COUNT of LOT [on PART]."),
        ("used S3 on mane-board", "No part 'mane-board'. Similar: 'main-board'"),
        ("read rail-12v twelve", "is not understood. Write: read TEST VALUE."),
        ("read rail-12v 12 furlongs", "Write it as '12 V'."),
        ("read rail-12v 4 ohm", "'rail-12v' is read in V, and '4 ohm' is in ohm."),
        ("tried rail-12v works", "No function that can be tried 'rail-12v'."),
        ("found flex-latches open", "It is 'flat' or 'standing'."),
        ("mended exhaust-fan glue", "'exhaust-fan' has no remedy 'glue'."),
        ("closed cover-off", "'cover-off' is not open."),
        ("closed", "Nothing is open."),
        ("screwed cover-off 8", "No fastener of 'cover-off' is out: it is closed, and none was left over."),
        ("unscrewed cover-off some", "is not understood. Write: unscrewed STEP COUNT [x SORT]."),
        ("unscrewed lid 4", "No access step 'lid'."),
        ("opened lid", "No access step 'lid'. There are: "),
        ("opened lid", " Is it not on the map? Log 'met step lid'."),
        ("met lid", "is not understood. Write: met part|step|plug NAME"),
        ("met part cover-off", "'cover-off' is an access step already. Give each its own name."),
        ("met part picture", "'picture' is a function of this map already."),
        ("met part gasket latch snap", "'latch' is said of a plug, not of a part."),
        ("met step lid-off with cover-off", "A step has no kind and comes off with none"),
        ("met step lid-off behind lid-off", "No access step 'lid-off' to lie behind"),
        ("met part gasket behind cover-of", "No access step 'cover-of' to lie behind or come off with. Similar:"),
        ("met plug gasket-lead joins gasket", "No part 'gasket' to join."),
        ("met part gasket as seel", "No part kind 'seel'. Similar: 'seal'."),
        ("checked shakn", "No check 'shakn'. Similar: 'shaken'."),
        ("plugged supply-lead", "'supply-lead' is not unplugged."),
        ("fitted exhaust-fan from back", "'exhaust-fan' is not out, so it cannot go back."),
        ("past droped", "Similar: 'dropped'"),
        ("identified main-board as D", "'main-board' has no revision 'D'. There are: 'A', 'B', 'C'."),
        ("identified exhaust-fan as B", "The map names no revisions of 'exhaust-fan'. Log it as 'noted ...'"),
        (
            "identified board as B",
            "'board' could be 'input-board', 'input-board-plug', 'keypad-board' or 'main-board'. Say which.",
        ),
        ("identified main-board", "is not understood. Write: identified PART as REVISION."),
        ("lacks tool heat gun", "Nothing on this map takes a tool 'heat gun'. There are: 'ESR meter'"),
        ("no such part exhaust-fam", "No part 'exhaust-fam'. Similar: 'exhaust-fan'"),
        ("lacks exhaust-fam", "No tool and no part 'exhaust-fam' on this map. Similar: 'exhaust-fan'"),
        ("lacks fan", "No tool and no part 'fan' on this map. Similar: 'exhaust-fan'"),
        ("lacks", "is not understood. Write: lacks tool|part NAME."),
        ("has tool meter", "The tool 'meter' was not lacking."),
        ("has part exhaust-fan", "The part 'exhaust-fan' was not lacking."),
        ("not now exhaust-fam", "No part, test or access step 'exhaust-fam'. Similar: 'exhaust-fan'"),
        ("resumed exhaust-fan", "'exhaust-fan' was not put off."),
        ("arrived exhaust-fan", "'exhaust-fan' is not on order. Nothing is."),
        ("released exhaust-fan", "'exhaust-fan' is neither reserved nor ordered."),
        ("reserved exhaust-fam from D1", "No part 'exhaust-fam'. Similar: 'exhaust-fan'"),
        (
            "ordered exhaust-fan new from northparts for EUR 8 due 3.12.",
            "'3.12.' is not a day. Write it as 2026-12-03.",
        ),
        ("measured protective-earth 0.12 V by fluxa", "'protective-earth' is read in ohm, and '0.12 V' is not."),
        ("measured insulation 2 Mohm by fluxa against OL", "'OL' is no limit."),
        ("inspected function passed", "begins with a look at case, cord and plug. Log 'inspected visual passed'"),
        (
            "stated cord detachable",
            "The limit of the earth path rests on the length of the cord. How long is it? For example",
        ),
        ("stated metal shiny", "'shiny' is no metal. It is one of earthed, unearthed, both, none."),
        ("stated class I 2 m", "A length stands behind 'class I': only a cord has one."),
        ("overrode not-proved", "An override needs its reason, after ' -- '."),
        ("overrode safety-test -- why", "is not understood. Write: overrode not-proved|open-steps|"),
        ("wiped config-stor by clear", "No part, or 'unit' 'config-stor'. Similar: 'config-store'"),
        ("weighed 0 kg", "'0 kg' is no weight of a unit: more than nothing, at most 1000 kg, as 4.1 kg."),
        ("weighed heavy", "is not understood. Write: weighed WEIGHT."),
        ("recorded serial 12 on mane-board", "There is no part 'mane-board' on this map. Similar: 'main-board'"),
        ("quarantined unit", "Why is it kept apart? Say it after ' -- '."),
        ("cleared unit", "It is not in quarantine."),
        ("left lamp-lights untried", "Why was it not tried? Say it after ' -- '."),
        ("left main-board untried -- wet", "No function that can be tried 'main-board'."),
        ("photographed mane-board as 0007-1f3c09ab.jpg", "'mane-board'. Similar: 'main-board'"),
        (
            "marked photo 0007-1f3c09ab.jpg at 34 71 as unit",
            "is not understood. Write: marked photo FILE at X % Y % as",
        ),
        ("marked photo 0007-1f3c09ab.jpg at 101 % 5 % as unit", "x: Input should be less than or equal to 100"),
        ("marked photo 0007-1f3c09ab.jpg at 4 % 5 % as mane-board", "'mane-board'. Similar: 'main-board'"),
        (
            "marked photo 0007-1f3c09ab.jpg at 4 % 5 % as exhaust-fan",
            "No line says that '0007-1f3c09ab.jpg' is a photo",
        ),
        ("photographed unit as me.jpg", "is not understood. Write: photographed TARGET as FILE [before|after]."),
        ("dispatched with redpost", "It was not sold. Log 'sold working for ...' or 'sold as-is for ...' first."),
        ("returned -- no picture", "It was not sold. Log 'sold working for ...'"),
        ("returned", "is not understood. Write: returned -- WHAT THE BUYER SAYS."),
        ("refunded EUR 5", "It was never sold, so there is nobody to refund."),
        ("caused by exhaust-fan winding-dead", "It never came back. Log 'returned -- WHAT THE BUYER SAYS' first."),
        (
            "caused by exhaust-fan",
            "A part has a fault mode, as 'exhaust-fan winding-dead'; 'transport' and 'use' stand alone.",
        ),
        ("disposed lamp-module to yard", "'lamp-module' is still in the unit. Log 'removed lamp-module' first"),
        ("discharged supply-primary low", "is not understood. Write: discharged PART VOLTAGE."),
    ],
)
def test_what_cannot_be_meant_is_refused_with_what_would_be_right(typed: str, message: str) -> None:
    with pytest.raises(LineError) as wrong:
        understand(DEVICE, State(), typed)
    assert message in str(wrong.value)


def test_every_line_of_the_page_on_logging_is_understood() -> None:
    page = Path("docs/logging.md").read_text(encoding="utf-8").partition("## Whom the bench buys from")[0]
    rows = [row.split("|")[1] for row in page.splitlines() if row.startswith("| `")]
    verbs = set()
    for line in (line for row in rows for line in re.findall(r"`([^`]+)`", row)):
        event = ev.parse(line)
        verbs.add(line.split()[0])
        assert ev.render(event) == line
    assert verbs == set(ev.EVENTS) - {"bought", "undid", "redid"}
