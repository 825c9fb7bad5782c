#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Holds docs/physics.md against the sources. Under each heading a line names functions, the sources
that define them and the tests that check them: each source and test must exist, each function must
be defined in one of the sources and used in one of the tests. And what the sources quote as a
section of a page in docs must be a heading there, or a term in bold."""
import glob
import os
import re
import sys

TOP = os.path.dirname(os.path.abspath(os.environ["VS_TESTS"]))
HEADINGS_LEAST = 20
LINE = re.compile(r"^\*In\* (?P<names>(?:`[^`]+`(?:, )?)+): (?P<sources>.+?)\. \*Tests\*: (?P<tests>.+)\.$")


def paths_of(listed, folder):
    """The paths of a list such as "src/air/rooms.c, rooms_*.c; src/safety": a bare name is in the
    folder of the one before it, a folder stands for its sources."""
    for item in re.split(r"[;,] ", listed):
        item = item.split(": ")[-1]  # "a ray against a cone: src/..."
        if "/" in item:
            folder = item if os.path.isdir(item) else os.path.dirname(item)
        path = item if "/" in item else os.path.join(folder, item)
        yield item, sorted(glob.glob(path + "/*.c") if os.path.isdir(path) else glob.glob(path))


def text_of(lists):
    return "\n".join(open(path).read() for _, paths in lists for path in paths)


def faults_of_section(heading, text):
    line = next((LINE.match(row) for row in text.split("\n") if row.startswith("*In* ")), None)
    if not line:
        yield f"{heading}: has no line of functions, sources and tests"
        return
    sources = list(paths_of(line["sources"], ""))
    tests = list(paths_of(line["tests"], "tests/unit"))
    for item, paths in sources + tests:
        if not paths:
            yield f"{heading}: there is no {item}"
    defined, used = text_of(sources), text_of(tests)
    for name in re.findall(r"`([^`]+)`", line["names"]):
        word = re.escape(name).replace(r"\*", r"\w+")
        if not re.search(rf"^[^\s#/*].*\b{word}\(", defined, re.MULTILINE):
            yield f"{heading}: {name} is not defined in its sources"
        if not re.search(rf"\b{word}\(", used):
            yield f"{heading}: {name} is not used in its tests"


def faults_of_references():
    for path in sorted(glob.glob("src/**/*.[ch]", recursive=True) + glob.glob("include/**/*.h", recursive=True)):
        text = re.sub(r"\n\s*\*\s*", " ", open(path).read())
        for page, section in re.findall(r'docs/(\w+)\.md, "([^"]+)"', text):
            titles = re.findall(r"^#+ (.+)$|\*\*(.+?)[.:]?\*\*", open(f"docs/{page}.md").read(), re.MULTILINE)
            if not any(section.lower() in "".join(title).lower() for title in titles):
                yield f'{path}: docs/{page}.md has no section "{section}"'


def main():
    os.chdir(TOP)
    sections = re.findall(r"^## (.+)\n((?:(?!## ).*\n?)*)", open("docs/physics.md").read(), re.MULTILINE)
    tests = [list(faults_of_section(heading, text)) for heading, text in sections]
    few = len(sections) < HEADINGS_LEAST
    tests.append([f"{len(sections)} headings, at least {HEADINGS_LEAST} are expected"] if few else [])
    tests.append(list(faults_of_references()))
    print(f"[==========] Running {len(tests)} test(s).")
    for fault in sum(tests, []):
        print(f"[  FAILED  ] docs/physics.md: {fault}")
    good = sum(not faults for faults in tests)
    print(f"[==========] {len(tests)} test(s) run.")
    print(f"[  PASSED  ] {good} test(s).")
    sys.exit(good != len(tests))


main()
