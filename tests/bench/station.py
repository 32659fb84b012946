"""The unit booted in containers: `python -m tests.bench.station FOLDER [bookworm] [trixie] [--hangs 20]`. For the superuser.

Needs Debian's debootstrap and systemd-container, Python's pillow, and a network for packages and wheels. FOLDER keeps the
containers' roots, for the next time, and the pictures. One container at a time, and nothing else beside it: two would share
their groups of processes, and a hang is timed. The panel is headless (no graphics card, no console): a drop-in says so, and nothing else
of the unit is changed. Bars: set up twice, the second time with nothing to do; the picture fills the panel (Debian 13 can be
told a size); a hang, and kill -9, cured; a refused start readable in picture and journal; an update, one that fails,
and the book whole after it.
"""

import argparse
import json
import shlex
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

from PIL import Image

from kiosk.bar.model import STARTS, service_day
from kiosk.commands.station import NEEDED
from tests.bench.bars import Bars

ROOT = Path(__file__).resolve().parents[2]
PYTHONS = {"bookworm": "3.11", "trixie": "3.13"}
PACKAGES = " ".join(NEEDED)
TO_LOOK = "faketime systemd ca-certificates procps grim wlr-randr udev dbus systemd-sysv"
HEADLESS = """[Unit]
ConditionPathExists=
[Service]
TTYPath=
StandardInput=null
Environment=WLR_BACKENDS=headless WLR_LIBINPUT_NO_DEVICES=1 WLR_RENDERER=pixman LIBGL_ALWAYS_SOFTWARE=1 SDL_AUDIODRIVER=dummy
"""
KEY = (230, 159, 0)             # the colour of what is to be touched next: Colour.next
AS_KIOSK = "setpriv --reuid=evenpull --regid=evenpull --init-groups"
CURED_S = 15.0
EXPOSURE = 4.5                  # of systemd's ten: "medium" ends at 5.0
CLOCK = """[Service]
ExecStart=
ExecStart=/usr/bin/cage -d -- /usr/bin/env LD_PRELOAD=/{library} FAKETIME_TIMESTAMP_FILE=/var/lib/evenpull/offset \
 FAKETIME_DONT_FAKE_MONOTONIC=1 FAKETIME_NO_CACHE=1 /opt/evenpull/now/bin/evenpull --fullscreen
"""
BROKEN = {
    "does not start": "echo 'raise SystemExit(3)' > app.py",
    "makes the book a newer one and then ends": "sed -i 's/^FORMAT = 2/FORMAT = 3/' book/stored_record.py && sed -i "
    "'s/^STEPS.*/STEPS = {1: _traces_apart, 2: lambda folder, disk: None}/' book/upgrade.py && sed -i "
    "'s/self.service.book.nudge()/raise SystemExit(3)/' app.py"}
ORDERS = 3
TILL_PORTS = {"bookworm": 7112, "trixie": 7113}     # the containers share this machine's network
TILL = """import socket, sys, time
with socket.create_server(("127.0.0.1", int(sys.argv[1]))) as till:
    line, _ = till.accept()
    time.sleep(3)
    for number in (11, 12, 13):
        line.sendall(f"Order {number}\\n1 Espresso\\n\\f".encode())
        time.sleep(2)
    time.sleep(600)
"""
MIRROR = "http://deb.debian.org/debian"


def on_host(*command: str) -> None:
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)


class Container:
    """A booted Debian; `run` gives what a shell command in it printed, whatever became of it."""

    def __init__(self, root: Path):
        self.root = root
        self._log = open(root.with_suffix(".boot"), "w")
        self._nspawn = subprocess.Popen(["systemd-nspawn", "--register=no", "--keep-unit", "-D", str(root), "--boot"],
                                        stdin=subprocess.DEVNULL, stdout=self._log, stderr=self._log)
        self._first = self.wait_for(lambda: self._child(), 20)
        self.wait_for(lambda: "running" in self.run("systemctl is-system-running") or
                       "degraded" in self.run("systemctl is-system-running"), 60)

    def _child(self) -> str:
        return subprocess.run(["pgrep", "-P", str(self._nspawn.pid)], capture_output=True, text=True).stdout.split("\n")[0]

    @staticmethod
    def wait_for(there, patience_s: float):
        until_s = time.monotonic() + patience_s
        while not (found := there()) and time.monotonic() < until_s:
            time.sleep(0.1)
        return found

    def run(self, command: str) -> str:
        done = subprocess.run(["nsenter", "-t", self._first, "-a", "/bin/sh", "-c", command], capture_output=True, text=True)
        return done.stdout + done.stderr

    def show(self, what: str) -> str:
        return self.run(f"systemctl show evenpull.service --property={what} --value").strip()

    def kiosk(self) -> str:
        return self.run("pgrep -u evenpull -f 'python.*evenpull --fullscreen'").split("\n")[0]

    def serving(self, than: str = "", patience_s: float = 90) -> float | None:
        """Seconds until a kiosk serves that is not the process `than`; None where none did."""
        began_s = time.monotonic()
        found = self.wait_for(lambda: self.show("ActiveState") == "active" and self.kiosk() not in ("", than), patience_s)
        return time.monotonic() - began_s if found else None

    def picture(self, to: Path, size: str | None = None) -> Image.Image:
        seat = f"{AS_KIOSK} env XDG_RUNTIME_DIR=/run/evenpull WAYLAND_DISPLAY=wayland-0"
        if size:
            self.run(f"{seat} wlr-randr --output HEADLESS-1 --custom-mode {size}")
            time.sleep(3)
        self.run(f"rm -f /var/tmp/panel.png; timeout 30 {seat} grim /var/tmp/panel.png")
        shutil.copyfile(self.root / "var/tmp/panel.png", to)
        return Image.open(to).convert("RGB")

    def close(self) -> None:
        self.run("systemctl poweroff")
        try:
            self._nspawn.wait(20)
        except subprocess.TimeoutExpired:
            self._nspawn.kill()
        self._log.close()


def root_of(folder: Path, suite: str) -> Path:
    root = folder / suite
    if not (root / "etc/debian_version").exists():
        on_host("debootstrap", "--variant=minbase", suite, str(root), MIRROR)
    if not (root / "usr/bin/faketime").exists():
        on_host("chroot", str(root), "sh", "-c", f"apt-get install -y -qq --no-install-recommends {PACKAGES} {TO_LOOK}")
    on_host("chroot", str(root), "sh", "-c", "rm -rf /root/v /opt/evenpull /var/lib/evenpull/book* "      # of the last time
            "/etc/systemd/system/evenpull* /etc/systemd/system/*/evenpull.service")
    wheels = root / "root/wheels"
    shutil.rmtree(wheels, ignore_errors=True)
    on_host(sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--wheel-dir", str(wheels), str(ROOT))
    (wheel,) = wheels.glob("evenpull-*.whl")
    on_host(sys.executable, "-m", "pip", "download", "-qq", "--python-version", PYTHONS[suite], "--only-binary=:all:",
            "--dest", str(wheels), str(wheel))
    dropin = root / "etc/systemd/system/evenpull.service.d"
    dropin.mkdir(parents=True, exist_ok=True)
    (dropin / "headless.conf").write_text(HEADLESS)
    return root


def filled(picture: Image.Image) -> bool:
    """Whether the kiosk's own ground, and something on it, is seen in each quarter of the panel."""
    width, height = picture.size
    quarters = [picture.crop((x, y, x + width // 2, y + height // 2)) for x in (0, width // 2) for y in (0, height // 2)]
    return all(len(each.getcolors(1 << 24)) > 3 and each.getpixel((each.width // 2, each.height // 2)) != (0, 0, 0)
               for each in quarters)


def one_key(picture: Image.Image) -> bool:
    """Whether the key to touch next is there, once, and half way across."""
    there = [x for x in range(picture.width) if any(picture.getpixel((x, y)) == KEY for y in range(0, picture.height, 8))]
    return bool(there) and there[-1] - there[0] < len(there) + picture.width // 20 and \
        abs(there[0] + there[-1] - picture.width) < picture.width // 20


def play(bars: Bars, folder: Path, suite: str, hangs: int) -> None:
    root = root_of(folder, suite)
    wheel = f"/root/wheels/{next((root / 'root/wheels').glob('evenpull-*.whl')).name}"
    offline = "env PIP_NO_INDEX=1 PIP_FIND_LINKS=/root/wheels"
    box = Container(root)
    try:
        box.run(f"python3 -m venv /root/v && {offline} /root/v/bin/pip install -q {wheel}")
        said = box.run(f"{offline} /root/v/bin/evenpull station install {wheel}")
        bars.above(f"{suite}: set up by one command", "Done." in said, 1)
        print(said if "Done." not in said else "", end="")
        told = box.run("systemd-analyze security --offline=true /etc/systemd/system/evenpull.service")
        exposure = float(told.strip().splitlines()[-1].split(": ")[1].split()[0])
        bars.below(f"{suite}: exposure, as systemd counts it", exposure, EXPOSURE)
        again = box.run(f"{offline} /root/v/bin/evenpull station install {wheel}")
        bars.above(f"{suite}: run again, nothing is left to do", "Nothing is left" in again, 1)
        began_s = box.serving()
        bars.below(f"{suite}: seconds until it serves", began_s if began_s is not None else 999.0, 60)
        bars.above(f"{suite}: the book is found by the command anyone runs",
                      json.loads(box.run("evenpull where --json"))["there"], 1)
        if suite == "trixie":
            for size in ("800x480", "1024x600"):
                seen = box.picture(folder / f"{suite}-{size}.png", size)
                bars.above(f"{suite}: the picture fills {size}", filled(seen) and f"{seen.width}x{seen.height}" == size, 1)
        else:
            box.picture(folder / f"{suite}.png")
        for signal, many in (("STOP", hangs), ("KILL", 1)):
            cured = [cure(box, signal) for _ in range(many)]
            bars.above(f"{suite}: SIG{signal} cured within {CURED_S:.0f} s, of {many}", sum(s <= CURED_S for s in cured), many)
            bars.below(f"{suite}: seconds of the slowest", max(cured), CURED_S)
        refused(bars, box, folder, suite)
        unset_clock(bars, box, folder, suite)
        updates(bars, box, suite, wheel)
    finally:
        box.close()


def cure(box: Container, signal: str) -> float:
    """Seconds from the signal until another kiosk serves."""
    box.serving()
    old = box.kiosk()
    box.run(f"kill -{signal} {shlex.quote(old)}")
    cured_s = box.serving(than=old)
    cured_s = cured_s if cured_s is not None else 999.0
    print(f"   SIG{signal}: {cured_s:.1f} s", flush=True)
    return cured_s


def refused(bars: Bars, box: Container, folder: Path, suite: str) -> None:
    """A book that may not be written; given back, the kiosk serves by itself."""
    box.run("systemctl stop evenpull; chown -R root: /var/lib/evenpull/book; chmod 700 /var/lib/evenpull/book; "
            "systemctl start --no-block evenpull")
    time.sleep(12)
    seen = box.picture(folder / f"{suite}-refused.png")
    bars.above(f"{suite}: it is readable in the picture: one key, in the middle", one_key(seen), 1)
    bars.above(f"{suite}: a refused start is in the journal under the unit's name",
                  "may not write" in box.run("journalctl -u evenpull.service --no-pager"), 1)
    bars.below(f"{suite}: starts while it is refused (it stays, and says why)", int(box.show("NRestarts") or 0), 1)
    box.run("chown -R evenpull: /var/lib/evenpull/book")
    bars.below(f"{suite}: seconds until it serves by itself, the folder given back", box.serving() or 999.0, 60)


def unset_clock(bars: Bars, box: Container, folder: Path, suite: str) -> None:
    """The computer's clock is everybody's, also out of the container: so the kiosk alone is shown another, by a library
    that Debian has for that. Orders come as a till's tickets."""
    offset = box.root / "var/lib/evenpull/offset"
    offset.write_text(f"-{int(time.time()) - 8 * 3600}")                     # eight in the morning of 1 January 1970
    where = box.root / "etc/systemd/system/evenpull.service.d/clock.conf"
    where.write_text(CLOCK.format(library=next(box.root.glob("usr/lib/*/faketime/libfaketimeMT.so.1")).relative_to(box.root)))
    (box.root / "root/till.py").write_text(TILL)
    port, setup = TILL_PORTS[suite], box.root / "var/tmp/setup.json"
    settings = {"till": {"url": f"socket://127.0.0.1:{port}"}}
    setup.write_text(json.dumps({"evenpull": "setup", "format": 1, "settings": settings}))
    today = service_day(box.run("date --iso-8601=seconds").strip(), STARTS)
    print("  ", box.run("systemctl stop evenpull; rm -rf /var/lib/evenpull/book; "
                        f"{AS_KIOSK} evenpull setup import /var/tmp/setup.json --book /var/lib/evenpull/book").strip())
    box.run("systemctl daemon-reload; systemctl start --no-block evenpull; "
            f"setsid python3 /root/till.py {port} >/dev/null 2>&1 </dev/null &")
    box.serving()
    days = box.root / "var/lib/evenpull/book/days"
    box.wait_for(lambda: orders(days, "1970-01-01") >= ORDERS, 60)
    made = orders(days, "1970-01-01")
    box.picture(folder / f"{suite}-1970.png")
    bars.above(f"{suite}: orders under a clock of 1970, marked", made, ORDERS)
    offset.write_text("+0")                                              # the network answers
    box.wait_for(lambda: orders(days, today) >= made, 30)
    time.sleep(3)                                                        # the panel has a moment to say so
    box.picture(folder / f"{suite}-clock-set.png")
    bars.above(f"{suite}: of them in their day once it is set", orders(days, today), made)
    bars.below(f"{suite}: left in 1970", orders(days, "1970-01-01"), 0)
    where.unlink()
    box.run("pkill -f /root/till.py; systemctl daemon-reload; systemctl restart evenpull")
    box.serving()


def orders(days: Path, day: str) -> int:
    path = days / f"{day}.log"
    return path.read_bytes().count(b" OrderTaken ") if path.exists() else 0


def updates(bars: Bars, box: Container, suite: str, wheel: str) -> None:
    name, days = json.loads(box.run("evenpull where --json"))["station"], box.root / "var/lib/evenpull/book/days"
    made = sum(orders(days, path.stem) for path in days.glob("*.log"))
    said = box.run(f"evenpull station update {wheel}")
    bars.above(f"{suite}: an update with no network", "Done." in said, 1)
    for what, change in BROKEN.items():
        broken = "/root/broken/" + Path(wheel).name
        box.run("rm -rf /root/broken && mkdir /root/broken && cd /root/broken && "
                f"python3 -m zipfile -e {wheel} x && cd x/kiosk && {change} && cd .. && "
                f"python3 -m zipfile -c {broken} * && cd .. && rm -rf x")
        said = box.run(f"evenpull station update {broken}")
        bars.above(f"{suite}: an update that {what} goes back by itself", "The old one serves again" in said, 1)
        print(f"   {said.strip().splitlines()[-1]}", flush=True)
        bars.above(f"{suite}: the old program serves its own book", box.serving() is not None and
                   json.loads(box.run("evenpull where --json"))["station"] == name, 1)
        bars.above(f"{suite}: orders in it", sum(orders(days, path.stem) for path in days.glob("*.log")), made)


def over_suites(title: str, about: str | None, play: Callable, option: str, **given) -> int:
    """The command of a campaign over Debian's releases; `option` is handed to `play` last. Returns an exit status."""
    parser = argparse.ArgumentParser(description=about, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("suites", nargs="*", default=list(PYTHONS), metavar="SUITE")
    parser.add_argument(option, dest="how", **given)
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    bars = Bars(title)
    for suite in asked.suites:
        play(bars, asked.folder.absolute(), suite, asked.how)
    return bars.end()


if __name__ == "__main__":
    sys.exit(over_suites("The station's unit in containers", __doc__, play, "--hangs", type=int, default=20))
