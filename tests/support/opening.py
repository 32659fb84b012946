"""When a played day begins: a Saturday's opening, in a bar an hour east of Greenwich."""

from datetime import datetime, timedelta, timezone

OPENING = datetime(2026, 3, 14, 8, 0, tzinfo=timezone(timedelta(hours=1)))
