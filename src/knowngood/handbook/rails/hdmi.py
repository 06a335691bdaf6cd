"""HDMI type A: its pins, and the load on its 5 V."""

from __future__ import annotations

from knowngood.handbook.formula import formula

PINS = (
    "D2+",
    "D2 shield",
    "D2-",
    "D1+",
    "D1 shield",
    "D1-",
    "D0+",
    "D0 shield",
    "D0-",
    "clock+",
    "clock shield",
    "clock-",
    "CEC",
    "reserved / utility / HEAC-",
    "SCL",
    "SDA",
    "DDC/CEC ground",
    "+5 V",
    "hot-plug detect / HEAC+",
)
"""From pin 1: HDMI 1.4b; four equipment manuals."""


@formula
def hdmi_pin(pin: int) -> str:
    """What is on a pin of an HDMI type A receptacle.

    By the standard: one board manual numbers the pairs the other way round.

    Formula: table
    Args:
        pin: its number (1, 1 to 19)
    Gives:
        signal: on it (text)
    Source: HDMI 1.4b; four equipment manuals

    >>> hdmi_pin(18)
    '+5 V'
    """
    return PINS[pin - 1]


@formula
def hdmi_load(load: float) -> str:
    """Whether an HDMI source must carry a load on its 5 V.

    Formula: at least 55 mA; cut off at no more than 0.5 A
    Args:
        load: on pin 18 (A, 0 to 10)
    Gives:
        verdict: on the load (text)
    Source: HDMI 1.4b, 4.2.7

    >>> hdmi_load(0.05)
    'every source must carry it'
    """
    if load <= 0.055:
        return "every source must carry it"
    return "a source may carry it, or not" if load <= 0.5 else "a source must cut it off"
