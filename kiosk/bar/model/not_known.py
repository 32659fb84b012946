"""Why the yield of a pull is not known: the barista is told, and the pull keeps it as a note until a yield is known after all."""

from kiosk.bar.messages import Message

GONE = Message("The scale went away during the pull: the yield is not known.")
LIFTED = Message("The cup was lifted before it was full: the yield is not known.")
UNSEEN = Message("The scale was not read from the start of this pull: the yield is not known.")
NO_CUP = Message("No cup was seen on the scale: the yield is not known.")
KNOCKED = Message("Something was set on or taken off the scale during the pull: the yield is not known.")
TOGETHER = Message("Two pulls poured onto one scale at once: their yields cannot be told apart.")
EVERY = frozenset((GONE, LIFTED, UNSEEN, NO_CUP, KNOCKED, TOGETHER))
