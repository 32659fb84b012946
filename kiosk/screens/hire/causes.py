"""What each fault of the practice bar is called."""

from kiosk.bar.training import Cause
from kiosk.screens.ui.words import N_

CAUSE_WORDS = {
    Cause.NONE: N_("Nothing wrong"), Cause.FINE: N_("Too fine"), Cause.COARSE: N_("Too coarse"),
    Cause.OVER: N_("Too much coffee"), Cause.UNDER: N_("Too little coffee"), Cause.SOFT: N_("Soft tamp"),
    Cause.CROOKED: N_("Crooked tamp"), Cause.UNPURGED: N_("Not purged"), Cause.CHANNEL: N_("Not spread"),
    Cause.STALE: N_("Stale grounds"), Cause.OLD: N_("Old beans"), Cause.COLD: N_("Cold cup"), Cause.BLOCKED: N_("Blocked spout"),
}
