"""Whether a folder lies on a disk that is not there: then what is written would go to the machine's own card, unseen."""

from pathlib import Path

TABLE = Path("/etc/fstab")      # device, mount point, and more, apart by blanks; a blank in a name is \040 (fstab(5))


def not_mounted(folder: Path, table: Path | None = None) -> Path | None:
    """The mount point over `folder` that the machine's table names and where nothing is mounted; None where all is well."""
    try:
        lines = (table or TABLE).read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError):
        return None
    entries = [line.split() for line in lines if not line.lstrip().startswith("#")]
    points = {Path(entry[1].replace(r"\040", " ")) for entry in entries if len(entry) > 1}
    there = folder.absolute()
    return next((each for each in (there, *there.parents) if each in points and not each.is_mount()), None)
