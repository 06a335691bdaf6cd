"""Runs one unit through the whole job in the terminal: ``make demo``, or ``python examples/demo.py drowned-navigator``.

Reads a log beside it and does with each part of it what a person would do with the command line: it logs the lines,
and shows what the heading names. Nothing here computes anything.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

HERE = Path(__file__).parent
KNOWNGOOD = [sys.executable, "-m", "knowngood.cli.main"]

FALLEN = "fallen-projector"
BOUGHT = {
    FALLEN: ("ceiling-projector", "EUR 35", "dropped"),
    "drowned-navigator": ("pocket-navigator", "EUR 22", "wet"),
}
"""By log: the map of its unit, what was paid for it, and what had happened to it."""


def parts(text: str) -> list[tuple[str, list[str], list[str]]]:
    """The headings of the log file, with the lines under each and the commands that show what they came to."""
    found: list[tuple[str, list[str], list[str]]] = []
    for line in text.splitlines():
        if line.startswith("=="):
            title, _, shows = line.removeprefix("==").strip().rpartition(" : ")
            found.append((title, [], shows.split()))
        elif line.strip() and not line.startswith("#"):
            found[-1][1].append(line)
    return found


def run(*words: str, typed: list[str] | None = None) -> None:
    """Shows a command and runs it; a command that fails ends the demo."""
    shown = " ".join(f'"{word}"' if " " in word else word for word in words)
    print(f"\n$ knowngood {shown}" + (" < lines" if typed else ""), flush=True)
    text = "\n".join(typed) if typed else None
    done = subprocess.run([*KNOWNGOOD, *words], input=text, text=True, check=False)
    if done.returncode:
        raise SystemExit(done.returncode)


def main(name: str = FALLEN) -> None:
    """The whole job on a store of its own, made anew each time."""
    if name not in BOUGHT:
        raise SystemExit(f"There is no example '{name}'. There are: {', '.join(BOUGHT)}.")
    map_, paid, past = BOUGHT[name]
    home = Path(os.environ.get("KNOWNGOOD_DEMO_HOME", ".demo"))
    shutil.rmtree(home, ignore_errors=True)
    os.environ["KNOWNGOOD_HOME"] = str(home)
    log = HERE / f"{name}.log"
    print(f"One unit from wreck to known good. Its log: {log}; its map: knowngood map list, {map_}.")
    given = parts(log.read_text(encoding="utf-8"))
    typed = [line for _, lines, _ in given for line in lines]
    if any(line.startswith("measured ") for line in typed):
        today = datetime.now(UTC).date().isoformat()
        run("bench", "instrument", "fluxa", "--calibrated", today, "--uncertainty", "5 %")
    if any(line.startswith("D1 ") for line in typed):
        run("unit", "new", "--map", map_, "--paid", "EUR 5", "--past", "opened-before", "--donor")
    run("unit", "new", "--map", map_, "--paid", paid, "--past", past)
    for title, lines, shows in given:
        print(f"\n{'=' * 80}\n{title}\n{'=' * 80}")
        of_donor = [line.removeprefix("D1 ") for line in lines if line.startswith("D1 ")]
        of_unit = [line for line in lines if not line.startswith("D1 ")]
        if of_donor:
            run("log", "D1", typed=of_donor)
        if of_unit:
            run("log", "U1", typed=of_unit)
        for command in shows:
            run(*([command] if command == "stock" else [command, "U1", *WITH.get(command, [])]))
    print(f"\nThe store of this demo is {home}. Look on with: knowngood show U1 --home {home}")


WITH = {"belief": ["--most", "5"], "next": ["--most", "4"], "ledger": ["--forecast"]}

if __name__ == "__main__":
    main(*sys.argv[1:2])
