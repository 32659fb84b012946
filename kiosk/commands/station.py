"""A station on this machine: set up, taken off, updated, looked at.

    station install [--dry-run]          user, folders, program, device rule, units; can be run again
    station remove [--dry-run]           takes them off; the book, its user and its folder stay
    station update WHEEL [--dry-run]     the new program beside the old one; goes back by itself where it does not start
    station check                        whether the book may be opened by this user, and why not

The first three are for the superuser. Each says first what it will do. Nothing is fetched from a network by `update`:
what the new program needs and this one has not lies as wheels beside WHEEL.
"""

import argparse
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from time import sleep

from kiosk import __version__
from kiosk.book import BookNewer, Disk, Identity
from kiosk.commands import folders
from kiosk.places import HERE, shipped
from kiosk.station.refusal import refusal

NEEDED = {"python3-venv": "usr/lib/python3*/ensurepip", "cage": "usr/bin/cage", "xwayland": "usr/bin/Xwayland",
          "seatd": "usr/*bin/seatd", "libgl1": "usr/lib/*/libGL.so.1",
          "libegl1": "usr/lib/*/libEGL.so.1", "libgl1-mesa-dri": "usr/lib/*/dri", "libmtdev1": "usr/lib/*/libmtdev.so.1"}
UNIT, STICK, RULE = "evenpull.service", "evenpull-stick@.service", "70-evenpull-scale.rules"
PLACES = {UNIT: "etc/systemd/system", STICK: "etc/systemd/system", RULE: "etc/udev/rules.d"}
PROGRAMS, HOME = "opt/evenpull", "var/lib/evenpull"
GROUPS = "dialout,video,input,render"
PROVEN_S = 60                   # a new program that has run so long without ending once is kept
STARTS_S = 60                   # what the unit gives a start (TimeoutStartSec)


class NotDone(RuntimeError):
    """A step failed; its text says which, why, and what to do."""


@dataclass(frozen=True, slots=True)
class Deed:
    """What will be done, in a sentence, and the doing of it."""

    says: str
    do: Callable[[], object]


def ran(*command: str) -> str:
    """What a command printed. Raises NotDone where it fails or is not there."""
    try:
        return subprocess.run(command, check=True, capture_output=True, text=True).stdout.strip()
    except FileNotFoundError:
        raise NotDone(f"There is no {command[0]} on this machine. Install it and run this again.") from None
    except subprocess.CalledProcessError as failed:
        why = (failed.stderr or failed.stdout or "").strip().splitlines()
        raise NotDone(f"“{' '.join(command)}” failed: {why[-1] if why else f'status {failed.returncode}'}") from None


@dataclass(frozen=True)
class Machine:
    """The machine a station is set up on: its files below `root`, and `run`, which runs a command or raises NotDone."""

    root: Path = Path("/")
    run: Callable[..., str] = ran
    wait: Callable[[float], None] = sleep
    now: Callable[[], datetime] = field(default=datetime.now)

    @property
    def programs(self) -> Path:
        return self.root / PROGRAMS

    @property
    def link(self) -> Path:
        """What the unit starts: a link to the program that is in use."""
        return self.programs / "now"

    @property
    def book(self) -> Path:
        return self.root / HOME / "book"

    def lacks(self) -> list[str]:
        """Packages of Debian that a station needs and that are not there."""
        return [package for package, path in NEEDED.items() if not any(self.root.glob(path))]

    def has_user(self) -> bool:
        try:
            return any(line.startswith("evenpull:") for line in (self.root / "etc/passwd").read_text().splitlines())
        except OSError:
            return False

    def is_same(self, name: str) -> bool:
        there = self.root / PLACES[name] / name
        return there.is_file() and there.read_bytes() == shipped_file(name).read_bytes()

    def put(self, name: str) -> None:
        to = self.root / PLACES[name]
        to.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(shipped_file(name), to / name)
        (to / name).chmod(0o644)

    def read_rules(self) -> None:
        """Have the device rules read again, and none wait for a replug; nothing where no devices are looked after, as in a
        container."""
        if (self.root / "run/udev/control").exists():
            self.run("udevadm", "control", "--reload")
            for kind in ("usb", "usb-serial", "tty", "block"):      # a rule for each
                self.run("udevadm", "trigger", "--action=add", f"--subsystem-match={kind}")

    def point_to(self, program: Path) -> None:
        """Put `program` in use: at every moment the link leads to the old one or to the new one."""
        new = self.link.with_name("now.new")
        new.unlink(missing_ok=True)
        new.symlink_to(program.name)
        os.replace(new, self.link)

    def new_program(self) -> Path:
        return self.programs / f"program-{self.now():%Y%m%dT%H%M%S}"

    def state(self) -> tuple[bool, int]:
        """(serving, how often it was started again)."""
        told = dict(line.partition("=")[::2] for line in
                    self.run("systemctl", "show", UNIT, "--property=ActiveState,NRestarts").splitlines())
        return told.get("ActiveState") == "active", int(told.get("NRestarts") or 0)


def shipped_file(name: str) -> Path:
    return shipped("hardware", "station", name)


def install(machine: Machine, source: Path) -> list[Deed]:
    """What is missing for a station, in the order it is put right. `source` is a checkout or a wheel."""
    deeds = []
    if not machine.has_user():
        deeds.append(Deed(f"make the user evenpull, in the groups {GROUPS}, with its home in /{HOME}", lambda: machine.run(
            "useradd", "--system", "--create-home", "--home-dir", f"/{HOME}", "--groups", GROUPS, "evenpull")))
    home = machine.root / HOME

    def own_home():
        home.mkdir(parents=True, exist_ok=True)
        home.chmod(0o750)
        machine.run("chown", "evenpull:evenpull", str(home))
    if not home.is_dir():
        deeds.append(Deed(f"make the folder /{HOME}, for the book and what belongs to it", own_home))
    if not (machine.link / "bin/evenpull").exists():
        program = machine.new_program()

        def put_program():
            try:
                machine.run(sys.executable, "-m", "venv", str(program))
                machine.run(str(program / "bin/pip"), "install", "--quiet", str(source))
            except NotDone:
                shutil.rmtree(program, ignore_errors=True)
                raise
            machine.point_to(program)
        deeds.append(Deed(f"install Evenpull {__version__} from {source} in /{PROGRAMS}", put_program))
    changed = [name for name in PLACES if not machine.is_same(name)]
    deeds += [Deed(f"put {name} in /{PLACES[name]}", lambda name=name: machine.put(name)) for name in changed]
    command = machine.root / "usr/local/bin/evenpull"
    if not command.is_symlink():
        def put_command():
            command.parent.mkdir(parents=True, exist_ok=True)
            command.unlink(missing_ok=True)
            command.symlink_to(f"/{PROGRAMS}/now/bin/evenpull")
        deeds.append(Deed("make the command evenpull, in /usr/local/bin", put_command))

    def begin():
        machine.read_rules()
        machine.run("systemctl", "daemon-reload")
        machine.run("systemctl", "enable", UNIT)
        machine.run("systemctl", "restart", UNIT)
    begun = machine.root / PLACES[UNIT] / "multi-user.target.wants" / UNIT
    if deeds or not begun.is_symlink():
        deeds.append(Deed("have devices and units read again, and start the kiosk now and at each power-on", begin))
    return deeds


def remove(machine: Machine) -> list[Deed]:
    """What is taken off. The book stays, and with it the user whose it is."""
    deeds = []
    unit = machine.root / PLACES[UNIT] / UNIT
    if unit.exists():
        deeds.append(Deed("stop the kiosk and start it at power-on no more",
                          lambda: machine.run("systemctl", "disable", "--now", UNIT)))
    for path in [machine.root / folder / name for name, folder in PLACES.items()] + [machine.root / "usr/local/bin/evenpull"]:
        if path.exists() or path.is_symlink():
            deeds.append(Deed(f"delete /{path.relative_to(machine.root)}", path.unlink))
    if machine.programs.is_dir():
        deeds.append(Deed(f"delete the program in /{PROGRAMS}", lambda: shutil.rmtree(machine.programs)))
    if deeds:
        deeds.append(Deed("have devices and units read again", lambda: (
            machine.run("systemctl", "daemon-reload"), machine.read_rules())))
    return deeds


def update(machine: Machine, wheel: Path) -> list[Deed]:
    """Beside, then in its place; the last deed raises NotDone where it had to go back. Raises NotDone."""
    if not machine.link.exists():
        raise NotDone("No station is set up on this machine. Set it up first: evenpull station install")
    if not wheel.is_file() or wheel.suffix != ".whl":
        raise NotDone(f"{wheel} is no wheel. Name the file of the new program, evenpull-….whl.")
    old, new = machine.link.resolve(), machine.new_program()
    copy = machine.book.with_name(f"book.before-{machine.now():%Y%m%dT%H%M%S}")

    def beside():
        try:
            machine.run(sys.executable, "-m", "venv", str(new))
            for packages in old.glob("lib/python3*/site-packages"):
                shutil.copytree(packages, new / packages.relative_to(old), symlinks=True, dirs_exist_ok=True)
            pip = str(new / "bin/pip"), "install", "--quiet", "--no-index"
            machine.run(*pip, "--no-deps", "--force-reinstall", str(wheel))
            machine.run(*pip, "--find-links", str(wheel.parent), str(wheel))
            machine.run(str(new / "bin/evenpull"), "--version")
        except (NotDone, OSError) as wrong:
            shutil.rmtree(new, ignore_errors=True)
            raise NotDone(f"The new program could not be put beside the old one, which serves as before. {wrong}") from None

    def keep():
        machine.run("systemctl", "stop", UNIT)
        if machine.book.is_dir():
            try:
                machine.run("cp", "--archive", str(machine.book), str(copy))
            except NotDone:
                shutil.rmtree(copy, ignore_errors=True)
                machine.run("systemctl", "start", UNIT)
                raise

    def change():
        machine.point_to(new)
        try:
            why = _proven(machine)
        except NotDone as wrong:
            why = str(wrong)
        if why:
            kept = go_back(machine, old, copy)
            raise NotDone(f"The new program was taken back: {why}. The old one serves again.{kept} "
                          "Its causes: journalctl -u evenpull")
        for each in machine.programs.glob("program-*"):
            if each not in (old, new):
                shutil.rmtree(each)
    return [Deed(f"put the program of {wheel.name} beside the one in use", beside),
            Deed(f"stop the kiosk and copy the book to /{copy.relative_to(machine.root)}", keep),
            Deed(f"start the new program, watch it for {PROVEN_S} s, and go back to the old one by itself if it fails", change)]


def _proven(machine: Machine) -> str:
    """Start what is in use; "" where it then ran for a minute, else what happened."""
    _, before = machine.state()
    machine.run("systemctl", "start", "--no-block", UNIT)
    served_s = 0
    for _ in range(STARTS_S + PROVEN_S):
        machine.wait(1.0)
        serves, restarts = machine.state()
        if restarts > before:
            return "it ended in its first minute" if served_s else "it did not start"
        if served_s and not serves:
            return "it ended in its first minute"
        served_s += serves
        if served_s >= PROVEN_S:
            return ""
    return "it did not start"


def go_back(machine: Machine, old: Path, copy: Path) -> str:
    """The old program, with a book it can read: what the new one wrote is kept, and used where the old one reads it."""
    machine.run("systemctl", "stop", UNIT)
    machine.point_to(old)
    told = ""
    try:
        Identity(machine.book, Disk())        # this command is the old program's own
    except BookNewer:
        aside = machine.book.with_name(f"book.newer-{machine.now():%Y%m%dT%H%M%S}")
        os.replace(machine.book, aside)
        machine.run("cp", "--archive", str(copy), str(machine.book))
        told = f" Its book is the copy from before; the one that the new program wrote is kept in {aside}."
    machine.run("systemctl", "start", UNIT)
    return told


def check(book: Path) -> int:
    """Say why the kiosk would refuse to start, if it would. Returns an exit status."""
    why = refusal(book)
    if why:
        print(why, file=sys.stderr)
    return 2 if why else 0


def done(title: str, deeds: Sequence[Deed], dry: bool) -> int:
    """Say all that will be done, then do it. Returns an exit status."""
    if not deeds:
        print("Nothing is left to do.")
        return 0
    print(title)
    for number, deed in enumerate(deeds, 1):
        print(f"  {number}. {deed.says}")
    if dry:
        print("Nothing was done: this was asked for with --dry-run.")
        return 0
    for number, deed in enumerate(deeds, 1):
        try:
            deed.do()
        except (NotDone, OSError) as wrong:
            print(f"Step {number} failed. {wrong} Put that right, and run this again: what is done is not done twice.",
                  file=sys.stderr)
            return 1
    print("Done.")
    return 0


def run(argv: list[str], machine: Machine | None = None) -> int:
    """The command. Returns its exit status."""
    parser = argparse.ArgumentParser(prog=f"{folders.called()} station", description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", choices=("install", "remove", "update", "check"))
    parser.add_argument("wheel", nargs="?", type=Path, metavar="WHEEL", help="for update: the file of the new program; for "
                        "install: a wheel or a checkout, where it is not the one that this command is of")
    parser.add_argument("--dry-run", action="store_true", help="say what would be done, and do nothing")
    folders.add_book(parser)
    asked = parser.parse_args(argv)
    if asked.what == "check":
        return check(asked.book)
    machine = machine or Machine()
    if not asked.dry_run and machine.root == Path("/") and os.geteuid() != 0:
        print(f"This changes the machine. Run it as the superuser: sudo {folders.called()} station {asked.what}", file=sys.stderr)
        return 2
    try:
        if asked.what == "remove":
            return done(f"This takes Evenpull off this machine. The book in /{HOME} stays.", remove(machine), asked.dry_run)
        if asked.what == "update":
            if asked.wheel is None:
                raise NotDone("Name the wheel of the new program: evenpull station update evenpull-….whl")
            return done("This updates Evenpull on this machine.", update(machine, asked.wheel.absolute()), asked.dry_run)
        source = asked.wheel.absolute() if asked.wheel else HERE.parent
        if not (source.suffix == ".whl" or (source / "pyproject.toml").is_file()):
            raise NotDone("Say what to install: a checkout or a wheel, evenpull station install evenpull-….whl")
        lacks = machine.lacks()
        if lacks:
            print(f"These packages are missing. Install them first: apt-get install {' '.join(lacks)}", file=sys.stderr)
            if not asked.dry_run:
                return 2
        return done("This sets Evenpull up on this machine.", install(machine, source), asked.dry_run)
    except NotDone as wrong:
        print(wrong, file=sys.stderr)
        return 2
