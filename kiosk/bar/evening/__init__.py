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
from kiosk.bar.evening.evening import Evening, GrinderEvening, by_week, evening
from kiosk.bar.evening.figures import clock, in_window, moment, tasted
from kiosk.bar.evening.notch import Within
from kiosk.bar.evening.rows import Group, Row, behind, groups
from kiosk.bar.evening.sentences import CLOCKS_CHANGED, day_name, span_name, span_of_days
from kiosk.bar.evening.summary import as_plain, as_text
from kiosk.bar.evening.timers import timers_before
from kiosk.bar.evening.trend import mean_within, t_quantile
from kiosk.bar.evening.week_rows import DAY, DAYS, GRINDER_COLUMNS, WEEK_COLUMNS, WEEKS, of_week, week_groups
from kiosk.bar.evening.week_text import group_text, span_text
from kiosk.bar.evening.weeks import GrinderWeeks, Week, Weeks, share_change, slope, weeks

__all__ = [
    "BEANS",
    "BURRS",
    "CLEANED",
    "CLOCKS_CHANGED",
    "DAY",
    "DAYS",
    "FLAG",
    "GRINDER_COLUMNS",
    "NOTCH",
    "PURGE",
    "ROOM",
    "SCALE",
    "WEEKS",
    "WEEK_COLUMNS",
    "DayChart",
    "DayRun",
    "Evening",
    "GrinderDay",
    "GrinderEvening",
    "GrinderWeeks",
    "Group",
    "Mark",
    "RoomReading",
    "Row",
    "Turns",
    "Week",
    "Weeks",
    "Within",
    "as_plain",
    "as_text",
    "behind",
    "by_week",
    "clock",
    "day_name",
    "evening",
    "grinder_days",
    "group_text",
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
    "span_of_days",
    "span_text",
    "t_quantile",
    "tasted",
    "timers_before",
    "week_groups",
    "weeks",
]
