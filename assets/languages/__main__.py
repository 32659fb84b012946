"""`python -m assets.languages`: bring every catalogue up to date with the code; 1 where a text lacks its words."""

import sys
from pathlib import Path

from assets.languages.catalogue import mo, read_po, write_po
from assets.languages.gather import gather

HERE = Path(__file__).parent


def main() -> int:
    texts, lacking = gather(), 0
    for po in sorted(HERE.glob("*/evenpull.po")):
        language = po.parent.name
        translated = read_po(po.read_text("utf-8"))
        written = write_po(language, texts, translated)
        po.write_text(written, "utf-8")
        po.with_suffix(".mo").write_bytes(mo(read_po(written)))
        missing = [text for text in texts if not translated.get(text)]
        lacking += len(missing)
        print(f"{language}: {len(texts)} texts, {len(missing)} without words")
        for text in missing:
            print(f"   {text!r}")
    return 1 if lacking else 0


if __name__ == "__main__":
    sys.exit(main())
