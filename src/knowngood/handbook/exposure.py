"""Which class is that laser, how much solder fume or alcohol vapour do I breathe?"""

from __future__ import annotations

from dataclasses import dataclass

from knowngood.handbook.formula import formula
from knowngood.handbook.limits import limits


@dataclass(frozen=True)
class LaserClass:
    laser_class: str
    because: str
    blink: str


@formula
def laser_class(power: float, wavelength: float) -> LaserClass:
    """The class of a continuous laser by the power that can reach a person.

    A product with the laser shut in is class 1; with a panel off for service it is not, and the class of the laser
    inside holds. The class 1 limit is known here at 650 nm only: elsewhere two classes may be named, take the higher.

    Formula: class 1 to 0.39 mW (650 nm); 2 to 1 mW and 3R to 5 mW (400 to 700 nm only); 3B to 500 mW; 4 above
    Args:
        power: continuous, of the beam (W, 0 to 1000)
        wavelength: of the light; of a disc drive 650 or 780 nm, of a blue one 405 nm (m, 400e-9 to 1400e-9)
    Gives:
        laser_class: or those that it can be (text)
        because: the limit that says so (text)
        blink: whether blinking protects (text)
    Source: EN 60825-1:2014, quoted in a laser-safety training document; toyo-elec.co.jp, Semiconductor laser safety
        standard (wavelength 400 to 700 nm)
    Caution: Power off before opening; eye never in line with the lens and no closer than 30 cm (from memory); never run
        a writer with the cover off; a 780 nm spot looks faint however strong it is. Local codes and licensed practice
        come first.

    >>> laser_class(power=3e-3, wavelength=650e-9).laser_class
    '3R'
    """
    edge = {
        name: limits()[f"laser.{name}"].quantity_in("W") for name in ("class1.650nm", "class2", "class3r", "class3b")
    }
    nanometres = round(wavelength * 1e9, 3)
    visible, red = nanometres <= 700.0, abs(nanometres - 650.0) < 0.5
    blink = "protects in class 2 only"
    if not visible or nanometres < 450.0:
        blink = "none: the eye hardly sees it" if not visible else "weak at 405 nm (from memory)"
    if power > edge["class3b"]:
        return LaserClass("4", "above 500 mW, the limit of class 3B", blink)
    if not visible:
        return LaserClass(
            "3B or lower: treat it as 3B", "the class 1 limit at this wavelength is not known here", blink
        )
    if red and power <= edge["class1.650nm"]:
        return LaserClass("1", "up to about 0.39 mW at 650 nm", blink)
    if power <= edge["class2"]:
        return LaserClass("2" if red else "1 or 2: treat it as 2", "up to 1 mW, visible", blink)
    if power <= edge["class3r"]:
        return LaserClass("3R", "up to 5 mW, visible", blink)
    return LaserClass("3B", "above 5 mW, up to 500 mW", blink)


@dataclass(frozen=True)
class Exposure:
    verdict: str
    average: float
    limit: str
    over: str
    source: str


@formula
def solder_fume(concentration: float, duration: float) -> tuple[Exposure, ...]:
    """Whether rosin flux fume at the bench keeps the British workplace limits.

    Hand soldering without extraction was measured from below 0.001 to 2.289 mg/m^3 at 26 sites. Best is extraction at
    the tip, well placed and kept.

    Formula: average = c min(t, T) / T, T = 8 h and 15 min
    Args:
        concentration: of resin acids in the air that is breathed (kg/m^3, 0 to 1)
        duration: for which it is breathed in a shift (s, 0 to 28800)
    Gives:
        verdict: by this limit (text)
        average: over the time of the limit (kg/m^3)
        limit: of the average (text)
        over: the time of the limit (text)
        source: where it stands (text)
    Source: HSE SIM 03/2002/26; range measured: Pengelly et al., Ann. Occup. Hyg. 42(5), 1998, 295-302
    Caution: Rosin fume causes asthma and dermatitis: extraction on, and close. Local codes, workplace law and licensed
        practice come first.

    >>> [row.verdict for row in solder_fume(concentration=0.1e-6, duration=3600.0)]
    ['within', 'within']
    """
    found = []
    for name, over, words in (("rosin.8h", 28800.0, "8 h"), ("rosin.15min", 900.0, "15 min")):
        row = limits()[name]
        average = concentration * min(duration, over) / over
        verdict = "within" if average <= row.quantity_in("kg/m^3") else "BEYOND"
        found.append(Exposure(verdict, average, row.text(), words, row.source))
    return tuple(found)


@dataclass(frozen=True)
class Vapour:
    concentration: float
    of_shift_limit: float
    of_explosive_limit: float


@formula
def alcohol_vapour(volume: float, room: float) -> Vapour:
    """How much isopropyl alcohol is in the air once what was used has dried off, in a closed room.

    All of it evaporated and evenly mixed, no air changed; near the board and the floor it is far richer. The density
    785 kg/m^3 is from memory.

    Formula: c = rho V / room; 980 mg/m^3 is 400 ppm, the limit of a shift; 2.0 % is the lower explosive limit
    Args:
        volume: of alcohol used (m^3, 0 to 0.01)
        room: its volume (m^3, 1 to 100000)
    Gives:
        concentration: of vapour in the air (kg/m^3)
        of_shift_limit: as a multiple of the limit over a shift (1)
        of_explosive_limit: as a multiple of the lower explosive limit (1)
    Source: NIOSH Pocket Guide to Chemical Hazards, isopropyl alcohol
    Caution: Flash point 11.7 degC, below room temperature: no hot air, iron or power until dry, no flame, air. Local
        codes, workplace law and licensed practice come first.

    >>> round(alcohol_vapour(volume=50e-6, room=20.0).of_shift_limit, 3)
    2.003
    """
    concentration = 785.0 * volume / room
    shift = concentration / 980e-6
    parts = shift * limits()["ipa.rel"].quantity_in("")
    return Vapour(concentration, shift, parts / limits()["ipa.lel"].quantity_in(""))
