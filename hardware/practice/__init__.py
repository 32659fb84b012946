"""A bar to practise on, with no coffee and no water: a puck, a grinder and a scale on a pseudo-terminal.

Everything is drawn by seed. Coarser, in notches, is always the larger number.
"""

from hardware.practice.bar import Faults, PracticeBar
from hardware.practice.grinder import PracticeGrinder
from hardware.practice.platform import Platform
from hardware.practice.puck import (
           DARCY,
           DISSOLVING,
           FINES,
           LAWS,
           NOTCH,
           TAMP_N,
           UPTAKE,
           PracticeGroup,
           Puck,
           permeability_for,
           pull,
)
from hardware.practice.scale import PracticeScale
from hardware.practice.stream import Stream

__all__ = ["DARCY", "DISSOLVING", "FINES", "LAWS", "NOTCH", "TAMP_N", "UPTAKE", "Faults", "PracticeGroup", "Platform", "Stream", "PracticeBar",
           "PracticeGrinder", "PracticeScale", "Puck", "permeability_for", "pull"]
