"""The bench's settings are a log of plain lines over defaults."""

from __future__ import annotations

import dataclasses

import pytest

from knowngood.bench import work
from knowngood.bench.settings import SETTINGS, BenchSettings, read_settings, setting_line, shown
from knowngood.bench.store import BenchEntry, Store
from knowngood.errors import LineError
from knowngood.handbook.quantities import Money
from knowngood.handbook.readings import DEFAULT_METER


def after(*lines: str) -> BenchSettings:
    return read_settings(BenchEntry(seq, "", text) for seq, text in enumerate(lines, start=1))


def test_the_defaults() -> None:
    settings = after()
    assert settings.rate_target == Money("EUR", 2400)
    assert settings.rate_floor == Money("EUR", 1200)
    assert (settings.fee_share, settings.return_share, settings.carriage) == (0.12, 0.04, Money("EUR", 1400))
    assert settings.meter == DEFAULT_METER
    assert [field.name.replace("_", "-") for field in dataclasses.fields(settings)] == list(SETTINGS)


@pytest.mark.parametrize(
    ("key", "value", "line"),
    [
        ("rate-target", "30", "set rate-target EUR 30"),
        ("rate target", " EUR  30,50 ", "set rate-target EUR 30.50"),
        ("Fee_Share", "0.13", "set fee-share 13 %"),
        ("currency", "gbp", "set currency GBP"),
        ("decimal-sign", "comma", "set decimal-sign ,"),
        ("lacks", "Heat camera,  hot air,heat camera,", "set lacks heat camera, hot air"),
        ("lacks", "none", "set lacks none"),
        ("meter-volts", "600 mV 0,8%+3, 6V 1 % + 5", "set meter-volts 600 mV 0.8 % + 3, 6 V 1 % + 5"),
        ("meter ohms", "4000 ohm 1 % + 3", "set meter-ohms 4 kohm 1 % + 3"),
        ("meter-display", "20000", "set meter-display 20000"),
    ],
)
def test_a_value_is_stored_in_one_form_that_reads_back_as_itself(key: str, value: str, line: str) -> None:
    assert setting_line(key, value, after()) == line
    name = line.split()[1]
    assert setting_line(name, shown(after(line), name), after(line)) == line


def test_every_default_reads_back_as_itself() -> None:
    settings = after()
    assert after(*(f"set {key} {shown(settings, key)}" for key in SETTINGS)) == settings


@pytest.mark.parametrize(
    ("key", "value", "message"),
    [
        ("rate-targt", "3", "No setting 'rate-targt'. Similar: 'rate-target'"),
        ("", "3", "No setting ''. There are: "),
        ("rate-target", " ", r"'rate-target' \(what an hour .*\) needs a value. It is EUR 24 now"),
        ("rate-target", "GBP 3", "rate-target: GBP 3 is not in EUR, the bench's currency"),
        ("carriage", "-3", "carriage: EUR -3 is negative. Write it as 'EUR 3'"),
        ("carriage", "three", "is not an amount of money"),
        ("fee-share", "120 %", "is not a share"),
        ("currency", "euro", "'euro' is not a currency"),
        ("decimal-sign", ";", "Write '.' or ','"),
        ("meter-display", "6000.5", "'6000.5' is not a whole number from 999 to 1000000000"),
        ("meter-display", "20", "'20' is not a whole number from 999"),
        ("meter-volts", "0.5 % + 3", "meter-volts: '0.5 % [+] 3' is no range of a meter in V. Write it as '6 V"),
        ("meter-ohms", "6 V 1 % + 3", "'6 V 1 % [+] 3' is no range of a meter in ohm"),
        ("meter-diode", "3 V 1 % + 3, 2 V 1 % + 3", "ranges go upwards from above zero"),
    ],
)
def test_a_wrong_setting_is_refused_and_nothing_stored(store: Store, key: str, value: str, message: str) -> None:
    with pytest.raises(LineError, match=message):
        work.bench_set(store, key, value)
    assert store.bench_lines() == []


def test_the_last_line_counts_and_earlier_ones_tell_what_held_then(store: Store) -> None:
    work.bench_set(store, "rate-floor", "10")
    assert work.bench_set(store, "rate-floor", "11").rate_floor == Money("EUR", 1100)
    assert work.bench_settings(store).rate_floor == Money("EUR", 1100)
    assert read_settings(store.bench_lines()[:1]).rate_floor == Money("EUR", 1000)


def test_with_another_currency_the_amounts_start_again() -> None:
    settings = after("set rate-target EUR 30", "set fee-share 10 %", "set currency GBP", "set carriage GBP 9")
    assert settings.rate_target == Money("GBP", 2400)
    assert (settings.fee_share, settings.carriage) == (0.10, Money("GBP", 900))
    assert after("set rate-target EUR 30", "set currency EUR").rate_target == Money("EUR", 3000)


def test_a_key_of_a_newer_version_does_not_stop_the_bench() -> None:
    assert after("set colour-of-lamp red", "priced lamp-door EUR 3") == after()
