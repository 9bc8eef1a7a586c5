"""Which line of a TOML text holds which entry. It only looks for places; reading values is tomllib's work.

It goes through the text once, never recurses, and never refuses: where the text is no TOML it goes on with the
next line, so that places are known in a file with mistakes too.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from dataclasses import dataclass, field

Path = tuple[str | int, ...]

#: Nothing in a case file stands deeper than this; a text that does is not gone through.
DEEPEST = 40

_KEY_PART = re.compile(r"""[ \t]*(?:([A-Za-z0-9_-]+)|"((?:[^"\\\n]|\\.)*)"|'([^'\n]*)')[ \t]*""")
_BLANK = re.compile(r"(?:[ \t\r\n]+|#[^\n]*)+")
_STRING = re.compile(r'"(?:[^"\\\n]|\\.)*"|' + r"'[^'\n]*'")
_LONG = {
    '"': re.compile(r'(?:[^"\\]++|\\.|"(?!""))*+"""', re.DOTALL),
    "'": re.compile(r"(?:[^']++|'(?!''))*+'''"),
}
_SPACE = re.compile(r"[ \t]*")
_BARE = re.compile(r"[^\s,\]}#\"'\[{]+")
_ESCAPE = re.compile(r"\\u([0-9A-Fa-f]{4})|\\U([0-9A-Fa-f]{8})|\\(.)", re.DOTALL)
_ESCAPED = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r"}


@dataclass(slots=True)
class Places:
    """Lines, counted from 1, by the path of the entry.

    ``texts`` holds, for text over several lines, the line on which its first line stands; ``headings`` the line
    of every [heading] with its path. ``deepest`` is the depth of the deepest entry; the search stops at
    ``DEEPEST``.
    """

    lines: dict[Path, int] = field(default_factory=dict)
    texts: dict[Path, int] = field(default_factory=dict)
    headings: list[tuple[int, Path]] = field(default_factory=list)
    deepest: int = 0

    def line(self, path: Path) -> int | None:
        """Return the line of the entry, or of the nearest part around it that stands in the file."""
        while path:
            if path in self.lines:
                return self.lines[path]
            path = path[:-1]
        return None


def _unescaped(text: str) -> str:
    def one(match: re.Match[str]) -> str:
        code = match.group(1) or match.group(2)
        if code:
            number = int(code, 16)
            return chr(number) if number < 0x110000 else "?"
        return _ESCAPED.get(match.group(3), match.group(3))

    return _ESCAPE.sub(one, text) if "\\" in text else text


class _Scan:
    """One pass over a text."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.places = Places()
        self.starts = [0, *(m.end() for m in re.finditer("\n", text))]
        self.counts: dict[Path, int] = {}
        self.table: Path = ()

    def line_of(self, at: int) -> int:
        return bisect_right(self.starts, at)

    def note(self, path: Path, at: int) -> bool:
        """Remember where ``path`` stands; False when it is deeper than anything in a case."""
        self.places.deepest = max(self.places.deepest, len(path))
        if len(path) > DEEPEST:
            return False
        self.places.lines.setdefault(path, self.line_of(at))
        return True

    def skip_blank(self) -> None:
        match = _BLANK.match(self.text, self.at)
        if match:
            self.at = match.end()

    def skip_line(self) -> None:
        end = self.text.find("\n", self.at)
        self.at = len(self.text) if end < 0 else end + 1

    def key(self) -> tuple[str, ...]:
        """Read a key, dotted or not; empty when there is none here. Stops after DEEPEST + 1 parts."""
        parts: list[str] = []
        while match := _KEY_PART.match(self.text, self.at):
            bare, quoted, literal = match.groups()
            parts.append(bare or (_unescaped(quoted) if quoted is not None else literal or ""))
            self.at = match.end()
            if not self.text.startswith(".", self.at):
                break
            self.at += 1
            if len(parts) > DEEPEST:
                break
        return tuple(parts)

    def heading(self) -> None:
        start, many = self.at, self.text.startswith("[[", self.at)
        self.at += 2 if many else 1
        path: Path = ()
        parts = self.key()
        for index, part in enumerate(parts, start=1):
            path = (*path, part)
            last = index == len(parts)
            if many and last:
                self.note(path, start)
                self.counts[path] = self.counts.get(path, -1) + 1
            if path in self.counts:
                path = (*path, self.counts[path])
            if not self.note(path, start):
                break
        self.table = path
        self.places.headings.append((self.line_of(start), path))
        self.skip_line()

    def assignment(self, base: Path) -> Path | None:
        """Read ``key =``; return its path, or None when it is not there."""
        start = self.at
        path = base
        for part in self.key():
            path = (*path, part)
            if not self.note(path, start):
                return None
        if path == base or not self.text.startswith("=", self.at):
            return None
        self.at += 1
        return path

    def string(self, path: Path) -> bool:
        """Pass over a string; False when it does not end."""
        text, start = self.text, self.at
        quote = text[start]
        if not text.startswith(quote * 3, start):
            match = _STRING.match(text, start)
            if match:
                self.at = match.end()
            return match is not None
        body = start + 3
        first = (
            body + 1 if text.startswith("\n", body) else body + 2 if text.startswith("\r\n", body) else body
        )
        self.places.texts[path] = self.line_of(first)
        match = _LONG[quote].match(text, body)
        if not match:
            self.at = len(text)
            return False
        self.at = match.end()
        for _ in range(2):
            self.at += text.startswith(quote, self.at)
        return True

    def value(self, path: Path) -> None:
        """Pass over the value of ``path``, with everything inside it."""
        stack: list[tuple[Path, list[int] | None]] = []  # open lists carry their count, open tables None
        expects_key = False
        while True:
            if stack:
                self.skip_blank()
            else:
                match = _SPACE.match(self.text, self.at)
                self.at = match.end() if match else self.at
            if self.at >= len(self.text):
                return
            mark = self.text[self.at]
            if stack and mark in "]},":
                if not self.after(stack, mark):
                    return
                if not stack:
                    return
                expects_key = mark == "," and stack[-1][1] is None
                continue
            if expects_key:
                inner = self.assignment(stack[-1][0])
                if inner is None:
                    return
                path, expects_key = inner, False
                continue
            if stack and stack[-1][1] is not None:
                path = (*stack[-1][0], stack[-1][1][0])
                if not self.note(path, self.at):
                    return
            if mark in "[{":
                self.at += 1
                stack.append((path, [0] if mark == "[" else None))
                expects_key = mark == "{"
                if len(stack) > DEEPEST:
                    self.places.deepest = DEEPEST + 1
                    return
            elif mark in "\"'":
                if not self.string(path):
                    return
                if not stack:
                    return
            else:
                match = _BARE.match(self.text, self.at)
                if not match:
                    return
                self.at = match.end()
                if not stack:
                    return

    def after(self, stack: list[tuple[Path, list[int] | None]], mark: str) -> bool:
        """Pass over ``]``, ``}`` or a comma; False when it closes nothing."""
        count = stack[-1][1]
        self.at += 1
        if mark == ",":
            if count is not None:
                count[0] += 1
            return True
        if (mark == "]") != (count is not None):
            return False
        stack.pop()
        return True


def locate(text: str) -> Places:
    """Return the lines of all entries of a TOML text, as far as it can be understood."""
    scan = _Scan(text)
    while scan.places.deepest <= DEEPEST:
        scan.skip_blank()
        if scan.at >= len(text):
            break
        if text[scan.at] == "[":
            scan.heading()
            continue
        path = scan.assignment(scan.table)
        if path is not None:
            scan.value(path)
        scan.skip_line()
    return scan.places
