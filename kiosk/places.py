"""Where the pictures, sounds and demo data are: beside the code in a checkout, inside the package once installed."""

from pathlib import Path

HERE = Path(__file__).resolve().parent


def shipped(*parts: str) -> Path:
    """A file or folder that came with the program, such as shipped("assets", "pictures", "dose.png")."""
    for base in (HERE, HERE.parent):
        if (base / parts[0]).is_dir():
            return base.joinpath(*parts)
    raise FileNotFoundError(f"Part of the program is missing: {'/'.join(parts)}. Install it again.")
