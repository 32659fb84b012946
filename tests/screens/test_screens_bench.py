"""The bench of the screens bites: a child that dies by a signal is no child without a fault."""

import signal
import subprocess
import sys

from tests.bench.screens import faults
from tests.support.longer import Longer


def test_a_child_that_a_signal_ended_has_failed():
    ended = subprocess.run([sys.executable, "-c", "import os, signal; os.kill(os.getpid(), signal.SIGSEGV)"])
    assert ended.returncode == -signal.SIGSEGV and faults(ended.returncode) > 0
    assert faults(0) == 0 and faults(3) == 3


def test_the_longer_language_lengthens_what_the_screens_say():
    assert Longer().render("Order") == Longer().gettext("Order") != "Order"
