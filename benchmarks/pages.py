"""How quick the pages are: python benchmarks/pages.py [lists|unit]

Prints, beside each goal, what a browser waits for on this machine: the page of a unit with the largest map that comes
along and 60 lines in its log, a tap until the new advice (thought out ahead, and beside it what it takes where it was
not), the bytes of the first load, and the lists of a bench through which 10,000 units went, with the page of one more.
Beside the clock stands the processor time of the server: what others do on the machine is not in it.
"""

from __future__ import annotations

import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from html import unescape
from pathlib import Path
from urllib.parse import urlencode
from urllib.request import Request, urlopen

MAP = "ceiling-projector"
LOG = Path(__file__).parent.parent / "examples" / "fallen-projector.log"
LINES, TAPS, UNITS = 60, 8, 10_000
TIMES = 5
"""How often each list is asked for."""
READING_SECONDS = 25.0
"""How long the person looks before each tap: what is thought out ahead has this long."""


@contextmanager
def served(home: Path) -> Iterator[tuple[str, int]]:
    environment = {**os.environ, "KNOWNGOOD_HOME": str(home), "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    command = [sys.executable, "-m", "knowngood.cli.main", "serve", "--port", "0"]
    with subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, text=True) as server:
        assert server.stdout is not None
        try:
            yield server.stdout.readline().split()[3].rstrip("/"), server.pid
        finally:
            server.terminate()


def unit_in(home: Path) -> str:
    """A bench with the unit that is worked on."""
    from knowngood.bench import work
    from knowngood.bench.store import Store
    from knowngood.errors import KnowngoodError

    with Store(home) as store:
        unit = work.new_unit(store, MAP, "EUR 35", ["dropped"])
        text = LOG.read_text(encoding="utf-8").splitlines()
        lines = [one for one in text if one.strip() and one[0] not in "#=" and not one.startswith("D1 ")]
        # The unit is still being looked into: the first third of its log, and notes.
        notes = [f"noted what was heard, part {number}" for number in range(LINES)]
        for line in [*[one for one in lines if " from D1" not in one][: LINES // 3], *notes]:
            if store.last_seq(unit) == LINES:
                break
            try:
                work.log_lines(store, unit, [line])
            except KnowngoodError as error:
                print(f"left out: {line}: {error}")
        print(f"{unit}: {len(store.device(unit).parts)} parts on its map, {store.last_seq(unit)} lines")
    return unit


def many_units_in(home: Path) -> str:
    """A bench with one unit that is worked on, and 10,000 that went: of four one was parted out and gave three parts,
    which the others took or new ones; these were read, proved and sold. One in fifty is here still, and waits: for an
    order, for one that nobody sent, or for a part that lies on the shelf. A plan of these was accepted."""
    from knowngood.bench import market, work
    from knowngood.bench.models import Unit, UnitLine
    from knowngood.bench.store import Store

    with Store(home) as store:
        unit = work.new_unit(store, MAP, "EUR 35")
        using, map_ = store.place.alias, store.device(unit).content_hash
        Unit.objects.using(using).bulk_create(Unit(id=f"U{one}", map_id=map_) for one in range(2, UNITS + 1))
        UnitLine.objects.using(using).bulk_create(
            (
                UnitLine(
                    **{"unit_id": f"U{one}", "seq": seq, "time": store.now(), "text": line},
                    **{"bench_seq": 0, "map_hash": map_, "version": "1"},
                )
                for one in range(2, UNITS + 1)
                for seq, line in enumerate(_told(one), start=1)
            ),
            batch_size=5000,
        )
        market.change(
            store,
            ["supplier northparts posts for EUR 6 in 3 days", f"offers northparts {MAP}/{PARTS[0]} new at EUR 8"],
        )
        here = ", ".join([f"{unit} 1", *(f"U{one} 3" for one in range(51, UNITS, 50))])
        store.bench_append(f"planned shelf after bench 2, {here}")
    return unit


PARTS = ("exhaust-fan", "main-board", "lamp-door")


def _told(number: int) -> list[str]:
    """The log of one of the many units."""
    bought = f"bought {MAP} for EUR 30"
    if number % 50 == 1:
        waits = (
            f"reserved {PARTS[0]} from U{number - 1}",
            f"ordered {PARTS[0]} new from northparts for EUR 8.00 due 2030-01-01",
            f"reserved {PARTS[0]} from new",
            f"ordered {PARTS[0]} new from northparts for EUR 8.00 due 2030-01-01",
        )
        return [bought, "saw mains-inlet fine", waits[number // 50 % 4]]
    donor, part = number // 4 * 4, PARTS[number % 4 - 1]
    if donor == number:
        return [bought, *(f"harvested {one}" for one in PARTS), "parted worth EUR 10", "scrapped unit"]
    origin = f"U{donor}" if donor >= 4 and donor % 50 != 1 and number % 40 != 2 else "new for EUR 8"
    fitted = [f"removed {part}", f"fitted {part} from {origin}"]
    return [bought, "saw mains-inlet fine", *fitted, "read rail-12v 12.1 V", "tried stays-lit works", SOLD]


SOLD = "sold working for EUR 90"


def get(address: str, token: str = "", data: dict[str, str | list[str]] | None = None, htmx: bool = False) -> str:
    headers = {"Cookie": f"csrftoken={token}"} if token else {}
    if htmx:
        headers["HX-Request"] = "true"
    body = urlencode({**data, "csrfmiddlewaretoken": token}, doseq=True).encode() if data is not None else None
    with urlopen(Request(address, body, headers), timeout=600) as answer:
        return str(answer.read().decode())


def clocked(act: Callable[[], str], times: int = 1) -> tuple[float, str]:
    """Milliseconds, the median, and the last answer."""
    took, answer = [], ""
    for _ in range(times):
        begun = time.perf_counter()
        answer = act()
        took.append(1000.0 * (time.perf_counter() - begun))
    return statistics.median(took), answer


def processor(process: int) -> float:
    """Milliseconds of processor time that a process has used: what others do on the machine is not in it (Linux)."""
    fields = Path(f"/proc/{process}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()
    return 1000.0 * (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def say(what: str, found: float, goal: float, unit: str) -> None:
    print(f"{what:<58} {found:7.0f} {unit:<3} goal {goal:4.0f}   {found / goal:5.2f} of it", flush=True)


def tap(address: str, unit: str, page: str) -> tuple[float, str]:
    """Posts the likeliest outcome of the proposed move, as htmx does."""
    token = "a" * 32
    forms = re.findall(
        r'<form method="post" action="/unit/\w+/log"(?:(?!</form>).)*class="outcome"(?:(?!</form>).)*</form>',
        page,
        re.S,
    )
    if not forms:
        raise SystemExit("The proposed move has no outcome to tap: change the lines of this benchmark.")
    chance = [float((re.findall(r'chance">([\d.]+) %', one) or ["0"])[0]) for one in forms]
    best = forms[chance.index(max(chance))]
    lines = [unescape(one) for one in re.findall(r'name="line" value="([^"]*)"', best)]
    return clocked(lambda: get(f"{address}/unit/{unit}/log", token, {"line": lines}, htmx=True))


def main() -> None:
    os.environ.pop("KNOWNGOOD_DATABASE_URL", None)  # else the units of this benchmark would go into that store
    for name, measure in (("lists", lists), ("unit", pages_of_a_unit)):
        if sys.argv[1:] in ([], [name]):
            with tempfile.TemporaryDirectory() as folder:
                measure(Path(folder))


def lists(home: Path) -> None:
    """The lists of a large bench, and the page of a unit on it."""
    unit = many_units_in(home)
    with served(home) as (address, process):
        first, _ = clocked(lambda: get(f"{address}/"))
        print(f"{UNITS} units: the first list, by which every log is read off once: {first:.0f} ms")
        for name, path in (
            ("units", "/"),
            ("units, searched", "/?search=u123"),
            ("shelf", "/shelf"),
            ("orders", "/orders"),
            ("ledger", "/ledger"),
            ("ledger by map", "/ledger?by=map"),
            ("ledger of a unit", "/ledger/U5001"),
            ("page of a unit", f"/unit/{unit}"),
            ("stock, where some hundred parts lie", "/shelf/stock"),
            ("stock, page 3", "/shelf/stock?page=3"),
            ("market", "/shelf/market"),
        ):
            begun = processor(process)
            first, _ = clocked(lambda path=path: get(address + path))
            worked = processor(process)
            listed, _ = clocked(lambda path=path: get(address + path), TIMES)
            print(f"{name}, {UNITS} units: first {first:.0f} ms, processor time of the server {worked - begun:.0f} ms")
            say(f"{name}, median of {TIMES}", listed, 150, "ms")
            say("the same, processor time of the server, mean", (processor(process) - worked) / TIMES, 150, "ms")
        worked = processor(process)
        ledger, advice = [], []
        for number in range(5):
            worked = processor(process)
            get(f"{address}/unit/{unit}/log", "a" * 32, {"typed": f"noted {number}", "once": ""}, htmx=True)
            advice.append(processor(process) - worked)
            worked = processor(process)
            get(f"{address}/ledger")
            ledger.append(processor(process) - worked)
        say("line to new advice there, not thought ahead, processor time", statistics.median(advice), 300, "ms")
        say("ledger after each line that is logged, processor time", statistics.median(ledger), 150, "ms")


def pages_of_a_unit(home: Path) -> None:
    """The page of a unit, and taps on it."""
    unit = unit_in(home)
    with served(home) as (address, process):
        first, page = clocked(lambda: get(f"{address}/unit/{unit}"))
        print(f"the first advice after the start of the program: {first:.0f} ms")
        worked = processor(process)
        warm, page = clocked(lambda: get(f"{address}/unit/{unit}"), 15)
        say("unit page on the server, median of 15", warm, 150, "ms")
        say("the same, processor time of the server, mean", (processor(process) - worked) / 15, 150, "ms")
        from knowngood.maps.load import load

        part = min(load(MAP).parts)
        first, _ = clocked(lambda: get(f"{address}/unit/{unit}/picture"))
        print(f"the first picture of a map after the start of the program: {first:.0f} ms")
        for name, path in (
            ("picture of the map", "picture"),
            ("page of a part", f"part/{part}"),
            ("say more", "tell"),
            ("photos", "photos"),
            ("before it goes", "going"),
            ("together again", "sheets/reassembly"),
        ):
            worked = processor(process)
            found, _ = clocked(lambda path=path: get(f"{address}/unit/{unit}/{path}"), 15)
            say(f"{name}, median of 15", found, 150, "ms")
            say("the same, processor time of the server, mean", (processor(process) - worked) / 15, 150, "ms")
        news, _ = clocked(lambda: get(f"{address}/unit/{unit}/news?seen={LINES}"), 15)
        say("asking whether anything is new, each second", news, 50, "ms")
        files = [f"{address}{one}" for one in re.findall(r'(?:href|src)="(/static/[^"]+)"', page)]
        total = len(page.encode()) + sum(len(urlopen(one).read()) for one in files)
        say("first load, nothing compressed", total / 1000, 300, "kB")
        ahead, cold = [], []
        for number in range(TAPS):
            if number % 2 == 0:
                time.sleep(READING_SECONDS)
            took, page = tap(address, unit, page)
            (cold if number % 2 else ahead).append(took)
        say("tap to new advice, thought out ahead, median", statistics.median(ahead), 300, "ms")
        say("tap to new advice, at once after another tap, median", statistics.median(cold), 300, "ms")
        print(f"thinking ahead makes a tap {statistics.median(cold) / statistics.median(ahead):.1f} times as quick")
        print("taps:", ", ".join(f"{one:.0f}" for one in ahead), "| at once:", ", ".join(f"{one:.0f}" for one in cold))


if __name__ == "__main__":
    main()
