"""What is this device? The schema of a map, its loader and checker, the kinds library and the starter maps."""

from knowngood.maps.device import Device
from knowngood.maps.load import findings_in, load, load_text

__all__ = ["Device", "findings_in", "load", "load_text"]
