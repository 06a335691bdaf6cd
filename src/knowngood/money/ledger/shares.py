"""What a unit cost, spread over its parts by worth, in whole minor units that sum to all of it."""

from __future__ import annotations

from collections.abc import Mapping

from knowngood.handbook.quantities import Money
from knowngood.maps.device import Device


def spread(amount: int, worths: Mapping[str, int]) -> dict[str, int]:
    """The amount over names by worth (each at least 0), in integers by largest remainders; equal ones in their order.

    The shares sum to the amount; where nothing is worth anything there are none. Source: the method of largest
    remainders (Hamilton), M. Balinski and H. P. Young, Fair Representation, 1982, chapter 2 (from memory).
    """
    whole = sum(worths.values())
    if whole == 0:
        return {}
    parts = {name: divmod(amount * worth, whole) for name, worth in worths.items()}
    left = amount - sum(quotient for quotient, _ in parts.values())
    most = sorted(parts, key=lambda name: -parts[name][1])[:left]
    return {name: quotient + (name in most) for name, (quotient, _) in parts.items()}


def worths(device: Device, loose: Mapping[str, Money], currency: str) -> dict[str, int]:
    """What each part is worth in minor units: forgone on a donor by the map, else what it brings sold by itself.

    ``loose`` holds the latter by ``MAP/PART``. A part with neither, or in another currency, is worth nothing.
    """
    found = {}
    for part in device.parts.values():
        price = part.price.donor or loose.get(f"{device.id}/{part.id}")
        found[part.id] = max(0, price.minor) if price and price.currency == currency else 0
    return found
