"""What a day or a span came to: figures, trends, sentences, what to do next."""

from kiosk.bar.evening.day_chart import (
    BEANS,
    BURRS,
    CLEANED,
    FLAG,
    NOTCH,
    PURGE,
    ROOM,
    SCALE,
    DayChart,
    Mark,
    note_mark,
    scale_mark,
)
from kiosk.bar.evening.day_runs import DayRun, GrinderDay, RoomReading, Turns, grinder_days
from kiosk.bar.evening.evening import Evening, GrinderEvening
from kiosk.bar.evening.figures import in_window, moment, tasted
from kiosk.bar.evening.notch import Within
from kiosk.bar.evening.rows import Group, Row, behind, groups
from kiosk.bar.evening.sentences import CLOCKS_CHANGED, day_name, span_name
from kiosk.bar.evening.summary import as_plain, as_text
from kiosk.bar.evening.trend import mean_within, t_quantile
from kiosk.bar.evening.week_rows import DAY, DAYS, of_week, week_groups
from kiosk.bar.evening.weeks import GrinderWeeks, Week, Weeks, share_change, slope

__all__ = [
    "tasted",
    "BEANS",
    "BURRS",
    "CLEANED",
    "CLOCKS_CHANGED",
    "DAY",
    "DAYS",
    "FLAG",
    "NOTCH",
    "PURGE",
    "ROOM",
    "SCALE",
    "DayChart",
    "Evening",
    "GrinderDay",
    "GrinderEvening",
    "GrinderWeeks",
    "Group",
    "Mark",
    "RoomReading",
    "Row",
    "DayRun",
    "Turns",
    "Week",
    "Weeks",
    "Within",
    "as_plain",
    "as_text",
    "behind",
    "day_name",
    "grinder_days",
    "groups",
    "in_window",
    "mean_within",
    "moment",
    "note_mark",
    "of_week",
    "scale_mark",
    "share_change",
    "slope",
    "span_name",
    "t_quantile",
    "week_groups",
]
