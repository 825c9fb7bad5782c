#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""`make deb` on a system that has Debian's own tools: its packages, unpacked into a folder, hold a program
that answers as the built one does and a library that pkg-config finds; lintian, where there is one,
finds no error."""
import glob
import os
import shutil
import subprocess
import sys

TOP = os.path.abspath(os.path.join(os.environ["VS_TESTS"], os.pardir))
SCENE = os.path.join(TOP, "data", "demo", "cellar.json")


def said(*command, **more):
    """What a command prints, whatever its exit status."""
    done = subprocess.run(command, capture_output=True, text=True, timeout=900, **more)
    return done.stdout + done.stderr


def packages():
    """The packages' paths, made without optimising: what is looked at is what they hold."""
    alone = {key: value for key, value in os.environ.items() if not key.startswith(("MAKE", "MFLAGS", "CFLAGS"))}
    alone["DEB_CFLAGS_APPEND"] = "-O0"
    told = said("make", "-s", "-C", TOP, "BUILD=" + os.path.abspath("deb"), "deb", env=alone)
    made = sorted(glob.glob("deb/deb/*.deb"))
    names = [os.path.basename(path).split("_")[0] for path in made]
    return made if names == ["libveilstop-dev", "libveilstop0", "veilstop"] else [told]


def faults():
    """What is wrong with the packages, a line each."""
    made = packages()
    if len(made) != 3:
        return made
    for path in made:
        subprocess.run(["dpkg-deb", "-x", path, "stage"], check=True)
    ask = ["predict", SCENE, "--shot", "1 wide"]
    if said("stage/usr/bin/veilstop", *ask) != said(os.environ["VS_PROGRAM"], *ask):
        return ["the packaged program answers otherwise"]
    place = glob.glob("stage/usr/lib/*/pkgconfig")
    found = said("pkg-config", "--modversion", "veilstop", env={**os.environ, "PKG_CONFIG_PATH": ":".join(place)})
    wrong = [] if found.startswith("0.") else ["pkg-config: " + found]
    if shutil.which("lintian"):
        wrong += [line for line in said("lintian", "--no-cfg", *made).splitlines() if line.startswith("E: ")]
    return wrong


def main():
    tools = shutil.which("dpkg-buildpackage") and shutil.which("dh") and os.path.exists(os.path.join(TOP, ".git"))
    wrong = faults() if tools else []
    for line in wrong:
        print("[  FAILED  ] " + line)
    print("[==========] 1 test(s) run." if tools else "not tried, no dpkg-buildpackage, dh or git here\n[==========] 1 test(s) run.")
    print(f"[  PASSED  ] {int(not wrong)} test(s).")
    sys.exit(bool(wrong))


main()
