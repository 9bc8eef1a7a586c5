"""The wheel as somebody would install it: the page is inside, and it is what the server serves."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PAGE = "mountproof/surfaces/web/page"

#: Run in the installed copy: where the program comes from, and what a browser gets.
ASK = """
import json, sys, tempfile
from pathlib import Path
import anyio, httpx, mountproof
from mountproof.surfaces.web.app import create_app

async def main():
    app = create_app(Path(tempfile.mkdtemp()))
    carrier = httpx.ASGITransport(app=app, client=("127.0.0.1", 50000))
    async with httpx.AsyncClient(transport=carrier, base_url="http://127.0.0.1:47810") as client:
        page = await client.get("/")
        parts = {name: await client.get(name) for name in sys.argv[1:]}
    told = {name: [got.status_code, got.headers["content-type"], len(got.content)] for name, got in parts.items()}
    print(json.dumps({"from": mountproof.__file__, "page": page.text, "headers": dict(page.headers), "parts": told}))

anyio.run(main)
"""


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    assert (ROOT / "src" / PAGE / "index.html").exists(), "the page is not built: make page"
    folder = tmp_path_factory.mktemp("wheel")
    made = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    subprocess.run(made, cwd=ROOT, check=True, capture_output=True)
    (found,) = folder.glob("*.whl")
    return found


def test_the_page_is_in_the_wheel_and_nothing_of_its_making(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as zipped:
        names = zipped.namelist()
    inside = [name for name in names if name.startswith(f"{PAGE}/")]
    built = [path for path in (ROOT / "src" / PAGE).rglob("*") if path.is_file()]
    assert sorted(inside) == sorted(str(path.relative_to(ROOT / "src")) for path in built)
    assert any(name.endswith(".js") for name in inside)
    assert not [name for name in names if "node_modules" in name or name.startswith("web/") or ".map" in name]


def test_an_installed_wheel_serves_its_own_page(wheel: Path, tmp_path: Path) -> None:
    """Installed without its libraries, which are those of this environment; nothing is fetched."""
    uv = Path(sys.executable).with_name("uv")
    into = ["pip", "install", "-q", "--offline", "--no-deps", "--target", str(tmp_path / "site"), str(wheel)]
    subprocess.run([str(uv), *into], check=True, capture_output=True, cwd=tmp_path)
    page = (ROOT / "src" / PAGE / "index.html").read_text(encoding="utf-8")
    assets = [f"/assets/{path.name}" for path in (tmp_path / "site" / PAGE / "assets").iterdir()]
    asked = subprocess.run(
        [sys.executable, "-P", "-c", ASK, *assets],
        env={**os.environ, "PYTHONPATH": str(tmp_path / "site")},
        cwd=tmp_path, check=True, capture_output=True, text=True,
    )  # fmt: skip
    told = json.loads(asked.stdout)
    assert Path(told["from"]).is_relative_to(tmp_path)
    assert told["page"] == page
    assert "'unsafe" not in told["headers"]["content-security-policy"]
    assert len(told["parts"]) == len(assets) > 5
    for name, (status, kind, size) in told["parts"].items():
        assert (status, size > 0) == (200, True), name
        assert kind.startswith("text/javascript" if name.endswith(".js") else "text/css"), name


def test_a_wheel_without_the_page_is_refused(tmp_path: Path) -> None:
    for part in ("pyproject.toml", "README.md", "tools/page_hook.py", "src/mountproof/version.py"):
        copy = tmp_path / part
        copy.parent.mkdir(parents=True, exist_ok=True)
        copy.write_bytes((ROOT / part).read_bytes())
    (tmp_path / "src" / "mountproof" / "__init__.py").touch()
    made = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path / "out")]
    refused = subprocess.run(made, cwd=tmp_path, capture_output=True, text=True)
    assert refused.returncode != 0
    assert "make page" in refused.stderr
