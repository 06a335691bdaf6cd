"""What goes on paper: set by Typst with the fonts that it carries, so that it looks the same on every machine."""

from __future__ import annotations

import json
from collections.abc import Mapping
from importlib.resources import files
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from knowngood.errors import PictureError


def typeset(template: str, given: object, form: str, pictures: Mapping[str, bytes] | None = None) -> bytes:
    """A template of this folder set with what it is given, as ``pdf``, or one page as ``svg`` or ``png``.

    The template finds ``pictures`` beside itself, by their names.
    """
    typst = needed("typst")
    with TemporaryDirectory(prefix="knowngood-") as there:
        source = Path(there, template)
        source.write_bytes(files("knowngood.cli").joinpath(template).read_bytes())
        for name, content in (pictures or {}).items():
            Path(there, name).write_bytes(content)
        made = typst.compile(
            source,
            root=there,
            format=form,
            ignore_system_fonts=True,
            sys_inputs={"given": json.dumps(given)},
            ppi=300.0,
        )
    assert isinstance(made, bytes)
    return made


def needed(name: str) -> Any:
    """A package of the extra for paper. Raises PictureError if it is not there."""
    try:
        return __import__(name)
    except ImportError:
        raise PictureError(f"To print takes {name}, which is not installed: pip install 'knowngood[paper]'") from None
