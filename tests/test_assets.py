"""The pictures and sounds are ours, are all there, and can be told apart at the station."""

import io
import os
import wave
from functools import cache

import numpy as np
import pytest

from assets import PICTURES, SOUNDS, draw, tones

STEPS = ("warm", "knock", "dose", "level", "tamp", "rim", "purge", "lock", "pull", "judge", "serve")
WRONG = ("no_cup", "chokes", "gushes", "vents")
CUPS = ("pull_two", "serve_wide", "cup_takeaway", "cup_espresso", "cup_cappuccino", "cup_latte_glass", "cup_americano", "glass_water", "milk_jug", "hot_water")
MILK = ("milk_purge", "milk_stretch", "milk_spin", "milk_stop", "milk_wipe", "milk_pour")
TASKS = ("water_filter", "machine_heat", "pump_pressure", "milk_fridge", "backflush", "shower_screen", "clean_hopper")
CAUTIONS = ("caution_hot", "caution_steam", "caution_burrs", "caution_mains")
TOOLS = ("finer", "coarser", "scale", "sink", "evenpull")
NAMES = STEPS + WRONG + CUPS + MILK + TASKS + CAUTIONS + TOOLS
GROUND = (0x14, 0x17, 0x1A)

# Orange, sky blue, vermillion: Okabe and Ito, Color Universal Design, 2008. The greys and coffee's shade are ours.
COLOURS = ("#E69F00", "#56B4E9", "#D55E00", "#E8EAED", "#9AA3AD", "#945A00")


def rgb(colour: str) -> tuple[int, ...]:
    return tuple(bytes.fromhex(colour[1:]))


@cache
def pixels(name: str) -> np.ndarray:
    """512 × 512 × RGBA, by the decoder the panel itself uses, which needs no window."""
    os.environ.setdefault("KIVY_NO_ARGS", "1")   # or it would read pytest's
    from kivy.core.image.img_sdl2 import ImageLoaderSDL2
    image = ImageLoaderSDL2(str(PICTURES / f"{name}.png"), keep_data=True)._data[0]
    assert (image.width, image.height, image.fmt) == (512, 512, "rgba")
    return np.frombuffer(image.data, np.uint8).reshape(512, 512, 4).astype(int)


def on_the_ground(name: str, size: int) -> np.ndarray:
    """The picture on the kiosk's dark ground, drawn with `size` pixels a side: each the mean of those beneath it."""
    picture = pixels(name)
    share = picture[..., 3:] / 255
    seen = picture[..., :3] * share + np.array(GROUND) * (1 - share)
    edges = np.arange(size) * 512 // size
    summed = np.add.reduceat(np.add.reduceat(seen, edges, axis=0), edges, axis=1)
    widths = np.diff(np.append(edges, 512))
    return summed / (widths[:, None] * widths[None, :])[..., None]


def test_every_picture_has_its_place_in_the_folder_and_nothing_else_does():
    assert {path.name for path in PICTURES.iterdir()} == {f"{name}.png" for name in NAMES}
    assert sum(path.stat().st_size for path in PICTURES.iterdir()) < 3_000_000


@pytest.mark.parametrize("name", NAMES)
def test_a_picture_lies_whole_on_clear_ground(name):
    alpha = pixels(name)[..., 3]
    rim = np.concatenate([alpha[:4].ravel(), alpha[-4:].ravel(), alpha[:, :4].ravel(), alpha[:, -4:].ravel()])
    assert not rim.any(), "the drawing is cut off at the edge"
    assert 0.08 < (alpha == 255).mean() < 0.6
    rows, columns = np.flatnonzero(alpha.any(axis=1)), np.flatnonzero(alpha.any(axis=0))
    assert max(np.ptp(rows), np.ptp(columns)) > 0.75 * 512, "the drawing is too small for its square"


@pytest.mark.parametrize("name", NAMES)
def test_a_picture_keeps_to_the_palette_and_has_at_most_five_tones(name):
    picture = pixels(name)
    solid = picture[picture[..., 3] == 255][:, :3]
    shares = {colour: (solid == rgb(colour)).all(axis=1).mean() for colour in COLOURS}
    assert sum(shares.values()) > 0.97   # the rest is where two colours meet
    assert sum(share > 0.005 for share in shares.values()) <= 5


def test_every_colour_stands_out_from_the_ground():
    """At least 3:1, W3C WCAG 2.2, 1.4.11 (graphical objects), by its formula for relative luminance."""
    def luminance(colour):
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in (v / 255 for v in colour)]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    for colour in COLOURS:
        assert (luminance(rgb(colour)) + 0.05) / (luminance(GROUND) + 0.05) >= 3, colour


def test_no_two_pictures_look_alike_at_96_pixels():
    small = {name: on_the_ground(name, 96) for name in NAMES}
    inked = {name: np.abs(picture - GROUND).max(axis=2) > 40 for name, picture in small.items()}
    for k, one in enumerate(NAMES):
        for other in NAMES[k + 1:]:
            differs = np.abs(small[one] - small[other]).max(axis=2) > 40
            assert differs.sum() > 0.1 * (inked[one] | inked[other]).sum(), (one, other)


def test_finer_and_coarser_are_told_by_the_gap_between_the_burrs_not_by_colour():
    def gap(name):   # between the tips of two teeth that face each other
        burr_rows = np.flatnonzero((pixels(name)[:, 76, :3] == rgb("#9AA3AD")).all(axis=1))
        return min(burr_rows[burr_rows > 256]) - max(burr_rows[burr_rows < 256])

    assert gap("coarser") > 2 * gap("finer")


@pytest.mark.parametrize("name", NAMES)
def test_a_picture_in_the_folder_is_what_the_script_draws(name):
    drawn = np.frombuffer(draw.picture(name).bytes(), np.uint8).reshape(512, 512, 4).astype(int)
    assert np.abs(drawn - pixels(name)).max() <= 1   # a last digit may round the other way on another machine


SOUND_NAMES = ("stop", "stop-2", "stop-3", "stop-4", "ready", "over", "under", "flag", "done")


@cache
def heard(name: str) -> np.ndarray:
    with wave.open(str(SOUNDS / f"{name}.wav")) as sound:
        assert (sound.getnchannels(), sound.getsampwidth(), sound.getframerate()) == (1, 2, 44_100)
        return np.frombuffer(sound.readframes(sound.getnframes()), "<i2") / 32768


def notes(name: str) -> list[float]:
    """The pitches heard one after another, in hertz: by Fourier transform of each run between two silences."""
    sound, window = heard(name), 441
    level = np.array([np.abs(sound[i:i + window]).max() for i in range(0, len(sound), window)])
    runs, pitches = np.split(np.arange(len(level)), np.flatnonzero(np.diff(level > 0.03)) + 1), []
    for run in runs:
        if level[run[0]] > 0.03 and len(run) >= 4:
            part = sound[run[0] * window:(run[-1] + 1) * window]
            spectrum = np.abs(np.fft.rfft(part * np.hanning(len(part)), 1 << 16))
            pitches.append(np.argmax(spectrum) * 44_100 / (1 << 16))
    return pitches


def test_every_sound_is_there_and_nothing_else():
    assert {path.name for path in SOUNDS.iterdir()} == {f"{name}.wav" for name in SOUND_NAMES}


@pytest.mark.parametrize("name", SOUND_NAMES)
def test_a_sound_is_short_and_neither_clips_nor_clicks(name):
    sound = heard(name)
    assert 0.1 < len(sound) / 44_100 < 0.5
    assert 0.2 < np.abs(sound).max() < 0.95
    assert np.abs(sound[:20]).max() < 0.01 and np.abs(sound[-20:]).max() < 0.01


@pytest.mark.parametrize("name", SOUND_NAMES)
def test_a_sound_in_the_folder_is_what_the_script_makes(name):
    made = io.BytesIO()
    tones.write(name, made)
    assert made.getvalue() == (SOUNDS / f"{name}.wav").read_bytes()


def test_stop_is_the_loudest_and_rises():
    power = {name: np.sqrt((heard(name) ** 2).mean()) for name in SOUND_NAMES}
    assert power["stop"] > 1.25 * max(power[name] for name in SOUND_NAMES if not name.startswith("stop"))
    first, last = notes("stop")
    assert last > 1.3 * first


def test_a_dose_over_falls_a_dose_under_rises_and_a_flag_has_three_notes():
    first, last = notes("over")
    assert last < first / 1.3
    first, last = notes("under")
    assert last > 1.3 * first
    assert len(notes("flag")) == 3
    assert len(notes("ready")) == 1
    assert min(pitch for name in SOUND_NAMES for pitch in notes(name)) > 500   # a bar is loud below (common practice)
