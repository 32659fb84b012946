"""The README's two commands on a minimal Debian: `python -m tests.bench.minimal FOLDER [bookworm] [trixie] [--run-only]`. For
the superuser.

Needs Debian's debootstrap, and a network for packages and wheels: what this machine's pip is told of it (its certificates,
its indexes) the fresh machine is told too. FOLDER keeps the bare systems, from which each run is made anew. A fresh clone of
what is committed is all that they are given. Bars: without the README's packages and without a display the first command
plays the shift, says which packages bring its pictures, and ends with 0; with them it saves pictures and ends with 0; the second
ends with 0; the pure part of the suite passes by that Debian's own Python.
"""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

from tests.bench.bars import Bars
from tests.bench.station import MIRROR, on_host, over_suites

ROOT = Path(__file__).resolve().parents[2]
PYTHON = "python3 python3-venv ca-certificates"     # "Python 3.11 or later"; wheels come over https
PURE = "tests/bar tests/book tests/hardware tests/station/test_clocks.py"
CERTIFICATES = Path("/etc/ssl/certs/ca-certificates.crt")
FAILED_LINES = 25


def blocks() -> list[str]:
    """The README's commands, in turn."""
    return re.findall(r"^```sh\n(.*?)^```", (ROOT / "README.md").read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL)


def packages() -> str:
    """What the README says to install for its pictures."""
    return re.search(r"`apt-get install ([^`]*)`", (ROOT / "README.md").read_text(encoding="utf-8"))[1]


class Fresh:
    """A minimal Debian with the clone in /root/clone, made anew from the bare one."""

    def __init__(self, folder: Path, suite: str):
        bare, self.root = folder / f"bare-{suite}", folder / f"fresh-{suite}"
        if not (bare / "etc/debian_version").exists():
            on_host("debootstrap", "--variant=minbase", suite, str(bare), MIRROR)
        self.end()
        on_host("cp", "--archive", str(bare), str(self.root))
        on_host("git", "clone", "--quiet", str(ROOT), str(self.root / "root/clone"))
        for source, to in (("proc", "proc"), ("devpts", "dev/pts"), ("tmpfs", "dev/shm")):
            (self.root / to).mkdir(exist_ok=True)
            on_host("mount", "-t", source, source, str(self.root / to))
        shutil.copyfile("/etc/resolv.conf", self.root / "etc/resolv.conf")

    def install(self, names: str) -> None:
        on_host("chroot", str(self.root), "sh", "-c", "apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq "
                f"--no-install-recommends {names}")

    def trusts_the_network(self) -> None:
        """As this machine's pip is told."""
        if CERTIFICATES.exists():
            shutil.copyfile(CERTIFICATES, self.root / CERTIFICATES.relative_to("/"))

    def run(self, command: str) -> tuple[int, str]:
        """(exit status, what it printed), in the clone, with no display."""
        environ = {name: value for name, value in os.environ.items() if name in ("PIP_INDEX_URL", "PIP_DEFAULT_TIMEOUT", "LANG")}
        done = subprocess.run(["chroot", str(self.root), "sh", "-c", f"cd /root/clone && {command}"], text=True, capture_output=True,
                              env=environ | {"HOME": "/root", "PATH": "/usr/sbin:/usr/bin:/sbin:/bin", "PIP_CERT": str(CERTIFICATES)})
        return done.returncode, done.stdout + done.stderr

    def end(self) -> None:
        if self.root.exists():
            for place in ("dev/shm", "dev/pts", "proc"):
                subprocess.run(["umount", str(self.root / place)], stderr=subprocess.DEVNULL)
            if any(str(self.root) in line.split(" ")[1] for line in Path("/proc/mounts").read_text().splitlines()):
                raise SystemExit(f"Something is still mounted in {self.root}: end what runs there first.")
            shutil.rmtree(self.root)


def play(bars: Bars, folder: Path, suite: str, run_only: bool) -> None:
    first, second = blocks()[:2]
    fresh = Fresh(folder, suite)
    try:
        fresh.install(PYTHON)
        fresh.trusts_the_network()
        ended(bars, f"{suite}, nothing but Python: the first command", *(bare := fresh.run(first)))
        bars.above(f"{suite}: it says which packages bring the pictures", packages() in bare[1] and "no pictures" in bare[1], 1)
        fresh.install(packages())
        ended(bars, f"{suite}, with the README's packages: the first command", *(full := fresh.run(first)))
        pictures = re.search(r"(\d+) pictures", full[1])
        bars.above(f"{suite}: pictures of the shift", int(pictures[1]) if pictures else 0, 10)
        if not run_only:
            ended(bars, f"{suite}: the second command", *fresh.run(second))
            ended(bars, f"{suite}: the pure part by {fresh.run('python3 --version')[1].strip()}",
                  *fresh.run(f".venv-test/bin/python -m pytest -q -p no:cacheprovider {PURE}"))
    finally:
        fresh.end()


def ended(bars: Bars, what: str, status: int, said: str) -> None:
    bars.below(f"{what}: exit status", status, 0)
    lines = said.strip().splitlines()
    print("\n".join(f"   {line}" for line in (lines[-FAILED_LINES:] if status else lines[-2:])), flush=True)


if __name__ == "__main__":
    sys.exit(over_suites("The README's commands on a minimal Debian", __doc__, play, "--run-only", action="store_true",
                         help="leave the suite out, which takes many minutes"))
