"""The addresses of the pages."""

from __future__ import annotations

from django.urls import path

from knowngood.pages import (
    bench,
    bids,
    book,
    going,
    importing,
    joining,
    ledger,
    listing,
    login,
    orders,
    photos,
    picture,
    sheets,
    shelf,
    telling,
    unit,
    units,
)

urlpatterns = [
    path("", units.listed, name="units"),
    path("unit/new", units.new, name="unit-new"),
    path("unit/import", importing.page, name="unit-import"),
    path("unit/<slug:name>", unit.page, name="unit"),
    path("unit/<slug:name>/log", unit.log, name="unit-log"),
    path("unit/<slug:name>/undo", unit.undo, name="unit-undo"),
    path("unit/<slug:name>/redo", unit.redo, name="unit-redo"),
    path("unit/<slug:name>/tell", telling.page, name="unit-tell"),
    path("unit/<slug:name>/going", going.page, name="unit-going"),
    path("unit/<slug:name>/listing", listing.page, name="unit-listing"),
    path("phone", joining.page, name="phone"),
    path("phone/network", joining.network, name="network"),
    path("phone/<slug:key>", joining.joined, name="joined"),
    path("join/<str:word>", joining.join, name="join"),
    path("login", login.login, name="login"),
    path("logout", login.logout, name="logout"),
    path("bench", bench.page, name="bench"),
    path("unit/<slug:name>/news", unit.news, name="unit-news"),
    path("unit/<slug:name>/picture", picture.page, name="unit-picture"),
    path("unit/<slug:name>/photos", photos.page, name="unit-photos"),
    path("unit/<slug:name>/photo/<str:file>", photos.one, name="unit-photo"),
    path("unit/<slug:name>/photo/<str:file>/mark", photos.mark, name="unit-mark"),
    path("unit/<slug:name>/photo/<str:file>/<slug:size>", photos.image, name="unit-image"),
    path("unit/<slug:name>/part/<str:part>", picture.part, name="unit-part"),
    path("unit/<slug:name>/sheets/<slug:which>", sheets.sheet, name="sheet"),
    path("unit/<slug:name>/folder.zip", sheets.archive, name="unit-folder"),
    path("unit/<slug:name>/report.pdf", sheets.report, name="unit-report"),
    path("shelf", shelf.glance, name="shelf"),
    path("shelf/plan", shelf.plan, name="shelf-plan"),
    path("shelf/stock", shelf.stock, name="stock"),
    path("shelf/market", shelf.market, name="market"),
    path("bids", bids.listed, name="bids"),
    path("bids/<slug:name>", bids.page, name="bid"),
    path("bids/<slug:name>/said", bids.said, name="bid-said"),
    path("bids/<slug:name>/dropped", bids.dropped, name="bid-dropped"),
    path("bids/<slug:name>/bought", bids.bought, name="bid-bought"),
    path("orders", orders.page, name="orders"),
    path("orders/send", orders.send, name="orders-send"),
    path("orders/arrived", orders.arrived, name="orders-arrived"),
    path("ledger", ledger.shelf, name="ledger"),
    path("ledger.csv", ledger.as_csv, name="ledger-csv"),
    path("ledger/<slug:name>", ledger.unit, name="ledger-unit"),
    path("book", book.index, name="book"),
    path("book/<slug:name>", book.page, name="book-page"),
]

handler400 = "knowngood.pages.guarding.bad_request"
handler404 = "knowngood.pages.guarding.not_found"
handler500 = "knowngood.pages.guarding.our_mistake"
