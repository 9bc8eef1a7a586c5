"""The command line as a process of its own: a stop, a closed pipe, a terminal, an old terminal's letters."""

from __future__ import annotations

import json
import os
import pty
import re
import select
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from mountproof.surfaces.cli.status import CLOSED_PIPE, STOPPED
from surfaces.cli_bench import bench_case, prints, scan_case

PROGRAM = [sys.executable, "-c", "from mountproof.surfaces.cli import main; main()"]
#: A program that is stopped while it maps the gap: the answer waits there until the stop has come.
SLOW = [
    sys.executable,
    "-c",
    "import sys, time\n"
    "import mountproof.answers.pin as pin\n"
    "def wait(case, progress):\n"
    "    for k in range(200):\n"
    "        progress(k / 200, 'waiting to be stopped')\n"
    "        time.sleep(0.1)\n"
    "pin.answer = wait\n"
    "from mountproof.surfaces.cli import main; main()",
]


def env(**more: str) -> dict[str, str]:
    kept = {
        k: v for k, v in os.environ.items() if k not in ("NO_COLOR", "FORCE_COLOR", "COLUMNS", "PYTHONUTF8")
    }
    return {**kept, **more}


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return bench_case(tmp_path_factory.mktemp("process") / "bench")


@pytest.mark.parametrize("command", [("answer",), ("answer", "--json"), ("report",)], ids=" ".join)
def test_a_stop_gives_130_says_so_and_leaves_nothing(tmp_path: Path, command: tuple[str, ...]) -> None:
    folder = bench_case(tmp_path / "c")
    before = prints(tmp_path)
    running = subprocess.Popen(
        [*SLOW, command[0], str(folder), *command[1:]],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=env(),
    )
    assert running.stderr is not None
    first = running.stderr.readline()
    assert "waiting to be stopped" in first and "%" in first
    running.send_signal(signal.SIGINT)
    out, err = running.communicate(timeout=20)
    assert running.returncode == STOPPED == 130
    assert not out and err.endswith("Stopped. Your files are as they were.\n")
    assert "Traceback" not in err
    assert prints(tmp_path) == before


def _complaints(err: str) -> list[str]:
    """Lines on standard error that are no progress: on a slow machine the answers take more than a second."""
    return [line for line in err.splitlines() if line.strip() and not re.match(r" *\d+%  \S", line)]


def test_a_closed_pipe_ends_quietly(bench: Path) -> None:
    for words in (["answer", str(bench)], ["answer", str(bench), "--json"]):
        read, write = os.pipe()
        os.close(read)
        done = subprocess.run([*PROGRAM, *words], stdout=write, stderr=subprocess.PIPE, text=True, env=env())
        os.close(write)
        assert done.returncode == CLOSED_PIPE and not _complaints(done.stderr), done.stderr
    head = subprocess.run(
        f"{subprocess.list2cmdline(PROGRAM[:1])} -c '{PROGRAM[2]}' answer {bench} --json | head -c 40",
        shell=True,
        capture_output=True,
        text=True,
        env=env(),
    )
    assert head.stdout.startswith('{\n  "format"') and not _complaints(head.stderr)


def test_an_ascii_terminal_gets_every_text_whole(bench: Path) -> None:
    for words in (
        ["answer", str(bench)],
        ["answer", str(bench), "mounting"],
        ["answer", str(bench / "nowhere")],
    ):
        done = subprocess.run(
            [*PROGRAM, *words], capture_output=True, env=env(PYTHONIOENCODING="ascii", LC_ALL="C", LANG="C")
        )
        text = (done.stdout + done.stderr).decode("utf-8")
        assert done.returncode in (2, 3) and "Traceback" not in text and "UnicodeEncodeError" not in text


def test_no_traceback_for_a_fault_of_our_own(bench: Path) -> None:
    broken = PROGRAM[2].replace("from", "import mountproof.answers.pin as p; p.answer = None; from", 1)
    done = subprocess.run(
        [sys.executable, "-c", broken, "answer", str(bench)], capture_output=True, text=True, env=env()
    )
    assert done.returncode == 70
    assert "The program itself went wrong here (TypeError" in done.stderr and "Traceback" not in done.stderr
    told = subprocess.run(
        [sys.executable, "-c", broken, "answer", str(bench)],
        capture_output=True,
        text=True,
        env=env(MOUNTPROOF_TRACEBACK="1"),
    )
    assert "Traceback" in told.stderr


def test_words_the_program_does_not_know(bench: Path) -> None:
    for words in (["answr", str(bench)], ["answer"], ["answer", str(bench), "--colour"], ["new"]):
        done = subprocess.run([*PROGRAM, *words], capture_output=True, text=True, env=env())
        assert done.returncode == 2 and not done.stdout
        assert "Usage: mountproof" in done.stderr and "Traceback" not in done.stderr


def in_terminal(words: list[str], columns: int, **more: str) -> str:
    """What a terminal of so many columns receives."""
    main, end = pty.openpty()
    running = subprocess.Popen(
        [*PROGRAM, *words],
        stdin=end,
        stdout=end,
        stderr=end,
        env=env(**{"TERM": "xterm-256color", "COLUMNS": str(columns), **more}),
        close_fds=True,
    )
    os.close(end)
    got = b""
    start = time.monotonic()
    while time.monotonic() - start < 60:
        ready, _, _ = select.select([main], [], [], 0.5)
        if ready:
            try:
                part = os.read(main, 65536)
            except OSError:
                break
            if not part:
                break
            got += part
        elif running.poll() is not None:
            break
    running.wait(10)
    os.close(main)
    return got.decode()


def _without_progress(shown: str) -> str:
    """What is left on a terminal: a slow machine draws a bar, and wipes it with spaces before the answer is written."""
    return re.sub(r"(\r[━╌][^\r\n]*)+\r *\r", "", shown)


def test_a_terminal_gets_bold_letters_but_no_colour_and_nothing_where_none_are_wanted(bench: Path) -> None:
    shown = in_terminal(["answer", str(bench)], 80)
    assert "\x1b[1m" in shown
    # Only bold and faint: colour carries nothing here.
    assert set(re.findall(r"\x1b\[([\d;]*)m", shown)) <= {"0", "1", "2", "1;2"}
    plain = in_terminal(["answer", str(bench)], 80, TERM="dumb")
    assert "\x1b" not in plain
    quiet = in_terminal(["answer", str(bench)], 80, NO_COLOR="1")
    assert not re.search(r"\x1b\[(3|4|9|10)\d", quiet)
    bare = _without_progress(re.sub(r"\x1b\[[\d;]*m", "", shown).replace("\r\n", "\n"))
    piped = subprocess.run(
        [*PROGRAM, "answer", str(bench)], capture_output=True, text=True, env=env(COLUMNS="80")
    )
    assert bare == piped.stdout


def test_progress_of_long_work_is_wiped_from_a_terminal(tmp_path: Path) -> None:
    main, end = pty.openpty()
    running = subprocess.Popen(
        [*SLOW, "answer", str(bench_case(tmp_path / "c"))], stdout=subprocess.PIPE, stderr=end, env=env()
    )
    os.close(end)
    got = b""
    while b"waiting to be stopped" not in got:
        got += os.read(main, 4096)
    running.send_signal(signal.SIGINT)
    running.communicate(timeout=20)
    while select.select([main], [], [], 0.2)[0]:
        try:
            got += os.read(main, 4096)
        except OSError:
            break
    os.close(main)
    text = got.decode()
    assert running.returncode == STOPPED
    bar, _, rest = text.rpartition("\r" + " " * 20)
    assert "━" in bar or "╌" in bar
    assert rest.strip().replace("\r", "").endswith("Stopped. Your files are as they were.")


def test_the_same_case_gives_the_same_bytes(bench: Path, tmp_path: Path) -> None:
    scans = scan_case(tmp_path / "c")
    for folder in (bench, scans):
        one, two = (
            subprocess.run([*PROGRAM, "answer", str(folder), "--json"], capture_output=True, env=env()).stdout
            for _ in range(2)
        )
        assert one == two and json.loads(one)["format"] == 1
