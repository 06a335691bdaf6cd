"""Prints the ledger: amounts as the bench writes them, what is only expected with "about"."""

from __future__ import annotations

from rich.console import Console
from rich.text import Text

from knowngood.cli import ledger_shapes as shapes
from knowngood.cli.layout import grid
from knowngood.cli.shape import IntervalShape
from knowngood.handbook.quantities import format_minutes
from knowngood.handbook.quantities import percent as chance

EXITS = {"working": "sold working", "as-is": "sold as it is", "parts": "parted", "scrapped": "scrapped", None: ""}


def unit(out: Console, answer: shapes.LedgerAnswer, sign: str) -> None:
    table = grid(("line", "right"), ("amount", "right"), ("for", "left"))
    for one in answer.bookings:
        if one.kind == "valuation":
            table.add_row(str(one.seq), "", f"{one.what}: thought worth {_said(one.amount.replace('-', ''), sign)}")
        else:
            carried = ", with its share of what was paid" if one.kind == "transfer" else ""
            table.add_row(str(one.seq), _said(one.amount, sign), one.what + carried)
    out.print(table)
    account = answer.account
    carried = f"   by parts {_said(account.carried, sign)}" if account.carried != f"{answer.currency} 0" else ""
    result = "profit" if account.settled else "so far"
    sums = f"out {_said(account.paid, sign)}   in {_said(account.got, sign)}{carried}   {result}"
    out.print(Text(f"\n{sums} {_said(account.balance, sign)}"))
    assumed = (
        f" ({format_minutes(account.minutes_assumed)} of it by the map's figures)" if account.minutes_assumed else ""
    )
    out.print(Text(f"time {format_minutes(account.minutes)}{assumed}"))
    if answer.profit_per_hour is not None and account.settled:
        out.print(Text(f"that is about {answer.currency} {_number(answer.profit_per_hour, sign)} an hour"))
    if account.exit == "parts":
        out.print(
            Text(f"What its parts left behind counts until the rest is gone: log 'scrapped unit' in {answer.unit}.")
        )
    if answer.guesses is not None:
        _guesses(out, answer.guesses)
    _ended(out, answer.hindsight, answer.csv, answer.currency, sign)


def _guesses(out: Console, found: shapes.GuessesShape) -> None:
    out.print(Text(f"\nBefore it was opened (line {found.before}), and what it was"))
    table = grid(("part", "left"), ("faulty, guessed", "right"), ("it was", "left"))
    for one in found.parts:
        was = "not settled" if one.faulty is None or one.how is None else WAS[one.faulty, one.how]
        table.add_row(one.what, chance(one.believed), was)
    out.print(table)


WAS = {
    (True, "look"): "faulty, as seen",
    (True, "cured"): "faulty: mending it alone cured",
    (False, "look"): "fine, as seen",
    (False, "shown"): "fine: never touched, and all worked",
    (True, "shown"): "faulty, as shown",
    (False, "cured"): "fine",
}
"""What a part was, in words, by whether it was faulty and what settled it."""


def shelf(out: Console, answer: shapes.ShelfLedger, sign: str) -> None:
    if answer.by:
        _rows(out, answer, sign)
    else:
        _accounts(out, answer, sign)
    out.print()
    sums = grid(("", "left"), ("", "right"))
    sums.show_header = False
    for words, amount in (
        (f"profit of {_units(answer.all.units)} sold or scrapped", answer.settled),
        (f"in {_units(answer.all.open_units)} still here", less(answer.in_units)),
        ("in parts on the shelf", less(answer.in_parts)),
        ("the shelf's own", answer.own),
        (f"in {_said(answer.got, sign)} less out {_said(answer.paid, sign)}", answer.balance),
    ):
        sums.add_row(words, _said(amount, sign))
    out.print(sums)
    if answer.all.per_hour:
        time = format_minutes(answer.all.minutes)
        out.print(Text(f"An hour on what is settled brought {_per_hour(answer.all, answer.currency, sign)} ({time})."))
    for currency, units in answer.others.items():
        out.print(Text(f"Not in here: {', '.join(units)}, in {currency}. See: knowngood ledger --currency {currency}"))
    _ended(out, answer.hindsight, answer.csv, answer.currency, sign)


def _accounts(out: Console, answer: shapes.ShelfLedger, sign: str) -> None:
    names = ("", "left"), ("out", "right"), ("in", "right"), ("by parts", "right"), ("balance", "right")
    table = grid(*names, ("time", "right"), ("", "left"))
    for one in answer.accounts:
        sums = (_amount(text, sign) for text in (one.paid, one.got, one.carried, one.balance))
        back = f"came back: {', '.join(one.causes)}" if one.causes else ""
        left = ", ".join(words for words in (EXITS[one.exit], back) if words)
        table.add_row(one.account, *sums, format_minutes(one.minutes), left)
    out.print(Text(f"in {answer.currency}"))
    out.print(table)


def _rows(out: Console, answer: shapes.ShelfLedger, sign: str) -> None:
    names = ("profit", "right"), ("time", "right"), ("an hour", "left"), ("here", "right"), ("in them", "right")
    back = any(row.returned for row in answer.rows)
    table = grid((answer.by or "", "left"), ("gone", "right"), *names, *([("came back", "right")] if back else ()))
    for row in answer.rows:
        per_hour = _per_hour(row, "", sign)
        done = (_amount(row.profit, sign), format_minutes(row.minutes), per_hour) if row.units else ("", "", "")
        still = (str(row.open_units), _amount(row.open_money, sign)) if row.open_units else ("", "")
        came = (f"{row.returned} of {row.sold}" if row.sold else "",) if back else ()
        table.add_row(row.name, str(row.units), *done, *still, *came)
    out.print(Text(f"in {answer.currency}; gone: sold or scrapped. An hour: with its 95 % interval."))
    out.print(table)


def _per_hour(row: shapes.YieldShape, currency: str, sign: str) -> str:
    return f"about {currency} {_interval(row.per_hour, sign)}".replace("  ", " ") if row.per_hour else ""


def _interval(found: IntervalShape, sign: str) -> str:
    ends = "one unit" if found.low is None or found.high is None else f"{found.low:.0f} to {found.high:.0f}"
    return f"{_number(found.mean, sign)} ({ends})"


def _ended(out: Console, found: shapes.HindsightShape | None, file: str | None, currency: str, sign: str) -> None:
    if found is not None:
        _hindsight(out, found, currency, sign)
    if file:
        out.print(Text(f"\nEvery booking: {file}"))


def _hindsight(out: Console, found: shapes.HindsightShape, currency: str, sign: str) -> None:
    out.print(Text(f"\nForecast and truth, about, in {currency}, without the purchase, time at the floor"))
    if not found.units:
        out.print(Text("No unit has left the bench yet."))
        return
    table = grid(("", "left"), ("bought", "right"), ("hands on", "right"), ("came", "right"), ("", "left"))
    for one in found.units:
        figures = [
            f"{value:.0f}" if value is not None else "" for value in (one.at_purchase, one.at_hands_on, one.came)
        ]
        table.add_row(one.unit, *figures, one.refused or _mind(one))
    out.print(table)
    if found.less_at_purchase and found.less_at_hands_on:
        out.print(Text(f"came less bought {_interval(found.less_at_purchase, sign)} a unit"))
        out.print(Text(f"came less hands on {_interval(found.less_at_hands_on, sign)} a unit"))
    _odds(out, found, sign)


def _mind(one: shapes.ForecastShape) -> str:
    if one.valued:
        return "parts as valued"
    return "" if one.costs_booked else "no fee or carriage booked after the sale"


def _odds(out: Console, found: shapes.HindsightShape, sign: str) -> None:
    if found.brier is not None:
        out.print(
            Text("\nParts that a look, a cure or the proof settled: what was believed before, and what they were")
        )
        table = grid(("believed", "left"), ("parts", "right"), ("mean", "right"), ("faulty", "right"), ("95 %", "left"))
        for one in found.deciles:
            low, high = one.share.low or 0.0, one.share.high or 0.0
            tenth, within = f"{one.low:.0%} to {one.high:.0%}", f"{low:.0%} to {high:.0%}"
            table.add_row(tenth, str(one.count), chance(one.believed), f"{one.true} ({one.share.mean:.0%})", within)
        out.print(table)
        out.print(
            Text(
                f"Brier score {_number(found.brier, sign, 3)} (0 is best, a coin has 0{sign}25). "
                "Parts that nothing settled are not in it."
            )
        )
    if found.calibrated is not None:
        out.print(Text(f"The odds are {'no further' if found.calibrated else 'further'} off than chance allows."))
    if found.warning:
        out.print(Text(found.warning))


def _units(count: int) -> str:
    return f"{count} unit{'' if count == 1 else 's'}"


def less(amount: str) -> str:
    """The amount with its sign turned."""
    currency, _, number = amount.partition(" ")
    if number.startswith("-"):
        return f"{currency} {number[1:]}"
    return f"{currency} -{number}" if number != "0" else amount


def _amount(text: str, sign: str) -> str:
    """The amount without its currency."""
    return _said(text.partition(" ")[2], sign)


def _said(amount: str, sign: str) -> str:
    return amount.replace(".", sign)


def _number(value: float, sign: str, digits: int = 2) -> str:
    return _said(f"{value:.{digits}f}", sign)
