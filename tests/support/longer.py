"""A language of the tests' own: every text 40 % longer, its places kept. Layouts are checked in it."""

from string import Formatter

from kiosk.bar.messages import English, render

GROWTH = 0.4


class Longer(English):

    def gettext(self, text: str) -> str:
        """`text` with its words lengthened, so that lines break as a real language's would."""
        parts, owed = [], 0.0
        for words, name, form, _ in Formatter().parse(text):
            grown = []
            for word in words.replace("{", "{{").replace("}", "}}").split(" "):
                owed += (len(word) + 1) * GROWTH
                if len(word) > 1:
                    word += "ö" * round(owed)
                    owed -= round(owed)
                grown.append(word)
            parts.append(" ".join(grown))
            if name is not None:
                parts.append(f"{{{name}:{form}}}" if form else f"{{{name}}}")
        return "".join(parts)

    def render(self, text: str) -> str:
        return self.gettext(text) if type(text) is str else render(text, self)
