"""A campaign's figures, each printed with its bar beside it."""


class Bars:
    """Collects whether every bar held; `end` gives the command's exit code."""

    def __init__(self, title: str):
        self._held = True
        print(title)

    def below(self, what: str, figure: float, bar: float) -> None:
        self._line(what, figure, f"≤ {bar:g}", figure <= bar)

    def above(self, what: str, figure: float, bar: float) -> None:
        self._line(what, figure, f"≥ {bar:.3g}", figure >= bar)

    def _line(self, what: str, figure: float, bar: str, held: bool) -> None:
        self._held = self._held and held
        print(f"  {'PASS' if held else 'SHORT'}  {what}: {figure:.3g}  (bar {bar})", flush=True)

    def end(self) -> int:
        return 0 if self._held else 1
