"""That reading on a supply rail, a USB or USB-C contact, an HDMI pin or a charger: what does it mean?"""

from knowngood.handbook.rails.cells import charge_zone, charger, protector
from knowngood.handbook.rails.hdmi import hdmi_load, hdmi_pin
from knowngood.handbook.rails.power_delivery import pd_decode, pd_offer
from knowngood.handbook.rails.usb import cable_drop, usb_load
from knowngood.handbook.rails.usb_c import contact, contact_divider, contact_resistor, contact_source
from knowngood.handbook.rails.windows import rail_reading, rail_window

__all__ = [
    "cable_drop",
    "charge_zone",
    "charger",
    "contact",
    "contact_divider",
    "contact_resistor",
    "contact_source",
    "hdmi_load",
    "hdmi_pin",
    "pd_decode",
    "pd_offer",
    "protector",
    "rail_reading",
    "rail_window",
    "usb_load",
]
