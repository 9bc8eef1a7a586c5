"""Bundles: a case with its history and scans in one file; everything hostile is refused by name, before any change."""

from __future__ import annotations

import hashlib
import io
import json
import stat
import struct
import warnings
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from mountproof.case.store import CaseState, Store
from mountproof.case.store import zip_checks as limits
from mountproof.case.store.faults import CODES
from mountproof.faults import FaultError

CASE = b"""# GULL-9, an invented case\r
code = "GULL-9"  # with a remark\r
[[scans]]\r
arch = "upper"\r
file = "upper.stl"\r
unit = "mm"\r
placement = { frame_from_scan = [[1, 0, 0, 0], [0, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]] }\r
"""


def filled(folder: Path) -> Store:
    store = Store(folder)
    first = store.scans.add(io.BytesIO(b"first" * 1000)).sha256
    second = store.scans.add(io.BytesIO(b"second" * 1000)).sha256
    with store.change("QP") as change:
        change.begin(b'code = "another one"')
        case_id = change.begin(CASE, {"upper.stl": first, "earlier/a.toml": second}).case_id
        change.edit(case_id, {"note": "two"}, 1)
        change.save(case_id, CASE, 2, {"upper.stl": second}, "another scan")
        change.undo(case_id, 3)
        change.set_state(case_id, CaseState.WAITING)
        change.accept(case_id, "pin", "d" * 64, ("note", "scans"))
        change.accept(case_id, "stone", "e" * 64, ("note",), seed=-3)
        change.take_back(case_id, "pin")
    return store


@pytest.fixture(scope="module")
def bundle(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("bundle")
    with filled(folder / "store") as store:
        return store.export_bundle(2, folder / "GULL-9.zip")


@pytest.fixture
def other(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "other") as opened:
        yield opened
        assert opened.check() == ()


def test_everything_comes_back_byte_for_byte(bundle: Path, other: Store, tmp_path: Path) -> None:
    with filled(tmp_path / "here") as here, here.snapshot() as seen:
        ours, uid = seen.history(2), seen.uid(2)
        again = here.export_bundle(2, tmp_path / "a.zip").read_bytes()
        assert here.export_bundle(2, tmp_path / "b.zip").read_bytes() == again
    case_id = other.import_bundle(tmp_path / "a.zip", "NN")
    with other.snapshot() as seen:
        theirs = seen.history(case_id)
        drop = {"id": 0, "case_id": 0}
        assert [one._replace(**drop) for one in theirs] == [one._replace(**drop) for one in ours]
        assert theirs[0].text == CASE
        assert seen.uid(case_id) == uid
        assert seen.state(case_id) is CaseState.WAITING
        assert [(a.question, a.seed, a.number, a.who) for a in seen.accepted(case_id)] == [
            ("stone", -3, 4, "QP")
        ]
        assert seen.cases().cases[0].code == "GULL-9"
        assert seen.case(case_id, 1).folder is not None
    assert other.orphans() == ()
    assert other.export_bundle(case_id, tmp_path / "back.zip").read_bytes() == again


def test_the_same_case_again_adds_only_what_is_new(other: Store, tmp_path: Path) -> None:
    with filled(tmp_path / "here") as here:
        old = here.export_bundle(2, tmp_path / "old.zip")
        with here.change("QP") as change:
            change.edit(2, {"note": "later"}, 4)
            change.set_state(2, CaseState.DONE)
        new = here.export_bundle(2, tmp_path / "new.zip")
    case_id = other.import_bundle(old, "NN")
    assert other.import_bundle(old, "NN") == case_id
    assert other.import_bundle(new, "NN") == case_id
    assert other.import_bundle(old, "NN") == case_id
    with other.snapshot() as seen:
        assert [one.number for one in seen.history(case_id)] == [1, 2, 3, 4, 5]
        assert seen.state(case_id) is CaseState.DONE
        assert [one.note for one in seen.cases().cases] == ["later"]
    assert other.export_bundle(case_id, tmp_path / "x.zip").read_bytes() == new.read_bytes()


def test_a_case_that_went_on_in_both_places_is_not_mixed(other: Store, tmp_path: Path) -> None:
    with filled(tmp_path / "here") as here:
        case_id = other.import_bundle(here.export_bundle(2, tmp_path / "a.zip"), "NN")
        with here.change("QP") as change:
            change.edit(2, {"note": "here"}, 4)
        new = here.export_bundle(2, tmp_path / "b.zip")
    with other.change("NN") as change:
        change.edit(case_id, {"note": "there"}, 4)
    with pytest.raises(FaultError) as refused:
        other.import_bundle(new, "NN")
    assert [fault.code for fault in refused.value.faults] == ["bundle.diverged"]
    second = other.import_bundle(new, "NN", as_new=True)
    assert second != case_id
    with other.snapshot() as seen:
        assert [seen.case(one).note for one in (case_id, second)] == ["there", "here"]
        assert seen.uid(case_id) != seen.uid(second)


Parts = dict[str, bytes]


def parts_of(bundle: Path) -> Parts:
    with zipfile.ZipFile(bundle) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def packed(parts: Parts, renew: bool = True) -> bytes:
    """Zip the parts; with ``renew`` the list of contents says what is there now."""
    if renew:
        manifest = json.loads(parts["manifest.json"])
        manifest["files"] = [
            {"name": n, "sha256": hashlib.sha256(d).hexdigest(), "bytes": len(d)}
            for n, d in parts.items()
            if n != "manifest.json"
        ]
        parts = {**parts, "manifest.json": json.dumps(manifest).encode()}
    sink = io.BytesIO()
    with zipfile.ZipFile(sink, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return sink.getvalue()


def with_row(file: str, row: int, /, **changed: Any) -> Callable[[Parts], bytes]:
    def make(parts: Parts) -> bytes:
        rows = [json.loads(line) for line in parts[file].splitlines()]
        rows[row] |= changed
        if "text" in changed and "text_sha256" not in changed:
            rows[row]["text_sha256"] = hashlib.sha256(changed["text"].encode()).hexdigest()
        data = "".join(json.dumps(one) + "\n" for one in rows).encode()
        return packed({**parts, file: data})

    return make


def with_manifest(**changed: Any) -> Callable[[Parts], bytes]:
    def make(parts: Parts) -> bytes:
        manifest = json.loads(parts["manifest.json"]) | changed
        return packed({**parts, "manifest.json": json.dumps(manifest).encode()}, "files" not in changed)

    return make


def with_entry(name: str, mode: int = stat.S_IFREG | 0o644, data: bytes = b"x") -> Callable[[Parts], bytes]:
    def make(parts: Parts) -> bytes:
        sink = io.BytesIO(packed(parts))
        with zipfile.ZipFile(sink, "a") as archive, warnings.catch_warnings():
            warnings.simplefilter("ignore")
            passing = name.replace("\\", "|").replace("\0", "~")  # the library would not write these
            info = zipfile.ZipInfo(passing)
            info.external_attr = mode << 16
            archive.writestr(info, data)
        return sink.getvalue().replace(passing.encode(), name.encode())

    return make


def bomb(parts: Parts) -> bytes:
    data = bytes(50_000_000)
    return packed({**parts, f"scans/{hashlib.sha256(data).hexdigest()}": data})


def lying_sizes(parts: Parts) -> bytes:
    """The list at the end says that a file is small; its own stream goes on."""
    raw = bytearray(packed(parts))
    at = raw.rfind(b"PK\x01\x02", 0, raw.rfind(b"revisions.jsonl"))
    size = struct.unpack_from("<L", raw, at + 24)[0]
    struct.pack_into("<L", raw, at + 24, size - 7)
    return bytes(raw)


def overlapping(parts: Parts) -> bytes:
    """Two entries of the list lead to the same bytes."""
    raw = bytearray(packed(parts))
    first = raw.find(b"PK\x01\x02")
    second = raw.find(b"PK\x01\x02", first + 4)
    raw[second + 42 : second + 46] = raw[first + 42 : first + 46]
    return bytes(raw)


def many(parts: Parts) -> bytes:
    sink = io.BytesIO()
    with zipfile.ZipFile(sink, "w") as archive:
        for n in range(limits.MOST_FILES + 1):
            archive.writestr(f"scans/{n:064x}", b"")
    return sink.getvalue()


def many_but_says_few(parts: Parts) -> bytes:
    raw = bytearray(many(parts))
    at = raw.rfind(b"PK\x05\x06")
    struct.pack_into("<2H", raw, at + 8, 3, 3)
    return bytes(raw)


def encrypted(parts: Parts) -> bytes:
    raw = bytearray(packed(parts))
    for mark, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        raw[raw.find(mark) + offset] |= 1
    return bytes(raw)


def flipped(parts: Parts) -> bytes:
    """One bit of the packed bytes of a scan."""
    raw = bytearray(packed(parts))
    at = raw.find(b"scans/") + 75
    raw[at] ^= 4
    return bytes(raw)


def one_scan_changed(parts: Parts) -> bytes:
    name = next(n for n in parts if n.startswith("scans/"))
    return packed({**parts, name: parts[name] + b"!"})


HOSTILE: dict[str, tuple[str, Callable[[Parts], bytes]]] = {
    "path up": ("bundle.name", with_entry("../../evil")),
    "path up inside": ("bundle.name", with_entry("scans/../../evil")),
    "absolute": ("bundle.name", with_entry("/etc/evil")),
    "drive": ("bundle.name", with_entry("C:/evil")),
    "backslash": ("bundle.name", with_entry("..\\evil")),
    "folder": ("bundle.name", with_entry("scans/")),
    "another file": ("bundle.name", with_entry("setup.py")),
    "capitals": ("bundle.name", with_entry("CASE.TOML")),
    "name with an end in it": ("bundle.name", with_entry("case.toml\0.exe")),
    "symlink": ("bundle.link", with_entry("scans/" + "0" * 64, stat.S_IFLNK | 0o777, b"/etc/passwd")),
    "device": ("bundle.link", with_entry("scans/" + "0" * 64, stat.S_IFCHR | 0o666)),
    "fifo": ("bundle.link", with_entry("scans/" + "0" * 64, stat.S_IFIFO | 0o666)),
    "twice": ("bundle.twice", with_entry("case.toml")),
    "unlisted": ("bundle.contents", with_entry("scans/" + "0" * 64)),
    "bomb": ("bundle.too_large", bomb),
    "sizes that lie": ("bundle.hash", lying_sizes),
    "overlapping": ("bundle.overlap", overlapping),
    "too many": ("bundle.too_many", many),
    "too many, says few": ("bundle.too_many", many_but_says_few),
    "password": ("bundle.locked", encrypted),
    "flipped bit": ("bundle.hash", flipped),
    "scan under another name": ("bundle.hash", one_scan_changed),
    "no zip": ("bundle.not_a_bundle", lambda _: b"code = 'A'"),
    "empty": ("bundle.not_a_bundle", lambda _: b""),
    "cut off": ("bundle.not_a_bundle", lambda p: packed(p)[:-40]),
    "zip of something": ("bundle.not_a_bundle", lambda p: packed({"case.toml": p["case.toml"]}, renew=False)),
    "newer": ("bundle.newer", with_manifest(bundle_version=99)),
    "newer case file": ("bundle.newer", with_manifest(schema_version=99)),
    "format": ("bundle.contents", with_manifest(format="something else")),
    "uid": ("bundle.contents", with_manifest(uid="../x")),
    "list without": ("bundle.contents", with_manifest(files=[])),
    "manifest is no json": ("bundle.contents", lambda p: packed({**p, "manifest.json": b"{"}, renew=False)),
    "deep": ("bundle.contents", lambda p: packed({**p, "states.jsonl": b"[" * 100_000 + b"\n"})),
    "case file another": ("bundle.contents", lambda p: packed({**p, "case.toml": b'code = "B"\n'})),
    "no revisions": ("bundle.contents", lambda p: packed({**p, "revisions.jsonl": b""})),
    "row cut off": (
        "bundle.too_large",
        lambda p: packed({**p, "revisions.jsonl": p["revisions.jsonl"][:-1]}),
    ),
    "text and hash": ("bundle.hash", with_row("revisions.jsonl", 1, text="x", text_sha256="0" * 64)),
    "parent": ("bundle.contents", with_row("revisions.jsonl", 2, parent=1)),
    "number": ("bundle.contents", with_row("revisions.jsonl", 2, number=7)),
    "number twice": ("bundle.contents", with_row("revisions.jsonl", 2, number=2)),
    "number falls": ("bundle.contents", with_row("revisions.jsonl", 2, number=1, parent=2)),
    "first is not 1": ("bundle.contents", with_row("revisions.jsonl", 0, number=3)),
    "first has a parent": ("bundle.contents", with_row("revisions.jsonl", 0, parent=1)),
    "huge number": ("bundle.contents", with_row("revisions.jsonl", 2, number=2**70)),
    "unknown entry": ("bundle.contents", with_row("revisions.jsonl", 2, more=1)),
    "time": ("bundle.contents", with_row("revisions.jsonl", 2, at="yesterday")),
    "half a character": ("bundle.contents", with_row("revisions.jsonl", 2, text="x", who="\ud800")),
    "file name up": ("store.file_name", with_row("revisions.jsonl", 0, files={"../x": "0" * 64})),
    "file not there": ("bundle.contents", with_row("revisions.jsonl", 0, files={"x": "0" * 64})),
    "newest is no case": ("bundle.contents", with_row("revisions.jsonl", 3, text="code = 1")),
    "acceptance of nothing": ("bundle.contents", with_row("accepted.jsonl", 0, number=9)),
    "huge seed": ("bundle.contents", with_row("accepted.jsonl", 0, seed=2**64)),
    "state": ("bundle.contents", with_row("states.jsonl", 0, state="lost")),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_bundles_change_nothing(name: str, bundle: Path, other: Store, tmp_path: Path) -> None:
    code, make = HOSTILE[name]
    file = tmp_path / "hostile.zip"
    file.write_bytes(make(parts_of(bundle)))
    outside = {path for path in tmp_path.rglob("*") if not path.is_relative_to(other.place.folder)}
    with pytest.raises(FaultError) as refused:
        other.import_bundle(file, "NN")
    assert [fault.code for fault in refused.value.faults] == [code], refused.value
    assert code in CODES
    with other.snapshot() as seen:
        assert seen.cases().cases == ()
    assert {p for p in tmp_path.rglob("*") if not p.is_relative_to(other.place.folder)} == outside
    assert list(other.scans.leftovers()) == []


def test_the_makers_of_hostile_bundles_are_awake(bundle: Path, other: Store, tmp_path: Path) -> None:
    """A bundle packed by these helpers without any fault is taken in, so each is refused for its own fault."""
    file = tmp_path / "good.zip"
    file.write_bytes(packed(parts_of(bundle)))
    case_id = other.import_bundle(file, "NN")
    with other.snapshot() as seen:
        assert len(seen.history(case_id)) == 4


def test_any_byte_changed_is_refused_or_harmless(bundle: Path, tmp_path: Path) -> None:
    """Bytes all over the file, one at a time: refused with faults of ours, or all comes back as it was."""
    good = bundle.read_bytes()
    with Store(tmp_path / "good") as store:
        case_id = store.import_bundle(bundle, "NN")
        with store.snapshot() as seen:
            wanted = seen.history(case_id)
    refusals = 0
    with Store(tmp_path / "many") as store:
        for at in range(0, len(good), max(1, len(good) // 150)):
            file = tmp_path / "changed.zip"
            file.write_bytes(good[:at] + bytes([good[at] ^ 0x21]) + good[at + 1 :])
            try:
                got = store.import_bundle(file, "NN")
            except FaultError as error:
                refusals += all(fault.code in CODES for fault in error.faults)
                continue
            with store.snapshot() as seen:
                assert [one.text for one in seen.history(got)] == [one.text for one in wanted], at
        assert store.check() == ()
    assert refusals > 100
