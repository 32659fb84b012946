"""A gettext catalogue as text to translate in (`.po`) and as what a program reads (`.mo`)."""

import ast
import struct
from collections.abc import Iterable, Mapping

MAGIC = 0x950412DE
HEADER = "Content-Type: text/plain; charset=UTF-8\nContent-Transfer-Encoding: 8bit\nLanguage: {language}\n"


def write_po(language: str, texts: Mapping[str, Iterable[str]], translated: Mapping[str, str]) -> str:
    """`texts` are the texts to translate and the files that say them; what is not in `translated` is left empty."""
    header = HEADER.format(language=language).splitlines(True)
    lines = ['msgid ""', 'msgstr ""', *map(_quoted, header), ""]
    for text, names in texts.items():
        lines.append("#: " + " ".join(names))
        if "{" in text:
            lines.append("#, python-brace-format")
        lines += [f"msgid {_quoted(text)}", f"msgstr {_quoted(translated.get(text, ''))}", ""]
    return "\n".join(lines)


def read_po(text: str) -> dict[str, str]:
    """msgid → msgstr, header and empty ones too. Reads what `write_po` writes, and long texts broken into lines."""
    entries: list[dict[str, str]] = []
    key = ""
    for line in text.splitlines():
        if line.startswith("msgid "):
            entries.append({"msgid": "", "msgstr": ""})
        word, _, quoted = line.partition(" ")
        if word in ("msgid", "msgstr"):
            key = word
        elif line.startswith('"'):
            quoted = line
        else:
            continue
        entries[-1][key] += ast.literal_eval(quoted)
    return {entry["msgid"]: entry["msgstr"] for entry in entries}


def mo(entries: Mapping[str, str]) -> bytes:
    """The binary form (GNU gettext manual, "The Format of GNU MO Files"), untranslated entries left out."""
    pairs = sorted((text.encode(), said.encode()) for text, said in entries.items() if said)
    count = len(pairs)
    tables, strings = {0: [], 1: []}, b""
    place = 28 + 16 * count
    for which in (0, 1):
        for pair in pairs:
            tables[which].append(struct.pack("<II", len(pair[which]), place + len(strings)))
            strings += pair[which] + b"\0"
    return struct.pack("<7I", MAGIC, 0, count, 28, 28 + 8 * count, 0, 28 + 16 * count) + b"".join(
        tables[0] + tables[1]) + strings


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n") + '"'
