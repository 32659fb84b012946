"""`python -m tests.bench.said`: thirteen wrong pulls through the real screens, and what a hire's page says at each moment.

The causes are simulated; the table of what is to be said, and what each word and number is held against, are in
tests/support/wrong_pulls.
"""

import sys
import tempfile
from pathlib import Path

from kiosk import display
from tests.bench.bars import Bars


def main() -> int:
    from tests.support.wrong_pulls import SAID, WRONG, played

    bars = Bars("Wrong pulls on the real screens")
    otherwise, untrue = [], []
    with tempfile.TemporaryDirectory() as folder:
        for n, name in enumerate(WRONG):
            play = played(name, Path(folder) / str(n))
            print(f" {name}: {play.said['stopped']}", flush=True)
            otherwise += [f"{name}, {moment}: {words}" for moment, words in play.said.items() if words != SAID[name][moment]]
            untrue += [f"{name}: {each}" for each in play.untrue]
    for each in (*otherwise, *untrue):
        print(f"   {each}")
    bars.above("wrong pulls played", len(WRONG), 13)
    bars.below("moments at which something else is said than the table has", len(otherwise), 0)
    bars.below("words or numbers that go against the pull", len(untrue), 0)
    return bars.end()


if __name__ == "__main__":
    display.prepare(Path(tempfile.mkdtemp()), offscreen=True)
    sys.exit(main())
