"""Everything that the server says of a case comes in German when it is asked for, or is the user's own."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest

from surfaces.web.bench_client import CASE, Client, bench

#: Ends of what is no text for a person: keys, codes, the user's entries as entered, names.
ASIDE = re.compile(
    r"\.(key|field|code|digest|sha256|kind|path|why|url|verdict|state|stage|record|example|name|value|pattern|colour"
    r"|ink|id|arch|file|question|table|table\[\]|pair|weight|layout|numbering|lab|who|note|store|version)$|\.entered"
)


def leaves(value: Any, path: str = "") -> Iterator[tuple[str, str]]:
    if isinstance(value, str):
        yield path, value
    elif isinstance(value, dict):
        for key, part in value.items():
            yield from leaves(part, f"{path}.{key}")
    elif isinstance(value, list):
        for part in value:
            yield from leaves(part, f"{path}[]")


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Client]:
    with bench(tmp_path_factory.mktemp("store")) as client:
        assert client.post("/api/cases/bring-in?name=a.toml", content=CASE.read_bytes()).status_code == 200
        yield client


def in_both(client: Client, address: str) -> list[tuple[str, str, str]]:
    english, german = (
        list(leaves(client.get(address, params={"lang": lang}).json())) for lang in ("en", "de")
    )
    assert [path for path, _ in english] == [path for path, _ in german]
    return [(path, en, de) for (path, en), (_, de) in zip(english, german, strict=True)]


@pytest.mark.parametrize(
    "address",
    [
        "/api/cases/1/sheet",
        "/api/fields",
        "/api/cases/1/procedure",
        "/api/cases/1/history",
        "/api/cases/1",
        "/api/pours",
    ],
)
def test_nothing_is_said_in_english_where_german_is_asked_for(opened: Client, address: str) -> None:
    entered = CASE.read_text()
    same = {
        f"{path}: {de}"
        for path, en, de in in_both(opened, address)
        if en == de and not ASIDE.search(path) and re.search(r"[^\W\d_]{4,}", en) and en not in entered
    }
    # Words that are the same in both languages.
    assert not {
        text for text in same if not re.search(r": (lingual|labial|mesial|distal|Material|Name)$", text)
    }


def test_numbers_have_the_comma_of_the_language(opened: Client) -> None:
    for path, en, de in in_both(opened, "/api/cases/1/sheet"):
        if path.endswith((".shown", ".interval", ".u_shown", "rows[][]", ".headline")) and re.search(
            r"\d\.\d", en
        ):
            assert not re.search(r"\d\.\d", de), (path, de)
            assert re.search(r"\d,\d", de), (path, de)


def test_a_fault_is_said_in_the_language_asked_for(opened: Client) -> None:
    found = opened.get("/api/cases/99/sheet", params={"lang": "de"}).json()["faults"][0]
    assert (found["what"], found["todo"]) == (
        "einen solchen Fall gibt es nicht",
        "Einen aus der Liste der Fälle wählen",
    )
    found = opened.get("/api/cases/99/sheet", headers={"Accept-Language": "de-AT,de;q=0.9"}).json()["faults"][
        0
    ]
    assert found["what"] == "einen solchen Fall gibt es nicht"
