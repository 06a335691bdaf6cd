"""Lines after which a class I unit may be sold as working, and the command before them."""

from __future__ import annotations

from knowngood.bench.store import utc_now

TESTER = ("bench", "instrument", "fluxa", "--calibrated", utc_now()[:10], "--uncertainty", "5 %")

SAFE = (
    "stated cord none",
    "stated metal earthed",
    "inspected visual passed",
    "measured protective-earth 0.1 ohm by fluxa under german",
    "measured insulation 20 Mohm by fluxa at 500 V against 1 Mohm under german",
    "measured protective-current 0.5 mA by fluxa under german",
    "inspected function passed",
)

WIPED = "wiped unit by clear with factory reset verified first start asks for a language"
