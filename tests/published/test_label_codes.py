"""The codes on labels, read by an independent scanner (zxing-cpp 3.1) from the label as it is printed.

The code follows ISO/IEC 18004; the scanner knows nothing of how it was made.
"""

from __future__ import annotations

from io import BytesIO

import pytest
import zxingcpp
from PIL import Image

from knowngood.bench.labels import Label
from knowngood.cli import label_picture

CODES = ["knowngood:U1", "knowngood:D1/lamp-door", "knowngood:in/drawer 3", "knowngood:U128/supply-temperature-sensor"]


def scanned(picture: Image.Image) -> list[str]:
    found = zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormat.QRCode)
    return sorted(one.text for one in found)


@pytest.mark.parametrize("size", ["62x29 mm", "100x50 mm"])
def test_a_scanner_reads_every_code_off_the_printed_labels(size: str) -> None:
    made = [Label(code, "D1", "", "Lamp door", code, None, ("not tested",), ("sharp edges",)) for code in CODES]
    printed = Image.open(BytesIO(label_picture.column(made, label_picture.measure(size), "png")))
    assert scanned(printed) == sorted(CODES)
    # As a phone sees it: 100 dots an inch, turned a little.
    seen = printed.convert("L").resize((printed.width // 3, printed.height // 3)).rotate(7, expand=True, fillcolor=255)
    assert scanned(seen) == sorted(CODES)


def test_a_scanner_reads_the_code_of_the_smallest_label_that_is_drawn() -> None:
    code = CODES[0]
    made = Label(code, "U1", "", "Radio", code)
    size = label_picture.measure("30x15 mm")
    printed = Image.open(BytesIO(label_picture.column([made], size, "png")))
    assert scanned(printed) == [code]
