"""Every text of the program has its German, and nothing reaches a person past the files of the languages."""

from __future__ import annotations

import ast
import re
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass, replace
from enum import Enum
from pathlib import Path
from typing import Any

import pytest

from mountproof.answers.result import Sheet
from mountproof.answers.sheet import answer
from mountproof.case.files import load_case, parse_case
from mountproof.case.model import Case
from mountproof.faults import FaultError
from mountproof.occlusion.numbering import Numbering
from mountproof.said import Said, in_numbering, languages, render, rendered, say
from mountproof.said.catalogue import HERE, Language, language, pairs
from mountproof.said.render import _said
from mountproof.said.text import places_of
from mountproof.teeth import LOWER_TEETH, UPPER_TEETH, format_tooth, tooth_text
from said.collect import SOURCE, files, of_module, sources, wanted
from said.unsaid import sentences

OTHERS = languages()[1:]

#: Words that no text of this program uses, in any language.
FORBIDDEN = re.compile(
    r"\b(sicher(?!ung)|korrekt|ideal|kraft|last|schleif|safe(?!r)|correct|ideal|force|load(?!ed|ing)|grind)\w*",
    re.I,
)

_CONDYLES = {"right condyle down", "left condyle down", "right condyle ahead", "left condyle ahead"}
#: Sentences that are no texts for a person: keys, files' own words, sources of uncertainty, pages of the documentation.
ASIDE = {
    "answers/facebow_axis.py": {"first molars", "second molars"},
    "answers/pin.py": {"assumed/{}/shift along the pairs"},
    "answers/pours.py": {"stop mixing", "poured by", "hands off from", "initial set", "may be released"},
    "answers/finds.py": _CONDYLES,
    "answers/proof_checks.py": _CONDYLES,
    "answers/proof_finds.py": _CONDYLES,
    "answers/proof_next.py": _CONDYLES,
    "answers/record_repeats.py": {"one stands out", *_CONDYLES, "cannot tell"},
    "answers/stone.py": {"length/second pour"},
    "answers/usual_sites.py": {"first molars", "second molars"},
    "bench/pose.py": {"assumed/{}/not seen {}"},
    "bench/scale.py": {"scale/block {} mm"},
    "bench/stone.py": {"assumed/powder density"},
    "case/digest.py": {"scan files"},
    "case/dump.py": {"{ states = {}, rows = { {} } }"},
    "doubt/guard.py": {"does not agree", "cannot tell"},
    "doubt/rates.py": {"does not agree", "cannot tell"},
    "doubt/verdicts.py": {"does not agree", "cannot tell"},
    "records/compare.py": {"one stands out", "cannot tell"},
}
#: Files that hold no texts said in other languages: templates and pages, formats of files, the phantom.
WHOLE_FILES = (
    "case/template.py",
    "case/page.py",
    "case/schema.py",
    "case/scans/_write.py",
    "case/scans/_read.py",
    "case/syntax.py",
    "case/store/",
    "phantom/",
    "surfaces/",
    "warm.py",
    "__init__.py",
)


def test_templates_stand_where_a_translator_finds_them() -> None:
    odd = [
        f"{text.module}:{text.line}" for file in sources() for text in of_module(file) if not text.template
    ]
    assert not odd, "say() takes its template as a literal"


@pytest.mark.parametrize("key", OTHERS)
def test_every_text_has_its_translation(key: str) -> None:
    needed = {template for templates in wanted().values() for template in templates}
    found = [(file.name, pair) for file in files(key) for pair in pairs(file)]
    twice = [en for en, count in Counter(pair["en"] for _, pair in found).items() if count > 1]
    assert not twice
    there = {pair["en"]: pair[key] for _, pair in found}
    assert not sorted(needed - there.keys()), "run tools/words"
    assert not sorted(there.keys() - needed), "run tools/words"
    assert not [en for en, text in there.items() if not text.strip()], "translate these"
    assert not [en for en, text in there.items() if places_of(en) != places_of(text)]
    assert not [en for en, text in there.items() if en[:1].isspace() != text[:1].isspace()]


@pytest.mark.parametrize("key", OTHERS)
def test_no_translation_uses_a_word_that_no_text_uses(key: str) -> None:
    said = [pair[key] for file in files(key) for pair in pairs(file)]
    assert not [text for text in said if FORBIDDEN.search(re.sub(r"\{\w+\}", "", text))]
    assert FORBIDDEN.search("Das ist sicher.")
    assert not FORBIDDEN.search("Standardunsicherheit")


def test_every_file_of_pairs_holds_pairs_only() -> None:
    for key in OTHERS:
        for file in files(key):
            assert all(set(pair) <= {"en", key, "note"} for pair in pairs(file)), file
            assert pairs(file), file


def test_every_sentence_of_the_program_is_said() -> None:
    odd = []
    for file in sources():
        name = str(file.relative_to(SOURCE))
        if name.startswith(WHOLE_FILES) or name.endswith("__init__.py"):
            continue
        odd += [
            f"{name}:{one.line}: {one.text}" for one in sentences(file) if one.text not in ASIDE.get(name, ())
        ]
    assert not odd, "make these by say()"


def test_every_fault_of_a_surface_is_said() -> None:
    odd = []
    for file in sorted((SOURCE / "surfaces").rglob("*.py")):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Fault":
                plain = [part for part in node.args[1:3] if isinstance(part, ast.Constant | ast.JoinedStr)]
                odd += [f"{file.relative_to(SOURCE)}:{part.lineno}" for part in plain]
    assert not odd, "make these by say()"


def test_a_sentence_that_is_not_said_is_found(tmp_path: Path) -> None:
    file = tmp_path / "some.py"
    file.write_text(
        'def f(x):\n    """A docstring."""\n    return f"open {x} mm", say("a b"), "the pin", ("on " + x)\n'
    )
    assert [one.text for one in sentences(file)] == ["open {} mm", "the pin", "on "]


class Speechless(dict[str, str]):
    """The texts of a language that has no words: what is left of a rendered text are its values."""

    def get(self, key: str, default: Any = None) -> str:
        return "".join(
            part if part.startswith("{") and part != "{{" else re.sub(r"[^\W\d_]", "", part)
            for part in re.split(r"(\{\{|\}\}|\{\w+\})", key)
        )


SPEECHLESS = Language("xx", "no words", Speechless(), decimal=",", minus="−", percent="%", quotes=("»", "«"))


def left_of(value: Any, name: str = "") -> Iterator[tuple[str, str]]:
    """Yield every word of a value that no file of a language can say, with the text it stands in."""
    if isinstance(value, Enum) or name in {"key", "digest", "field", "code", "evidence", "line"}:
        return
    if isinstance(value, str):
        bare = re.sub(r"\b[0-9a-f]{8}\b", "", _said(value, SPEECHLESS, "iso3950"))  # less the ids of scans
        yield from ((word, value) for word in re.findall(r"[^\W\d_]{2,}", bare))
    elif is_dataclass(value):
        for part in fields(value):
            yield from left_of(getattr(value, part.name), part.name)
    elif isinstance(value, Mapping):
        for part in value.values():
            yield from left_of(part)
    elif isinstance(value, tuple | list):
        for part in value:
            yield from left_of(part)


def test_what_is_left_of_a_text_without_words_is_seen() -> None:
    made = say("open {pin} in {state}", pin="the pin", state="A")
    assert [word for word, _ in left_of(made)] == ["the", "pin"]
    assert [word for word, _ in left_of((made, "a plain text"))] == ["the", "pin", "plain", "text"]


def test_answers_hold_no_words_but_the_users_own(example_sheets: list[Sheet]) -> None:
    """Names of pairs, states, records and files are the user's; everything else comes from the files of a language."""
    users = re.compile(r"[A-Z]{2,3}|(?i:record)|upper|lower|stl|csv|teeth|ply")
    odd = {
        f"{word}: {text}"
        for sheet in example_sheets
        for word, text in left_of(sheet)
        if not users.fullmatch(word)
    }
    assert not odd


def test_a_german_sheet_has_decimal_commas(example_sheets: list[Sheet]) -> None:
    """But where a file, a page, a standard or a typed reading is named."""
    names = re.compile(r"\w+\.(stl|csv|md|ply)|\d+:\d{4}, [\d.]+|doi \S+|docs/\S+")
    for sheet in example_sheets:
        german = rendered(sheet, "de")
        for field in fields(german):
            text = re.sub(r'"[\d.,/]+"', "", re.sub(names, "", str(getattr(german, field.name))))
            text = re.sub(r"(value|u|low|high|limit|evidence|digest|field)=[^,)]+", "", text)
            assert not re.findall(r"\d\.\d", re.sub(r"marks\.\S+", "", text)), text[:3000]


def test_a_fault_in_german(tmp_path: Path) -> None:
    folder = tmp_path / "case"
    folder.mkdir()
    (folder / "case.toml").write_text(
        'schema_version = 1\ncode = "X"\ncaliper = { sd_mm = "0.05 mm" }\nlab = 5\n'
    )
    with pytest.raises(FaultError) as caught:
        load_case(folder)
    first, second = (render(fault.sentence(), "de") for fault in caught.value.faults)
    assert first.startswith(
        'case.toml, Zeile 3: caliper.sd_mm: „0.05 mm“ trägt eine Einheit (gefunden: "0.05 mm"'
    )
    assert first.endswith("Nur 0.05 schreiben")
    assert (
        second
        == 'case.toml, Zeile 4: lab: hier wird Text gebraucht (gefunden: 5). In Anführungszeichen setzen: "5"'
    )
    assert str(caught.value.faults[1]) == (
        'case.toml, line 4: lab: text is needed here (got 5). Put it in quotation marks: "5"'
    )


def test_teeth_named_by_the_program_follow_the_numbering() -> None:
    for tooth in (*UPPER_TEETH, *LOWER_TEETH):
        text = say("at {tooth}", tooth=tooth_text(tooth))
        assert text == f"at {tooth}"
        for system in ("iso3950", "universal"):
            fixed = in_numbering(text, system)
            assert fixed == render(text, "en", numbering=system) == f"at {format_tooth(tooth, system)}"
            other = "universal" if system == "iso3950" else "iso3950"
            assert render(fixed, "de", numbering=other) == fixed
    note = Numbering(None, None, None, "shells", True, say("{teeth}", teeth=tooth_text(16)))  # type: ignore[arg-type]
    assert in_numbering(note, "universal").note == "3"


def test_a_case_in_the_other_numbering_names_no_tooth_by_its_iso_number() -> None:
    case = parse_case(
        'schema_version = 1\ncode = "U"\n[dentition]\nnumbering = "universal"\n'
        '[[foils]]\nwhere = "mouth"\nrelation = "CR"\nthickness_um = 8\nheld = [2, 3, 30]\nothers_free = true\n'
        '[[foils]]\nwhere = "mounting"\nrelation = "CR"\nthickness_um = 8\nheld = [2, 14, 31]\nothers_free = true\n'
    )
    sheet = rendered(answer(case), "de")
    said = [sheet["mounting"].headline, *(r.text for r in sheet["mounting"].reasons)]
    rows = [row for table in sheet["mounting"].tables for row in table.rows]
    assert "bei 3, 14" in said[0]
    assert ("3", "erster Molar oben rechts", "hält", "frei", "abweichend") in rows
    assert not [row for row in rows if row[0].isdigit() and int(row[0]) > 32]


def test_an_empty_case_in_german() -> None:
    sheet = rendered(answer(Case(code="EMPTY")), "de")
    assert (
        sheet["pin"].headline
        == "Ohne die Längen des Artikulators lässt sich der Stützstift nicht beantworten."
    )
    assert sheet["pin"].question == "Wie weit öffne ich den Stützstift für dieses Registrat?"


def test_a_language_is_a_folder_of_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A translator adds a language without touching the program; what it does not say is said in English."""
    assert (HERE / "de" / "language.toml").exists()
    (tmp_path / "fr").mkdir()
    (tmp_path / "fr" / "language.toml").write_text(
        'name = "français"\ndecimal = ","\nquotes = ["« ", " »"]\n'
    )
    (tmp_path / "fr" / "words.toml").write_text(
        '[[say]]\nen = "{a} mm"\nfr = "{a} millimètres"\n\n[[say]]\nen = "b"\nfr = ""\n'
    )
    monkeypatch.setattr("mountproof.said.catalogue.HERE", tmp_path)
    languages.cache_clear()
    language.cache_clear()
    try:
        assert languages() == ("en", "fr")
        assert render(say("{a:.1f} mm", a=1.5), "fr") == "1,5 millimètres"
        assert render(say("b"), "fr") == "b"
    finally:
        monkeypatch.undo()
        languages.cache_clear()
        language.cache_clear()
    assert "de" in languages()
    assert isinstance(say("a"), Said)
    assert replace(language("de"), key="xx").decimal == ","
