"""What every page is made of: sections, charts with a caption, tables whose numbers are <data> with their exact value and the
name of their figure in `data-key`, and links to the records that a figure rests on."""

from collections.abc import Iterable, Sequence
from html import escape

from kiosk.bar.evening import Group, Row
from kiosk.bar.messages import ENGLISH, Language, Message, render
from kiosk.page.style import STYLE

RESTS_ON = Message("Rests on")
NUMBERS = Message("Dose, g"), Message("Yield, g"), Message("Time, s"), Message("Adjusted, s")


class PageSheet:
    """In one language. `known` are the ids that a link on the page can lead to; `key` begins the key of every figure, so that
    those of several bars are told apart."""

    def __init__(self, language: Language = ENGLISH, known: Iterable[str] = (), key: str = ""):
        self.language, self.say, self.known, self.key = language, language.render, set(known), key

    def document(self, title: str, name: str, body: str) -> str:
        return (f'<!DOCTYPE html>\n<html lang="{escape(self.language.code)}"><head><meta charset="utf-8">'
                '<meta name="viewport" content="width=device-width, initial-scale=1">'
                f'<title>{escape(f"{title}, {name}" if title else name)}</title><style>{STYLE}</style></head>\n'
                f'<body>{body}</body></html>\n')

    def header(self, title: str, name: str, lede: str) -> str:
        return (f'<header><h1>{escape(title) or self.words(Message("The evening"))}</h1><p class="day">{escape(name)}</p>'
                f'<p class="lede">{self.words(lede)}</p></header>')

    def words(self, text: str) -> str:
        return escape(self.say(text))

    def section(self, name: str, inner: str, kind: str = "part") -> str:
        return f'<section class="{kind}"><h2>{self.words(name)}</h2>{inner}</section>\n'

    def figure(self, svg: str, caption: Message) -> str:
        return f'<figure class="chart">{svg}<figcaption>{self.words(caption)}</figcaption></figure>'

    def table(self, rows: Iterable[Row], group: Group, linked: bool = True) -> str:
        """A figure a line."""
        lines = [("", [self.head(row.name), f"<td>{self.value(group, row)}</td>", *([self.rests_on(row)] if linked else ())])
                 for row in rows]
        return self.grid(Message("{name}: figures", name=group.name), (Message("Figure"), Message("Value"), *_also(linked)), lines,
                         narrow=False)

    def crossed(self, group: Group, rows: Iterable[Row], first: Message, figures: Sequence[tuple[str, Message]],
                caption: Message, linked: bool = True) -> str:
        """A line for each that has "pulls" among its rows, a column for each of the figures that any of them has."""
        found: dict[str, dict[str, Row]] = {}
        for row in rows:
            of, _, figure = row.key.rpartition("_")
            found.setdefault(of, {})[figure] = row
        figures = [(figure, name) for figure, name in figures if any(figure in of for of in found.values())]
        lines = [("", [self.head(of["pulls"].about),
                       *(f"<td>{self.value(group, of[figure]) if figure in of else '–'}</td>" for figure, _ in figures),
                       *([self.rests_on(of["pulls"])] if linked else ())]) for of in found.values()]
        return self.grid(caption, (first, *(name for _, name in figures), *_also(linked)), lines)

    def grid(self, caption: Message, heads: Sequence[Message], lines: Iterable[tuple[str, list[str]]],
             narrow: bool = True) -> str:
        """A table; each line has its attributes and its cells."""
        top = "".join(f'<th scope="col"{_kind(head)}>{self.words(head)}</th>' for head in heads)
        body = "".join(f"<tr{attributes}>{''.join(cells)}</tr>" for attributes, cells in lines)
        return (f'<div class="wide"><table class="{"narrow" if narrow else "broad"}"><caption>{self.words(caption)}'
                f"</caption><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table></div>")

    def head(self, name: str) -> str:
        return f'<th scope="row">{escape(render(name, self.language))}</th>'

    def rests_on(self, row: Row) -> str:
        return f'<td class="shots">{self.shots(row.record_ids)}</td>'

    def value(self, group: Group, row: Row) -> str:
        key = escape(f"{self.key}{group.name}/{row.key}")
        return "".join(escape(said) if number is None else
                       f'<data value="{number[1]!r}" data-key="{key}/{number[0]}">{escape(said)}</data>'
                       for said, number in row.parts(self.language))

    def shots(self, ids: Iterable[str]) -> str:
        found = [id for id in ids if id in self.known]
        if not found:
            return ""
        links = ", ".join(f'<a href="#r-{escape(id)}">{n}</a>' for n, id in enumerate(found, 1))
        many = Message("{n:d} records", n=len(found)) if len(found) > 1 else Message("1 record")
        return f'<details class="shots"><summary>{self.words(many)}</summary>{links}</details>'


def _also(linked: bool) -> tuple[Message, ...]:
    return (RESTS_ON,) if linked else ()


def _kind(head: Message) -> str:
    return ' class="shots"' if head == RESTS_ON else ' class="n"' if head in NUMBERS else ""
