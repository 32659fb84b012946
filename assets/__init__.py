"""The kiosk's own pictures and sounds: `PICTURES / "tamp.png"`, `SOUNDS / "stop.wav"`.

In a checkout this is the folder `assets`; installed, the same files are the package `kiosk.assets`.
`python -m assets.draw` makes them all again.
"""

from pathlib import Path

PICTURES = Path(__file__).parent / "pictures"
SOUNDS = Path(__file__).parent / "sounds"
