"""A large store after an update: the pages say how far the reading is, and come by themselves when it is done."""

from __future__ import annotations

import sqlite3
import time
from pathlib import Path
from urllib.error import HTTPError
from urllib.request import Request, urlopen

from browsing import serving

from knowngood.bench import gists, work
from knowngood.bench.models import Unit, UnitLine
from knowngood.bench.store import Store

UNITS = gists.AT_ONCE + 50


def large(home: Path) -> None:
    with Store(home) as store:
        work.new_unit(store, "some-mains-device", "EUR 9")
        using, map_ = store.place.alias, store.device("U1").content_hash
        line = {"time": store.now(), "text": "bought some-mains-device for EUR 9", "bench_seq": 0, "version": "1"}
        names = [f"U{number}" for number in range(2, UNITS + 1)]
        Unit.objects.using(using).bulk_create(Unit(id=name, map_id=map_) for name in names)
        UnitLine.objects.using(using).bulk_create(
            UnitLine(unit_id=name, seq=1, map_hash=map_, **line) for name in names
        )


def opened(address: str, accept: str = "text/html,*/*") -> tuple[int, str]:
    try:
        with urlopen(Request(address, headers={"Accept": accept}), timeout=60) as answer:
            return answer.status, answer.read().decode()
    except HTTPError as error:
        return error.code, error.read().decode()


def test_a_page_says_how_far_the_reading_is_until_it_is_done(tmp_path: Path) -> None:
    with serving(tmp_path) as [address]:
        large(tmp_path)
        writer = sqlite3.connect(tmp_path / "knowngood.sqlite3", isolation_level=None)
        writer.execute("BEGIN IMMEDIATE")  # as long as somebody else writes, no log is read off
        try:
            status, page = opened(f"{address}/shelf")
            assert (status, "<b>0 of 250</b> are read" in page) == (202, True)
            assert '<meta http-equiv="refresh" content="2">' in page
            assert opened(f"{address}/static/pages/pages.css")[0] == 200
            assert opened(f"{address}/unit/U1/news?seen=1", accept="*/*")[0] == 204
        finally:
            writer.execute("ROLLBACK")
            writer.close()
        ends = time.monotonic() + 60.0
        while (status := opened(f"{address}/shelf")[0]) == 202 and time.monotonic() < ends:
            time.sleep(0.2)
        assert status == 200


def test_a_few_new_lines_are_no_reading_to_speak_of(tmp_path: Path) -> None:
    large(tmp_path)
    with Store(tmp_path) as store:
        assert gists.to_read(store) == gists.Progress(0, UNITS)
        gists.up_to_date(store)
        work.log_lines(store, "U1", ["noted x"])
        assert gists.to_read(store) is None
