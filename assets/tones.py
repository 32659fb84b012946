"""The kiosk's sounds, made of sines: `python -m assets.tones`.

A bar is loud below 500 Hz and a small speaker is deaf there, so every note lies above. Each sound has its own count,
direction and length: it can be told from the others without looking, and by somebody with no ear for pitch.
"""

import math
import wave
from array import array
from dataclasses import dataclass

from . import SOUNDS

RATE_HZ = 44_100
FADE_S = 0.008   # long enough that neither end clicks


@dataclass(frozen=True, slots=True)
class Note:
    """One tone: `pitch_hz` for `length_s`, at `loud` (0–1 of full scale), after `rest_s` of silence.

    `bright` (0–1) is how much of the third harmonic is in it; `ring_s` is the time in which it dies away to 1/e.
    """

    pitch_hz: float
    length_s: float
    loud: float
    rest_s: float = 0.0
    bright: float = 0.0
    ring_s: float = math.inf


TUNES = {
    "stop": (Note(1319, 0.09, 0.9, bright=0.5), Note(1976, 0.15, 0.9, rest_s=0.03, bright=0.5)),
    "stop-2": (Note(1976, 0.09, 0.9, bright=0.5), Note(1319, 0.15, 0.9, rest_s=0.03, bright=0.5)),
    "stop-3": (Note(1319, 0.07, 0.9, bright=0.5), Note(1976, 0.07, 0.9, rest_s=0.03, bright=0.5),
               Note(1319, 0.15, 0.9, rest_s=0.03, bright=0.5)),
    "stop-4": (Note(1976, 0.07, 0.9, bright=0.5), Note(1319, 0.07, 0.9, rest_s=0.03, bright=0.5),
               Note(1976, 0.15, 0.9, rest_s=0.03, bright=0.5)),
    "ready": (Note(880, 0.22, 0.5, ring_s=0.09),),
    "over": (Note(880, 0.16, 0.6, ring_s=0.2), Note(587, 0.22, 0.6, rest_s=0.03, ring_s=0.2)),
    "under": (Note(587, 0.16, 0.6, ring_s=0.2), Note(880, 0.22, 0.6, rest_s=0.03, ring_s=0.2)),
    "flag": (Note(784, 0.1, 0.55, bright=0.2), Note(784, 0.1, 0.55, rest_s=0.05, bright=0.2),
             Note(622, 0.17, 0.55, rest_s=0.05, bright=0.2)),
    "done": (Note(1047, 0.07, 0.4, ring_s=0.1), Note(1319, 0.07, 0.4, ring_s=0.1), Note(1568, 0.07, 0.4, ring_s=0.1),
             Note(2093, 0.25, 0.4, ring_s=0.08)),
}


def samples(note: Note) -> list[int]:
    """16-bit samples, its rest before it."""
    count, fade = round(note.length_s * RATE_HZ), round(FADE_S * RATE_HZ)
    played = []
    for k in range(count):
        t_s = k / RATE_HZ
        turn = 2 * math.pi * note.pitch_hz * t_s
        shape = (math.sin(turn) + note.bright * math.sin(3 * turn)) / (1 + note.bright)
        edge = 0.5 - 0.5 * math.cos(math.pi * min(1.0, k / fade, (count - 1 - k) / fade))
        played.append(round(32767 * note.loud * edge * math.exp(-t_s / note.ring_s) * shape))
    return [0] * round(note.rest_s * RATE_HZ) + played


def write(name: str, file):
    """Write the sound of that name as a WAV to a path or an open binary file."""
    played = [sample for note in TUNES[name] for sample in samples(note)]
    with wave.open(file, "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE_HZ)
        out.writeframes(array("h", played).tobytes())   # wave turns them round where the machine is big-endian


def main():
    for name in TUNES:
        write(name, str(SOUNDS / f"{name}.wav"))


if __name__ == "__main__":
    main()
