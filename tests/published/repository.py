"""Networks of the bnlearn repository, from the copies that pgmpy ships.

Its own reader takes seconds for a network of five variables, so these files are read here. Their rows sum to one only
within 1e-7, and are renormalised.
"""

from __future__ import annotations

import gzip
import re
from functools import cache
from importlib.util import find_spec
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Tables = dict[str, tuple[tuple[str, ...], NDArray[np.float64]]]
"""Per variable the axes (variable, parents...) and the table."""

VARIABLE = re.compile(r"variable (\S+) \{\s*type discrete \[ \d+ \] \{ (.*?) \};")
PROBABILITY = re.compile(r"probability \( (\S+)(?: \| (.*?))? \) \{(.*?)\}", re.DOTALL)
ROW = re.compile(r"(?:table|\((.*?)\)) (.*?);")


@cache
def network(name: str) -> tuple[dict[str, list[str]], Tables]:
    """The states of each variable by name, and the tables."""
    package = find_spec("pgmpy")
    assert package is not None
    assert package.origin is not None
    file = Path(package.origin).parent / "utils" / "example_models" / f"{name}.bif.gz"
    text = gzip.decompress(file.read_bytes()).decode()
    states = {variable: names.split(", ") for variable, names in VARIABLE.findall(text)}
    tables: Tables = {}
    for variable, above, body in PROBABILITY.findall(text):
        parents = above.split(", ") if above else []
        table = np.full([len(states[one]) for one in (variable, *parents)], np.nan)
        for given, row in ROW.findall(body):
            shown = zip(parents, given.split(", "), strict=True) if given else ()
            table[(slice(None), *(states[one].index(state) for one, state in shown))] = [*map(float, row.split(", "))]
        assert not np.isnan(table).any(), f"{name}: {variable} has no whole table"
        tables[variable] = (variable, *parents), table / table.sum(axis=0)
    assert tables.keys() == states.keys()
    return states, tables
