"""The states for colour-blind eyes, held against a library's own: a slice of `python -m tests.bench.eyes`."""

import pytest

pytest.importorskip("coloraide", reason="it is in the test extra")

from PIL import Image

from kiosk.screens.ui.look import Colour
from tests.bench import eyes


@pytest.mark.parametrize("eye", ["", *eyes.EYES])
def test_the_states_stay_apart_for_each_kind_of_eye(eye):
    apart, one, other = eyes.nearest(eye)
    assert apart >= eyes.APART, (one, other)


@pytest.mark.parametrize("eye", eyes.EYES)
def test_a_picture_turns_as_the_library_turns_its_colours_and_greys_stay_grey(eye):
    for colour in (Colour.next, Colour.good, (0.5, 0.5, 0.5)):
        picture = Image.new("RGB", (1, 1), tuple(round(255 * c) for c in colour[:3]))
        found = eyes.through(picture, eyes.matrix(eye)).getpixel((0, 0))
        assert found == pytest.approx([255 * c for c in eyes.seen_by(eye, colour).coords()], abs=1.5)
    assert len(set(found)) == 1
