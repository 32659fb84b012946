"""Makes the demo data, byte for byte the same each time: `python -m demo_data.make [FOLDER]`.

One file a service day, a record a line as JSON, and `bar.json`: the bar's setup and what really happened there.
"""

import json
import sys
from dataclasses import asdict
from pathlib import Path

from demo_data import story
from demo_data.service import Bar
from kiosk.bar.model import span, to_json


def bar() -> dict:
    """The bar as the settings that `kiosk.bar.model.setup.read` takes, under "settings", and its story under "happened"."""
    grinders = {mill.name: {"coffee": mill.coffee, "setting": mill.setting, "purge_g": mill.purge_g}
                for mill in story.MILLS}
    recipes: dict = {}
    for (coffee, basket), recipe in story.RECIPES.items():
        recipes.setdefault(coffee, {})[basket] = {
            name: value for name, value in asdict(recipe).items() if name not in ("coffee", "basket")}
    return {
        "bar": "The Tin Lantern", "invented": True,
        "days": list(span(story.FIRST_DAY.isoformat(), story.LAST_DAY.isoformat())),
        "settings": {"bar": "The Tin Lantern", "groups": 2, "grinders": grinders, "recipes": recipes,
                     "staff": {hand.name: {"new": hand.new} for hand in story.HANDS}},
        "happened": list(story.HAPPENED),
    }


def made() -> dict[str, str]:
    """File name → contents, of the whole folder."""
    lantern, files = Bar(), {"bar.json": json.dumps(bar(), indent=1, ensure_ascii=False) + "\n"}
    for day in span(story.FIRST_DAY.isoformat(), story.LAST_DAY.isoformat()):
        records = lantern.day(story.date.fromisoformat(day))
        files[f"{day}.jsonl"] = "".join(
            json.dumps(to_json(kept), ensure_ascii=False, separators=(",", ":")) + "\n" for kept in records)
    return files


def main(folder: str | None = None) -> None:
    where = Path(folder) if folder else Path(__file__).parent
    where.mkdir(parents=True, exist_ok=True)
    for name, contents in made().items():
        (where / name).write_text(contents, encoding="utf-8")
        print(f"{name}: {contents.count(chr(10))} lines, {len(contents.encode()) / 1000:.0f} kB")


if __name__ == "__main__":
    main(*sys.argv[1:2])
