"""The weeks as plain text: a line a week."""

from kiosk.bar.evening.rows import Group
from kiosk.bar.evening.sentences import aligned, head_of_text
from kiosk.bar.evening.span import Span
from kiosk.bar.evening.week_rows import DAYS, GRINDER_COLUMNS, WEEK_COLUMNS, WEEKS
from kiosk.bar.messages import ENGLISH, Language, Message, render

MOST_WEEKS = 26         # of one grinder: of a whole year they are on the page, in the CSV and in the JSON


def span_text(of: Span, found: tuple[Group, ...], title: str = "", language: Language = ENGLISH) -> str:
    """A long span, headed by `title` (the bar's name); `found` are its rows."""
    lines = head_of_text(title, of.name, of.sentence, Message("To do"), of.to_do, language)
    for group in found:
        lines += group_text(group, language)
    return "\n".join(lines).rstrip() + "\n"


def group_text(group: Group, language: Language) -> list[str]:
    """Its figures a line each, then what is told by the week as a table; of the days nothing."""
    if group.name == DAYS:
        return []
    columns = dict(WEEK_COLUMNS if group.name == WEEKS else GRINDER_COLUMNS)
    weeks: dict[str, dict[str, str]] = {}
    lines = [render(group.name, language)]
    for row in group.rows:
        of, _, figure = row.key.rpartition("_")
        if group.kind == "weeks" and row.about and figure in columns:
            weeks.setdefault(of, {})[figure] = row.render(language)
        else:
            lines.append(f"  {render(row.name, language)}: {row.render(language)}")
    there = [figure for figure in columns if any(figure in week for week in weeks.values())]
    if weeks and (group.name == WEEKS or len(weeks) <= MOST_WEEKS):
        table = [[render(Message("week"), language), *(render(columns[figure], language) for figure in there)],
                 *([of, *(week.get(figure, "–") for figure in there)] for of, week in weeks.items())]
        lines += [f"  {line}" for line in aligned(table)]
    return [*lines, ""]
