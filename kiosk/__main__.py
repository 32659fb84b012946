"""The command line: `python -m kiosk` serves; `python -m kiosk COMMAND --help` explains each of the others."""

import sys
from importlib import import_module

from kiosk import __version__
from kiosk.collecting import held_back
from kiosk.commands import folders
from kiosk.commands.terminal import steered_by_nothing

COMMANDS = {
    "shift": ("kiosk.commands.shift", "run", "play a practice shift off screen, with pictures and a report"),
    "report": ("kiosk.commands.report", "run", "what a day or a span came to"),
    "pin": ("kiosk.commands.pin", "run", "the PIN of the manager's rooms, and the way back when it is lost"),
    "drift": ("kiosk.commands.drift", "run", "judge the drift in a table of pulls"),
    "replay": ("kiosk.commands.replay", "run", "play a recorded scale feed again"),
    "backup": ("kiosk.commands.keeping", "backup", "the whole book into one file"),
    "restore": ("kiosk.commands.keeping", "restore", "a book out of a backup, proved first"),
    "export": ("kiosk.commands.keeping", "export", "pulls and records for a spreadsheet or an engine"),
    "import": ("kiosk.commands.keeping", "take_in", "records out of another book's export"),
    "forget": ("kiosk.commands.keeping", "forget", "a person's name out of the book"),
    "setup": ("kiosk.commands.setup", "run", "a station's settings into a file, or out of one, for the next station"),
    "certificate": ("kiosk.commands.certificate", "run", "what a hire was shown, when and by whom, as a page to print"),
    "chain": ("kiosk.commands.chain", "run", "questions about many bars, for an engine that reads folders"),
    "station": ("kiosk.commands.station", "run", "set a station up on this machine, take it off, update it"),
    "where": ("kiosk.commands.where", "run", "where this station keeps what"),
}


def usage() -> str:
    called = folders.called()
    return "\n".join([f"{called} [--help]        serve (a practice shift where there is no display)",
                      *(f"{called} {name:<11} …      {what}" for name, (_, _, what) in COMMANDS.items()),
                      f"{called} --version"])


def main(argv: list[str] | None = None) -> int:
    argv = sys.argv[1:] if argv is None else argv
    if argv and not argv[0].startswith("-"):
        if argv[0] not in COMMANDS:
            print(f"There is no command {argv[0]!r}. These are:\n{usage()}", file=sys.stderr)
            return 2
        module, name, _ = COMMANDS[argv[0]]
        with steered_by_nothing():
            return getattr(import_module(module), name)(argv[1:])
    if argv in (["-h"], ["--help"]):
        print(usage())
    if argv == ["--version"]:
        print(f"evenpull {__version__}")
        return 0
    with held_back():
        from kiosk.commands import serve

    return serve.run(argv)


if __name__ == "__main__":
    sys.exit(main())
