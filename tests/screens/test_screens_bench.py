"""The bench of the screens bites: a child that dies by a signal is no child without a fault."""

import signal
import subprocess
import sys

from tests.bench.screens import faults


def test_a_child_that_a_signal_ended_has_failed():
    ended = subprocess.run([sys.executable, "-c", "import os, signal; os.kill(os.getpid(), signal.SIGSEGV)"])
    assert ended.returncode == -signal.SIGSEGV and faults(ended.returncode) > 0
    assert faults(0) == 0 and faults(3) == 3
