"""The command on all cases of the store: rows from the store, sentences, JSON and pictures."""

from __future__ import annotations

import json
from pathlib import Path
from xml.etree import ElementTree as ET

from typer.testing import CliRunner

from mountproof.case.store import Store
from mountproof.surfaces.cli.app import app


def store_of(folder: Path, cases: int) -> Path:
    with Store(folder) as store, store.change("QP") as change:
        for i in range(cases):
            water = 24.0 + 0.05 * ((i * 7) % 5) + (2.0 if i == cases - 1 else 0.0)
            text = (
                f'schema_version = 1\ncode = "K{i:02d}"\ndate = 2026-03-{1 + i:02d}\n\n[bench]\npowder_g = 100\n'
                f"water_ml = {water:.2f}\n\n[bench.sheet]\nwater_ml_per_100g = 24\n"
            )
            change.begin(text.encode(), {}, "made up")
    return folder


def test_store_is_told_as_words_json_and_pictures(tmp_path: Path) -> None:
    folder = store_of(tmp_path / "store", 24)
    told = CliRunner().invoke(app, ["practice", "--store", str(folder)])
    assert told.exit_code == 0, told.output
    assert "Cases: 24. Look at water against the sheet." in told.output
    assert "outside its limits in K23" in " ".join(told.output.split())
    out = tmp_path / "pictures"
    found = CliRunner().invoke(app, ["practice", "--store", str(folder), "--json", "--out", str(out)])
    data = json.loads(found.stdout)
    chart = next(c for c in data["charts"] if c["key"] == "deviation")
    assert chart["outside"] == ["K23"] and len(chart["cases"]) == 24 and data["left_out"] == []
    drawn = ET.parse(data["pictures"][0]).getroot()
    assert drawn.tag.endswith("svg") and "K23" in ET.tostring(drawn, "unicode")


def test_few_cases_have_no_limits(tmp_path: Path) -> None:
    told = CliRunner().invoke(app, ["practice", "--store", str(store_of(tmp_path / "s", 3)), "--json"])
    assert json.loads(told.stdout)["charts"][0]["limits"] is None
