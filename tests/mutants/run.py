#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Runs tests on slightly wrong programs: each edit of mutants.txt must turn one of its tests red.

Usage: run.py [--list FILE] [--only WORD]

Each edit is made alone, in a scratch copy of the tree with what is built already; only the tests
that it names are built and run, one after the other until one fails. A test that fails without an
edit proves nothing, so all of them are run on the untouched copy first.
"""
import os
import re
import shutil
import subprocess
import sys
import tempfile

HERE = os.path.dirname(os.path.abspath(__file__))
TOP = os.path.dirname(os.path.dirname(HERE))
OUT = "build/release"
MAKE = ["make", "--no-print-directory", f"-j{os.cpu_count()}"]
SECONDS_MAX = 900  # of one test: an edit that makes it run for ever is noticed too


def read_list(path):
    """Edits as (why, file, from, to, tests); the form is told at the head of the list."""
    edits = []
    for block in re.split(r"\n\s*\n", open(path).read()):
        lines = [line for line in block.splitlines() if not line.startswith("#")]
        if not lines:
            continue
        if len(lines) != 5:
            sys.exit(f"{path}: five lines an edit, but:\n{block}")
        why, file, old, new, tests = lines
        edits.append((why, file, old[2:], new[2:], tests.split()))
    return edits


def build(tests):
    """Builds tests and, where one runs it, the program; what went wrong, or nothing."""
    wanted = [f"{OUT}/tests/{t}" for t in tests]
    if any(t.startswith(("cli/", "outside/", "fault/")) for t in tests):
        wanted.append(f"{OUT}/veilstop")
    done = subprocess.run([*MAKE, *wanted], capture_output=True, text=True)
    return done.stderr if done.returncode else ""


def fails(test):
    environment = dict(os.environ, VS_TESTS=os.path.abspath("tests"), VS_PROGRAM=os.path.abspath(f"{OUT}/veilstop"))
    with tempfile.TemporaryDirectory(dir=".") as work:
        try:
            done = subprocess.run([os.path.abspath(f"{OUT}/tests/{test}")], cwd=work, env=environment,
                                  stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, timeout=SECONDS_MAX)
        except subprocess.TimeoutExpired:
            return True
    return done.returncode != 0


def try_edit(file, old, new, tests):
    """The test that notices; None where none does. A text that says why the edit cannot be made."""
    text = open(file).read()
    if text.count(old) != 1:
        return None, f"stands {text.count(old)} times in {file}, must stand once: {old}"
    with open(file, "w") as out:
        out.write(text.replace(old, new))
    wrong = build(tests)
    noticed = None if wrong else next((t for t in tests if fails(t)), None)
    with open(file, "w") as out:
        out.write(text)
    return noticed, wrong and f"does not compile:\n{wrong}"


def main():
    options = dict(zip(sys.argv[1::2], sys.argv[2::2]))
    path = os.path.join(HERE, options.get("--list", "mutants.txt"))
    edits = [e for e in read_list(path) if options.get("--only", "") in " ".join(map(str, e))]
    if not edits:
        sys.exit(f"{path}: no such edit")
    scratch = tempfile.mkdtemp()
    try:
        for name in ("Makefile", ".ci", "include", "src", "tests", "data", "docs", "README.md", OUT):
            source, target = os.path.join(TOP, name), os.path.join(scratch, name)
            if os.path.isdir(source):
                shutil.copytree(source, target)  # keeps times: what is built stays built
            elif os.path.exists(source):
                shutil.copy2(source, target)
        os.chdir(scratch)
        tests = sorted({t for e in edits for t in e[4]})
        wrong = build(tests)
        red = [] if wrong else [t for t in tests if fails(t)]
        if wrong or red:
            sys.exit(f"the tests must pass before an edit is made: {wrong or ', '.join(red)}")
        caught = 0
        for why, file, old, new, named in edits:
            noticed, wrong = try_edit(file, old, new, named)
            caught += bool(noticed)
            print(f"{'caught by ' + noticed if noticed else 'NOT CAUGHT'}: {file}: {why}"
                  f"{': ' + wrong if wrong else ''}", flush=True)
        print(f"{caught} of {len(edits)} mutants caught")
        sys.exit(caught != len(edits))
    finally:
        os.chdir(TOP)
        shutil.rmtree(scratch)


main()
