"""Pages that cannot rot: links, output, generated pages, named functions, sources, words, docstrings."""

from __future__ import annotations

import doctest
import re
import subprocess
from pathlib import Path

import pytest

from docs import code, generate, pipit, prose
from docs.console import DOCS, HERE, renewed
from docs.renew import pages_with_blocks
from mountproof.answers import words
from mountproof.answers.result import Sheet, Verdict, Why
from mountproof.answers.sheet import answer
from mountproof.case.files import load_case
from mountproof.case.limits import Limits
from mountproof.case.model import Case
from mountproof.surfaces.wording import EXIT_STATUS

ROOT = generate.ROOT
PAGES = [ROOT / "README.md", *sorted(DOCS.rglob("*.md"))]
WITH_BLOCKS = pages_with_blocks()
AGAIN = "run tools/pages and look at the difference"


def names(pages: list[Path]) -> list[str]:
    return [str(page.relative_to(ROOT)) for page in pages]


def anchors(page: Path) -> set[str]:
    found = re.findall(r"^#+ +(.+?) *$", page.read_text(encoding="utf-8"), re.MULTILINE)
    return {re.sub(r"[^\w -]", "", head.lower()).replace(" ", "-") for head in found}


@pytest.mark.parametrize("page", PAGES, ids=names(PAGES))
def test_links_lead_somewhere(page: Path) -> None:
    dead = []
    for target in re.findall(r"\]\(([^)\s]+)\)", page.read_text(encoding="utf-8")):
        if re.match(r"https?:|mailto:", target):
            continue
        path, _, anchor = target.partition("#")
        goal = (page.parent / path).resolve() if path else page
        if not goal.exists() or (anchor and goal.suffix == ".md" and anchor not in anchors(goal)):
            dead.append(target)
    assert not dead


@pytest.mark.parametrize("page", WITH_BLOCKS, ids=names(WITH_BLOCKS))
def test_output_is_what_the_program_says(page: Path, tmp_path: Path) -> None:
    text = page.read_text(encoding="utf-8")
    assert renewed(text, tmp_path) == text, AGAIN


def test_the_list_of_commands_is_current() -> None:
    assert (DOCS / "commands.md").read_text(encoding="utf-8") == generate.commands_page(), AGAIN


def test_the_list_of_what_an_answer_can_say_is_current(example_sheets: list[Sheet]) -> None:
    made = generate.answers_page(generate.entries_of(example_sheets))
    assert (DOCS / "answers.md").read_text(encoding="utf-8") == made, AGAIN


def test_every_quantity_in_the_program_text_is_shown_by_some_example(example_sheets: list[Sheet]) -> None:
    keys = {e.key for e in generate.entries_of(example_sheets)}
    patterns = generate.key_patterns()
    assert sum(map(len, patterns.values())) > 20
    unseen = [
        f"{module}: {pattern}"
        for module, found in patterns.items()
        for pattern in found
        if not any(re.fullmatch(pattern, key) for key in keys)
    ]
    assert not unseen, "add an example case under tests/docs/cases that shows it"


def test_verdicts_reasons_cautions_and_limits_have_their_entry() -> None:
    page = (DOCS / "answers.md").read_text(encoding="utf-8")
    assert set(generate.VERDICTS) == set(Verdict)
    assert set(generate.WHYS) == set(Why)
    told = [*words.CAUTIONS, *(c for group in words.CAUTION_BY_KEY.values() for c in group)]
    for text in [*told, *(f"`{name}`" for name in Limits.model_fields), *words.SOURCES.values()]:
        assert text in page


def test_every_finding_of_a_scan_has_its_entry() -> None:
    page = (DOCS / "how-to" / "scans.md").read_text(encoding="utf-8")
    found = set()
    for file in (ROOT / "src").rglob("*.py"):
        found |= set(
            re.findall(r'"((?:scan|placement|trilateration|landmarks|teeth)\.[a-z_]+)"', file.read_text())
        )
    assert len(found) > 20
    missing = sorted(c for c in found - {"scan.transform_", "scan.unit_"} if f"`{c}`" not in page)
    assert not missing


@pytest.mark.parametrize("page", PAGES, ids=names(PAGES))
def test_functions_named_in_pages_exist(page: Path) -> None:
    named = code.named_in(page.read_text(encoding="utf-8"))
    assert not [name for name in sorted(named) if not code.exists(name)]
    if page.parent.name == "theory":
        assert named, "a page of theory names the functions that do what it derives"


def test_pages_named_in_the_program_exist() -> None:
    for file in (ROOT / "src").rglob("*.py"):
        for name in re.findall(r"docs/[\w/-]+\.(?:md|bib|json)", file.read_text(encoding="utf-8")):
            assert (ROOT / name).exists(), f"{file} names {name}"


def test_every_library_of_the_program_has_its_reason() -> None:
    lines = (ROOT / "requirements.in").read_text(encoding="utf-8").splitlines()
    needed = {line.split("[")[0].strip() for line in lines if line.strip() and not line.startswith("#")}
    page = (DOCS / "decisions" / "011-dependencies.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| ([\w, ]+) \| [^|]+ \| [^|]+ \|$", page, re.MULTILINE)
    told = {name for row in rows for name in row.split(", ")} - {"library"}
    assert told == needed
    assert f"These {NUMBERS[len(needed)]}." in page


#: As the pages write them.
NUMBERS = {
    12: "twelve",
    13: "thirteen",
    14: "fourteen",
    15: "fifteen",
    16: "sixteen",
    17: "seventeen",
    20: "twenty",
    21: "twenty-one",
}


def test_sources_resolve() -> None:
    keys = code.bib_keys()
    cited = {key for page in PAGES for key in re.findall(r"\[@([\w-]+)\]", page.read_text(encoding="utf-8"))}
    assert not cited - keys
    assert not keys - cited, "no page cites these"
    assert code.bib_used_by_program() == set(words.SOURCES)


THEORY = [
    page
    for page in sorted((DOCS / "theory").glob("*.md"))
    if page.name != "first-contact.md" and ">>>" in page.read_text(encoding="utf-8")
]


@pytest.mark.parametrize("page", THEORY, ids=names(THEORY))
def test_worked_numbers_of_the_theory(page: Path) -> None:
    result = doctest.testfile(str(page), module_relative=False, optionflags=doctest.NORMALIZE_WHITESPACE)
    assert result.attempted > 3
    assert not result.failed


def test_the_first_screen_has_the_two_commands() -> None:
    top = (ROOT / "README.md").read_text(encoding="utf-8").splitlines()[:30]
    commands = [line.strip() for line in top if line.startswith("    make ")]
    assert [c.split("#")[0].strip() for c in commands] == ["make demo", "make test"]


def test_the_readme_says_which_questions_are_answered() -> None:
    """Its table has the program's own words, and "not yet" exactly where the program says so."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    empty = answer(Case(code="EMPTY"))
    for q in words.QUESTIONS:
        row = next(line for line in text.splitlines() if line.startswith(f"| {q.number} | `{q.key}` |"))
        cells = [cell.strip() for cell in row.strip("|").split("|")]
        assert cells[2] == q.words
        not_built = any(r.why is Why.NOT_BUILT for r in empty[q.key].reasons)
        assert cells[3].startswith("not yet") == not_built
    for verdict, status in EXIT_STATUS.items():
        assert f"| {status} | {verdict.value} |" in text


def test_the_picture_is_small() -> None:
    picture = DOCS / "pictures" / "sheet.png"
    assert 10_000 < picture.stat().st_size <= 300_000


@pytest.mark.parametrize("page", PAGES, ids=names(PAGES))
def test_pages_use_no_unwanted_word(page: Path) -> None:
    assert not prose.unwanted(prose.prose(page))


def test_the_word_check_is_awake() -> None:
    for text in ("the correct way", "no Load", "TMD", "it is safe", "forced", "an ideal", "grinding", "ICP"):
        assert prose.unwanted(text), text
    for text in ("reinforced", "workload", "download", "icp", "corrector.md", "use load_case and is_safe.py"):
        assert not prose.unwanted(text), text


def test_the_program_uses_no_unwanted_word() -> None:
    every = list(prose.sentences())
    assert len(every) > 500
    assert not [f"{place}: {text!r}" for place, text in every if prose.unwanted(text)]


def test_public_functions_say_what_they_take() -> None:
    every = list(code.public_functions())
    assert len(every) > 200
    untold = [f for f in every if code.untold(f) and f.name not in code.STILL_TO_SAY]
    assert not [f"{f.place} {f.name}: {code.untold(f)}" for f in untold]


def test_a_change_is_told_in_one_small_file() -> None:
    entries = sorted((ROOT / "changes.d").glob("*.md"))
    assert entries
    for file in entries:
        assert re.fullmatch(r"\d+(-[a-z-]+)?\.(answer-changes|added|fixed|broken)\.md", file.name), file.name
        assert 20 < len(file.read_text(encoding="utf-8")) < 1200


def test_decisions_have_their_five_parts() -> None:
    pages = sorted((DOCS / "decisions").glob("[0-9]*.md"))
    assert [int(p.name[:3]) for p in pages] == list(range(1, len(pages) + 1))
    for page in pages:
        text = page.read_text(encoding="utf-8")
        heads = re.findall(r"^## (.+)$", text, re.MULTILINE)
        assert heads == ["Question", "Options", "Choice", "Price", "What would change our mind"], page.name
        assert len(text.splitlines()) <= 60, f"{page.name}: one screen"


def test_the_bench_case_is_what_its_truth_gives() -> None:
    """The table on the page is the generator's, and the program's intervals hold the truth it never saw."""
    for name, states in (("record-in", "AB"), ("record-out", "ABCD")):
        assert pipit.table(states) in (HERE / "cases" / name / "case.toml").read_text(encoding="utf-8")
    sheet = answer(load_case(HERE / "cases" / "record-out"), ["pin", "mounting"])
    slide = [a - d for a, d in zip(pipit.INCISORS, pipit.moved(pipit.INCISORS, "D"), strict=True)]
    truth = {
        ("pin", "opening"): pipit.TRUTH["B"][0],
        **{("mounting", f"slide_{k}"): v for k, v in zip(("forward", "up", "right"), slide, strict=True)},
    }
    for (question, key), true in truth.items():
        found = sheet[question][key]
        assert found.low is not None
        assert found.high is not None
        assert found.low <= true <= found.high, (key, found.low, true, found.high)


def test_the_comparison_of_output_is_awake(tmp_path: Path) -> None:
    text = (DOCS / "how-to" / "export.md").read_text(encoding="utf-8")
    assert "It needs" in text
    spoiled = text.replace("It needs", "It wants")
    assert renewed(spoiled, tmp_path) == text


def test_every_tool_can_be_run() -> None:
    for tool in ("pages", "picture"):
        path = ROOT / "tools" / tool
        assert path.stat().st_mode & 0o111
        assert subprocess.run(["bash", "-n", str(path)], check=False).returncode == 0
