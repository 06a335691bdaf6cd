"""The ledger of a unit and of the shelf: the command, its answers and its CSV."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from knowngood.cli.frame import Home, Json, answer, failing_plainly, opened

if TYPE_CHECKING:
    from knowngood.bench.forecast import Hindsight
    from knowngood.bench.ledger import Kept
    from knowngood.bench.store import Store
    from knowngood.cli import ledger_shapes as shapes
    from knowngood.money.ledger.books import Account, Entry
    from knowngood.money.ledger.yields import Yield

COLUMNS = ("account", "log", "line", "date", "map", "what", "kind", "currency", "amount", "minor")
"""Of the CSV. ``amount`` has a point and no thousands sign whatever the bench shows; ``minor`` is a whole number."""

FEW = 10
"""Units below which a comparison of forecast and truth says little (own judgement)."""


def ledger(
    unit: Annotated[
        str | None, typer.Argument(metavar="[UNIT]", help="A unit, as U1. None: all of them and the shelf.")
    ] = None,
    by: Annotated[
        str | None, typer.Option("--by", help="What an hour brought by map, past, source or cause (of a return).")
    ] = None,
    forecast: Annotated[
        bool, typer.Option("--forecast", help="Forecast beside truth, by replay: some seconds for each unit.")
    ] = False,
    csv_file: Annotated[
        Path | None, typer.Option("--csv", metavar="FILE", help="Write every booking into this CSV file.")
    ] = None,
    currency: Annotated[
        str | None, typer.Option("--currency", help="The books in this currency; else in the bench's.")
    ] = None,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Says where the money is: what each unit cost and brought, what is in it and in parts on the shelf, to the cent.

    What a unit was bought for lies on its parts by worth, and a part that moves takes its share along. The CSV has a
    decimal point and no thousands sign; only rows of the kinds cash and transfer are sums.

    Example: knowngood ledger --by map
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench.ledger import account_of, books_of, sums_of
        from knowngood.bench.work import bench_settings
        from knowngood.cli import ledger_show as show
        from knowngood.errors import LineError
        from knowngood.maps.shape import similar
        from knowngood.money.ledger.yields import BY

        if by is not None and by not in BY:
            raise LineError(f"No '{by}' to put units together by. {similar(by, BY)}")
        sign = bench_settings(store).decimal_sign
        if unit is None:
            kept = (books_of if csv_file or forecast else sums_of)(store, currency)
            if csv_file:
                write(csv_file, table(kept.books.units, kept.books.entries))
            told = _hindsights(store, list(kept.books.units.values())) if forecast else None
            answer(of_shelf(kept, by, told, csv_file, store.bench_seq()), as_json, show.shelf, sign)
            return
        if by is not None or currency is not None:
            raise LineError("--by and --currency are of all units together. Leave the unit out.")
        name = store.unit_id(unit)
        account = account_of(store, name)
        if csv_file:
            write(csv_file, table({name: account}, account.entries))
        told = _hindsights(store, [account]) if forecast else None
        guessed = _guessed(store, name) if forecast else None
        answer(of_unit(account, store.lines(name)[-1].seq, told, guessed, csv_file), as_json, show.unit, sign)


def _hindsights(store: Store, accounts: Sequence[Account]) -> list[Hindsight]:
    from knowngood.bench.forecast import gone, hindsight
    from knowngood.cli.progress import counted

    left = gone(accounts)
    return list(counted(hindsight(store, left), len(left)))


def _guessed(store: Store, unit: str) -> shapes.GuessesShape:
    from knowngood.bench.forecast import guesses
    from knowngood.cli import ledger_shapes as shapes

    before, found = guesses(store, unit)
    parts = [
        shapes.GuessShape(
            part=one.part,
            what=one.what,
            believed=one.believed,
            faulty=one.settled.faulty if one.settled else None,
            how=one.settled.how if one.settled else None,
        )
        for one in found
    ]
    return shapes.GuessesShape(before=before, parts=parts)


def of_unit(
    account: Account,
    seq: int,
    told: list[Hindsight] | None,
    guessed: shapes.GuessesShape | None,
    file: Path | None,
) -> shapes.LedgerAnswer:
    from knowngood.cli import ledger_shapes as shapes

    return shapes.LedgerAnswer(
        unit=account.name,
        log_seq=seq,
        currency=account.currency,
        account=of_account(account),
        bookings=[
            shapes.BookingShape(
                log=one.log,
                seq=one.seq,
                time=one.time,
                what=one.what,
                kind=one.kind,
                amount=str(one.amount),
                minor=one.amount.minor,
            )
            for one in account.entries
        ],
        profit_per_hour=account.balance.major / (account.minutes / 60.0) if account.minutes else None,
        hindsight=None if told is None else _hindsight(told),
        guesses=guessed,
        csv=str(file) if file else None,
    )


def of_shelf(
    kept: Kept,
    by: str | None,
    told: list[Hindsight] | None,
    file: Path | None,
    seq: int,
    *,
    listed: bool = True,
) -> shapes.ShelfLedger:
    """The sums, and where they are to be ``listed`` every account."""
    from knowngood.cli import ledger_shapes as shapes
    from knowngood.handbook.quantities import total
    from knowngood.money.ledger.yields import yield_of, yields

    books = kept.books
    accounts = [*books.units.values(), books.shelf]
    rows = yields(books.units.values(), by, books.currency) if by else []
    return shapes.ShelfLedger(
        log_seq=seq,
        currency=books.currency,
        accounts=[of_account(one) for one in accounts] if listed else [],
        paid=str(total((one.paid for one in accounts), books.currency)),
        got=str(total((one.got for one in accounts), books.currency)),
        balance=str(books.balance),
        settled=str(books.settled),
        in_units=str(books.in_units),
        in_parts=str(books.in_parts),
        own=str(books.own),
        all=_yield(yield_of("all", books.units.values(), books.currency)),
        by=by,
        rows=[_yield(row) for row in rows],
        hindsight=None if told is None else _hindsight(told),
        others={one: list(units) for one, units in kept.others.items()},
        csv=str(file) if file else None,
    )


def of_account(account: Account) -> shapes.AccountShape:
    """One account with its sums."""
    from knowngood.cli import ledger_shapes as shapes

    return shapes.AccountShape(
        account=account.name,
        map=account.map_name,
        past=list(account.past),
        source=account.source,
        paid=str(account.paid),
        got=str(account.got),
        carried=str(account.carried),
        balance=str(account.balance),
        minutes=round(account.minutes, 1),
        minutes_assumed=round(account.minutes_assumed, 1),
        exit=account.exit,
        settled=account.settled,
        sold=account.sold,
        causes=list(account.causes),
    )


def _yield(row: Yield) -> shapes.YieldShape:
    from knowngood.cli import ledger_shapes as shapes
    from knowngood.cli.answers import interval

    return shapes.YieldShape(
        name=row.name,
        units=row.units,
        profit=str(row.profit),
        minutes=round(row.minutes, 1),
        per_hour=interval(row.per_hour) if row.per_hour else None,
        open_units=row.open_units,
        open_money=str(row.open_money),
        open_minutes=round(row.open_minutes, 1),
        sold=row.sold,
        returned=row.returned,
    )


def _hindsight(told: list[Hindsight]) -> shapes.HindsightShape:
    from knowngood.belief.calibration import brier, deciles
    from knowngood.cli import ledger_shapes as shapes
    from knowngood.cli.answers import interval
    from knowngood.handbook.intervals import of_mean

    forecasts = [one.forecast for one in told if one.forecast]
    claims = [claim for one in told for claim in one.claims]
    believed, came = [one.believed for one in claims], [one.settled.faulty for one in claims]
    at_purchase = [one.came.net.value - one.at_purchase.value for one in forecasts]
    at_hands_on = [one.came.net.value - one.at_hands_on.value for one in forecasts]
    few = f"{len(forecasts)} unit{'s have' if len(forecasts) != 1 else ' has'} left the bench: that says little yet."
    return shapes.HindsightShape(
        units=[_forecast(one) for one in told],
        less_at_purchase=interval(of_mean(at_purchase)) if forecasts else None,
        less_at_hands_on=interval(of_mean(at_hands_on)) if forecasts else None,
        brier=brier(believed, came) if claims else None,
        deciles=[
            shapes.DecileShape(
                low=one.low,
                high=one.high,
                count=one.count,
                believed=one.believed,
                true=one.true,
                share=interval(one.share),
            )
            for one in deciles(believed, came)
        ],
        calibrated=_calibrated(told),
        warning=few if len(forecasts) < FEW else "",
    )


def _calibrated(told: list[Hindsight]) -> bool | None:
    """Whether what was believed is off by no more than chance, units counted as independent; None for too few."""
    import numpy as np

    from knowngood.belief.calibration import calibration

    units = [
        (
            np.array([[one.believed for one in each.claims]]),
            np.array([[float(one.settled.faulty) for one in each.claims]]),
        )
        for each in told
        if each.claims
    ]
    return calibration(units).calibrated if len(units) >= FEW else None


def _forecast(one: Hindsight) -> shapes.ForecastShape:
    from knowngood.cli import ledger_shapes as shapes

    found = one.forecast
    return shapes.ForecastShape(
        unit=one.unit,
        at_purchase=found.at_purchase.value if found else None,
        at_hands_on=found.at_hands_on.value if found else None,
        came=found.came.net.value if found else None,
        valued=bool(found and found.came.valued),
        costs_booked=bool(found and found.came.costs_booked),
        claims=[
            shapes.ClaimShape(
                part=claim.settled.part,
                believed=claim.believed,
                faulty=claim.settled.faulty,
                how=claim.settled.how,
                before=claim.settled.before,
            )
            for claim in one.claims
        ],
        refused=one.refused,
    )


def table(accounts: Mapping[str, Account], entries: Iterable[Entry]) -> str:
    """The entries as CSV (RFC 4180), a row each, with a header."""
    from knowngood.handbook.quantities import plain

    out = io.StringIO()
    rows = csv.writer(out)
    rows.writerow(COLUMNS)
    for one in entries:
        account = accounts.get(one.account)
        rows.writerow(
            [
                *(one.account, one.log, one.seq, one.time[:10], account.map_name if account else ""),
                *(_harmless(one.what), one.kind, one.amount.currency, plain(one.amount), one.amount.minor),
            ]
        )
    return out.getvalue()


def _harmless(text: str) -> str:
    """Words of a person that no spreadsheet takes for a formula."""
    return f"'{text}" if text[:1] in "=+-@" else text


def write(file: Path, text: str) -> None:
    """Writes a CSV, all of it or nothing, marked as UTF-8 so that spreadsheets read it so. Raises NotFoundError."""
    from knowngood.errors import NotFoundError

    beside = file.with_name(file.name + ".new")
    try:
        beside.write_bytes(text.encode("utf-8-sig"))
        os.replace(beside, file)
    except OSError as problem:
        raise NotFoundError(f"The ledger cannot be written to '{file}': {problem.strerror}.") from None
