"""The command line in German: words, commas, faults; what programs read stays as it is."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from surfaces.cli_bench import run

CASE = Path(__file__).parents[1] / "case" / "bench_case.toml"
#: Words of the English page that German does not share.
ENGLISH = re.compile(
    r"\b(the|with|and|next|why|measure|assumed|notes|cautions|rests|look|gate|read|value|agrees)\b", re.I
)


@pytest.mark.parametrize("asked", [(), ("stone", "pin", "mounting", "record")])
def test_a_sheet_in_german(asked: tuple[str, ...]) -> None:
    shown = run("answer", CASE, *asked, "--lang", "de").out
    assert "Wie weit öffne ich den Stützstift" in shown
    assert "Den Stützstift um 4,2 mm öffnen: seine Skala zeigt dann 4,2." in re.sub(r"\s+", " ", shown)
    assert not ENGLISH.findall(shown)
    assert ("4,24 Teilstriche" in shown) is bool(asked)
    assert not re.findall(r"\d\.\d", re.sub(r"JCGM 100:2008, 5.1.2", "", shown))


def test_the_environment_names_the_language_and_the_option_goes_before(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("MOUNTPROOF_LANG", "de_DE.UTF-8")
    assert "stimmt überein" in run("answer", CASE, "pin").out
    assert "agrees" in run("answer", CASE, "pin", "--lang", "en").out
    assert json.loads(run("answer", CASE, "pin", "--json").out)["answers"]["pin"]["verdict"] == "agrees"


def test_faults_in_german(tmp_path: Path) -> None:
    (tmp_path / "case.toml").write_text('schema_version = 1\ncode = "X"\nlab = 5\n')
    told = run("answer", tmp_path, "--lang", "de")
    assert told.status == 2
    assert "case.toml, Zeile 3 · lab" in told.err
    assert 'Hier wird Text gebraucht. Gefunden: 5.\n  Zu tun: In Anführungszeichen setzen: "5".' in told.err
    as_json = json.loads(run("answer", tmp_path, "--lang", "de", "--json").out)
    assert as_json["faults"][0]["what"] == "text is needed here"


def test_a_question_or_language_that_is_none(tmp_path: Path) -> None:
    assert "„x“ ist keine Frage" in run("answer", CASE, "x", "--lang", "de").err
    refused = run("answer", CASE, "--lang", "fr")
    assert refused.status == 2
    assert "texts are there in en, de" in refused.err
