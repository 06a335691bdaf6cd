"""USB power delivery: fixed supplies as words of 32 bits, and back."""

from __future__ import annotations

import re
from dataclasses import dataclass

from knowngood.errors import RangeError
from knowngood.handbook.formula import formula

STEP_V, STEP_A = 0.05, 0.01
"""What one unit stands for in bits 19 to 10 and 9 to 0: Linux and Zephyr headers."""

MASK = 0x3FF
"""Ten bits."""


@dataclass(frozen=True)
class Offer:
    """What a fixed supply offers: V, A, W."""

    word: str
    voltage: float
    current: float
    power: float
    level: str
    cable: str


def _offer(volts: int, amperes: int, word: int) -> Offer:
    voltage, current = volts * STEP_V, amperes * STEP_A
    standard, extended = (5.0, 9.0, 15.0, 20.0), (28.0, 36.0, 48.0)
    level = "not one of the usual fixed voltages"
    if round(voltage, 2) in standard:
        level = "standard power range"
    elif round(voltage, 2) in extended:
        level = "extended power range (second-hand)"
    cable = "any" if amperes <= 300 else "marked for 5 A (second-hand)" if amperes <= 500 else "over 5 A: none"
    return Offer(f"0x{word:08X}", voltage, current, voltage * current, level, cable)


@formula
def pd_decode(word: str) -> Offer:
    """What a power data object for a fixed supply says: voltage, current, power.

    Bits 29 to 20 (roles and the like) are not read.

    Formula: bits 31..30 = 00; voltage bits 19..10 x 50 mV; current bits 9..0 x 10 mA
    Args:
        word: of 32 bits, in hexadecimal as "0x0001912C" (text)
    Gives:
        word: as read (text)
        voltage: offered (V)
        current: at most (A)
        power: at most (W)
        level: of the voltage (text)
        cable: that the current needs (text)
    Source: Linux and Zephyr headers for USB power delivery; voltages: TI TPS65994 data sheet; USB PD 3.1 (second-hand)

    >>> pd_decode("0x19096").current
    1.5
    """
    if re.fullmatch(r"0[xX][0-9a-fA-F]{1,8}", word) is None:
        raise RangeError(f"pd-decode: {word!r} is no word of 32 bits in hexadecimal; it is written as 0x0001912C.")
    bits = int(word, 16)
    if bits >> 30:
        raise RangeError(f"pd-decode: {word} is no fixed supply: bits 31 and 30 are {bits >> 30:02b} and not 00.")
    return _offer(bits >> 10 & MASK, bits & MASK, bits)


@formula
def pd_offer(voltage: float, current: float) -> Offer:
    """The power of a fixed supply's offer, and the word that makes it, all other bits zero.

    Formula: (V / 50 mV) << 10 | I / 10 mA; P = V I
    Args:
        voltage: offered (V, 0.05 to 51.15)
        current: offered (A, 0 to 10.23)
    Gives:
        word: in hexadecimal (text)
        voltage: offered (V)
        current: at most (A)
        power: at most (W)
        level: of the voltage (text)
        cable: that the current needs (text)
    Source: Linux and Zephyr headers for USB power delivery; voltages: TI TPS65994 data sheet; USB PD 3.1 (second-hand)

    >>> pd_offer(5.0, 3.0).word
    '0x0001912C'
    """
    volts, amperes = round(voltage / STEP_V), round(current / STEP_A)
    if abs(volts * STEP_V - voltage) > 1e-9 or abs(amperes * STEP_A - current) > 1e-9:
        raise RangeError(f"pd-offer: {voltage:g} V and {current:g} A do not go in steps of 50 mV and 10 mA.")
    return _offer(volts, amperes, volts << 10 | amperes)
