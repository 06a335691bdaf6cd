"""How long a person waits for the terminal: start-up of ``--help`` and of each answer, beside a bare interpreter.

python benchmarks/startup.py
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time


def seconds(words: list[str], times: int = 5) -> float:
    """The median of several runs."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        subprocess.run(words, check=True, capture_output=True)
        taken.append(time.perf_counter() - start)
    return sorted(taken)[times // 2]


def main() -> None:
    """Prints seconds and the ratio to a bare interpreter, measured side by side in one run."""
    knowngood = [sys.executable, "-m", "knowngood.cli.main"]
    with tempfile.TemporaryDirectory() as home:
        os.environ["KNOWNGOOD_HOME"] = home
        new = ["unit", "new", "--map", "ceiling-projector", "--paid", "EUR 45", "--past", "dropped"]
        subprocess.run([*knowngood, *new], check=True, capture_output=True)
        bare = seconds([sys.executable, "-c", "pass"])
        print(f"{'bare interpreter':<28} {bare:6.2f} s")
        for words in (["--help"], ["unit", "list"], ["log", "U1", "noted x"], ["belief", "U1"], ["next", "U1"]):
            taken = seconds([*knowngood, *words])
            print(f"{'knowngood ' + ' '.join(words):<28} {taken:6.2f} s   {taken / bare:5.1f} x")


if __name__ == "__main__":
    main()
