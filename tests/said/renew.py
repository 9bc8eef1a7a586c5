"""Bring the files of every language up to date with the program's texts: new ones empty, gone ones out."""

from __future__ import annotations

import json
import sys

from mountproof.said.catalogue import HERE, languages
from said.collect import files, known, wanted


def text_of(language: str, templates: list[str], before: dict[str, dict[str, str]]) -> str:
    """Return the text of one file of pairs, in the order of the program."""
    blocks = []
    for template in templates:
        pair = {"en": template, language: "", **before.get(template, {})}
        lines = [f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in pair.items()]
        blocks.append("\n".join(["[[say]]", *lines]))
    return "\n\n".join(blocks) + "\n"


def renew() -> None:
    """Write the files anew and say what is to be done."""
    texts = wanted()
    for language in languages()[1:]:
        before = known(language)
        for file in files(language):
            if file.stem not in texts:
                file.unlink()
        for module, templates in texts.items():
            file = HERE / language / f"{module}.toml"
            made = text_of(language, templates, before)
            if not file.exists() or file.read_text(encoding="utf-8") != made:
                file.write_text(made, encoding="utf-8")
        every = {template for templates in texts.values() for template in templates}
        for template in sorted(set(before) - every):
            sys.stdout.write(f"{language}: no longer said: {template}  ({before[template][language]})\n")
        empty = [template for template in every if not before.get(template, {}).get(language)]
        sys.stdout.write(f"{language}: {len(every)} texts, {len(empty)} to be translated\n")


if __name__ == "__main__":
    renew()
