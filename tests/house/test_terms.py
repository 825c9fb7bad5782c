#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Holds docs/architecture.md against the sources: what it names is there, and each term of its last
table is found by one search, in the head of the file that the table gives. The files that
docs/words.md names are there too."""
import os
import re
import sys

TOP = os.path.dirname(os.path.abspath(os.environ["VS_TESTS"]))
TERMS_LEAST = 20
HEAD_LINES = 12  # of a file: its first comment


def files_of(*folders):
    return [os.path.join(d, f) for folder in folders for d, _, names in os.walk(folder) for f in names]


def faults_of_terms(page):
    rows = re.findall(r"^\| ([^|]+) \| `((?:src|include)/[^`]+)` \|$", page, re.MULTILINE)
    if len(rows) < TERMS_LEAST:
        yield f"{len(rows)} terms, at least {TERMS_LEAST} are wanted"
    for term, path in rows:
        if not os.path.exists(path):
            yield f"{term}: there is no {path}"
        elif not any(term.lower() in line.lower() for line in open(path).readlines()[:HEAD_LINES]):
            yield f"{term}: not in the head of {path}, on one line"


def faults_of_names(page):
    sources = "\n".join(open(f).read() for f in files_of("src", "include") if f.endswith((".c", ".h")))
    for name in sorted(set(re.findall(r"`(vs_\w+)`", page))):
        if not re.search(rf"\b{name}\b", sources):
            yield f"there is no {name}"
    for path in sorted(set(re.findall(r"`((?:src|include|tests|docs|[.]ci)/[\w./-]+)`", page))):
        if not os.path.exists(path):
            yield f"there is no {path}"


def faults_of_drawing(page):
    """Every room of .ci/layers is drawn, by its last word."""
    drawn = page.split("```")[1]
    for room in re.findall(r"^room ([\w/]+):", open(".ci/layers").read(), re.MULTILINE):
        if not re.search(rf"\b{room.split('/')[-1]}\b", drawn):
            yield f"{room} is not drawn"


def faults_of_words(_):
    """Paths of docs/words.md are from the top, or from include/veilstop."""
    for path in sorted(set(re.findall(r"`([a-z_]+/[\w./-]+)`", open("docs/words.md").read()))):
        if not os.path.exists(path) and not os.path.exists("include/veilstop/" + path):
            yield f"docs/words.md: there is no {path}"


def main():
    os.chdir(TOP)
    page = open("docs/architecture.md").read()
    tests = [faults_of_terms, faults_of_names, faults_of_drawing, faults_of_words]
    print(f"[==========] Running {len(tests)} test(s).")
    good = 0
    for test in tests:
        faults = list(test(page))
        good += not faults
        for fault in faults:
            print(f"[  FAILED  ] docs/architecture.md: {fault}")
    print(f"[==========] {len(tests)} test(s) run.")
    print(f"[  PASSED  ] {good} test(s).")
    sys.exit(good != len(tests))


main()
