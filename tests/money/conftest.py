"""The small devices of the plan's tests and the oracle of the belief's are used here too."""

from __future__ import annotations

import sys
from pathlib import Path

for folder in ("plan", "belief"):
    sys.path.insert(0, str(Path(__file__).parents[1] / folder))
