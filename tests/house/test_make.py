#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""`make -n` tells what a target would do and does nothing: a line that names $(MAKE) runs all the same,
so those that run tests must hold back by themselves."""
import os
import re
import subprocess
import sys

TOP = os.path.join(os.environ["VS_TESTS"], os.pardir)
TARGETS = ["check", "ci", "sanitized", "valgrind", "coverage"]


def holds_back(target):
    """Whether `make -n` of a target names run-tests and no test has run."""
    alone = {key: value for key, value in os.environ.items() if not key.startswith(("MAKE", "MFLAGS"))}
    said = subprocess.run(["make", "-n", target], cwd=TOP, env=alone, capture_output=True, text=True, timeout=300)
    ran = re.search(r"^\d+ passed, \d+ failed|^ *\d+ tests  ", said.stdout, re.M)
    if said.returncode or ran or "run-tests" not in said.stdout:
        print(f"[  FAILED  ] make -n {target}: {said.stderr[-500:] or ran or 'names no tests'}")
        return False
    return True


def main():
    good = sum(map(holds_back, TARGETS))
    print(f"[==========] {len(TARGETS)} test(s) run.")
    print(f"[  PASSED  ] {good} test(s).")
    sys.exit(good != len(TARGETS))


main()
