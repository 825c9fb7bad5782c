#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The checks of the house themselves: each violation planted into a small tree must be found, and
the tree without one must pass. Every room of .ci/layers has a source in the tree."""
import os
import re
import shutil
import subprocess
import sys
import tempfile

HOUSE = os.path.abspath(os.path.join(os.environ["VS_TESTS"], os.pardir, ".ci"))
LICENCE = "/* SPDX-License-Identifier: GPL-3.0-or-later */\n"
FLAGS = "-std=c11 -D_POSIX_C_SOURCE=200809L -Iinclude -Isrc -O1".split()

# What is planted, the source it goes into, and words of the complaint. Names of sources stand for
# those of the tree below: the room's last word.
PLANTED = [
    ("a relative include", "src/optics/optics.c", '#include "../shot/shot.h"\n', "must not include src/shot/shot.h"),
    ("angle brackets", "src/air/air.c", "#include <shot/shot.h>\n", "must not include src/shot/shot.h"),
    ("a blank after the #", "src/camera/camera.c", '# include "shot/shot.h"\n', "must not include src/shot/shot.h"),
    ("a macro for a name", "src/safety/safety.c", '#define UP "shot/shot.h"\n#include UP\n', "must not include src/shot/shot.h"),
    ("veilstop.h within the library", "src/shot/shot.c", '#include "veilstop/veilstop.h"\n', "is for the library's users"),
    ("an indented <stdio.h>", "src/light/bounce/bounce.c", "    #include <stdio.h>\n", "must not include <stdio.h>"),
    ("GSL outside base", "src/light/lamps/lamps.c", "#include <gsl/gsl_math.h>\n", "must not include <gsl/"),
    ("a room over its own", "src/light/lamps/lamps.c", '#include "light/bounce/bounce.h"\n', "must not include src/light/bounce/bounce.h"),
    ("a room beside its own", "src/light/walks/walks.c", '#include "light/bounce/bounce.h"\n', "must not include src/light/bounce/bounce.h"),
    ("a floor beside its own", "src/air/air.c", '#include "camera/camera.h"\n', "must not include src/camera/camera.h"),
    ("headers in a circle", "src/shot/choose/choose.h", '#include "shot/choose/more.h"\n', "which includes it"),
    ("fprintf below cli", "src/report/report.c", '#include <stdio.h>\nvoid plant(void);\nvoid plant(void) { fprintf(stderr, "x%d", 1); }\n', "must not call f"),
    ("printf by another name", "src/scene/scene.c", '#include <stdio.h>\n#define say printf\nvoid plant(void);\nvoid plant(void) { say("x\\n"); }\n', "must not call puts()"),
    ("a call behind a declaration of one's own", "src/optics/optics.c", "int shot(void);\nint plant(void);\nint plant(void) { return shot(); }\n", "must not use shot of shot/shot"),
    ("exit", "src/air/air.c", "#include <stdlib.h>\nvoid plant(void);\nvoid plant(void) { exit(1); }\n", "must not call exit()"),
    ("assert", "src/air/air.c", "#include <assert.h>\nvoid plant(int x);\nvoid plant(int x) { assert(x); }\n", "must not call __assert_fail()"),
    ("a thread", "src/shot/day/day.c", "#include <pthread.h>\nint plant(pthread_t *t);\nint plant(pthread_t *t) { return pthread_join(*t, 0); }\n", "must not call pthread_join()"),
    ("the environment", "src/scene/parts/parts.c", '#include <stdlib.h>\nchar *plant(void);\nchar *plant(void) { return getenv("X"); }\n', "must not call getenv()"),
    ("a file", "src/picture/picture.c", "#include <stdio.h>\nFILE *plant(void);\nFILE *plant(void) { return fopen(\"x\", \"r\"); }\n", "must not call fopen()"),
    ("the clock", "src/shot/shot.c", "#include <time.h>\nlong plant(void);\nlong plant(void) { return time(0); }\n", "must not call time()"),
    ("a file's variable", "src/optics/optics.c", "static int kept;\nint plant(void);\nint plant(void) { return ++kept; }\n", "keeps kept in writable memory"),
    ("a function's variable", "src/report/forms/forms.c", "int plant(void);\nint plant(void) { static int kept = 3; return ++kept; }\n", "keeps kept"),
    ("a thread's variable", "src/base/base.c", "static _Thread_local int kept;\nint plant(void);\nint plant(void) { return ++kept; }\n", "keeps kept"),
    ("a folder without a row", "src/shot/new/new.c", LICENCE, "has no row in .ci/layers"),
    ("calls in a circle", "src/shot/choose/more.c", "int choose(void);\nint more(void);\nint more(void) { return choose(); }\n", "calls in a circle: shot/choose/choose, shot/choose/more"),
    ("a comment line without its star", "src/air/air.c", "/* One line\n   and another. */\n", "begins with ` *`"),
    ("a data sheet run together", "include/veilstop/base/base.h", "/** Gives x.\n *  x  1 to 2 Errors: none. */\n", "begins a line of its own"),
    ("no licence", "src/base/bare.c", "int bare;\n", "must say SPDX"),
]


def write(path, text):
    os.makedirs(os.path.dirname(path), exist_ok=True)
    with open(path, "w") as file:
        file.write(text)


def plant_rooms():
    """A source and a header a room; shot/choose has two sources, one of which calls the other."""
    for line in open(os.path.join(HOUSE, "layers")):
        found = re.match(r"room ([a-z/]+):", line)
        if found:
            room = found.group(1)
            name = room.split("/")[-1]
            guard = f"#ifndef H_{name}\n#define H_{name}\nint {name}(void);\n#endif\n"
            write(f"src/{room}/{name}.h", LICENCE + guard)
            write(f"src/{room}/{name}.c", LICENCE + f'#include "{room}/{name}.h"\nint {name}(void) {{ return 1; }}\n')
    write("src/shot/choose/more.h", LICENCE + '#ifndef H_more\n#define H_more\n#include "shot/choose/choose.h"\nint more(void);\n#endif\n')
    write("src/shot/choose/more.c", LICENCE + '#include "shot/choose/more.h"\nint more(void) { return 2; }\n')
    write("src/shot/choose/choose.c", LICENCE + '#include "shot/choose/choose.h"\n#include "shot/choose/more.h"\nint choose(void) { return more(); }\n')
    write("include/veilstop/veilstop.h", LICENCE)
    write("include/veilstop/base/base.h", LICENCE)
    shutil.copytree(HOUSE, ".ci")


def listed(ending):
    return sorted(os.path.join(d, f) for top in ("src", "include") for d, _, fs in os.walk(top) for f in fs if f.endswith(ending))


def compile_one(source):
    target = "build/" + source[:-2] + ".o"
    os.makedirs(os.path.dirname(target), exist_ok=True)
    subprocess.run(["gcc", *FLAGS, "-MD", "-MP", "-c", "-o", target, source], check=True)
    return target


def read_headers():
    with open("build/headers.d", "w") as out:
        subprocess.run(["gcc", *FLAGS, "-M", *listed(".h")], check=True, stdout=out)


def complaints(objects):
    files = listed(".c") + listed(".h")
    runs = [[".ci/check-layers", "build/headers.d", *objects], [".ci/check-text", *files]]
    done = [subprocess.run(run, capture_output=True, text=True) for run in runs]
    return any(d.returncode for d in done), "".join(d.stderr for d in done)


def finds(objects, source, text, words):
    """Plants a text, looks, takes it out again."""
    before = open(source).read() if os.path.exists(source) else None
    write(source, text if before is None or source.endswith("more.c") else before + text)
    with_it = set(objects)
    if source.endswith(".c"):
        with_it.add(compile_one(source))
    else:
        read_headers()
    failed, said = complaints(sorted(with_it))
    if before is None:
        os.remove(source)
    else:
        write(source, before)
    if source.endswith(".h"):
        read_headers()
    elif before is not None:
        compile_one(source)
    if not failed or words not in said or source[:-2].split("/", 1)[1].split("veilstop/")[-1] not in said:
        print(f"[  ERROR   ] not found; said: {said or 'nothing'}")
        return False
    return True


def run():
    """How many tests passed."""
    plant_rooms()
    objects = [compile_one(source) for source in listed(".c")]
    read_headers()
    print(f"[==========] Running {len(PLANTED) + 1} test(s).")
    failed, said = complaints(objects)
    good = int(not failed)
    if failed:
        print(f"[  FAILED  ] the tree without a violation\n{said}")
    for name, source, text, words in PLANTED:
        found = finds(objects, source, text, words)
        good += found
        if not found:
            print(f"[  FAILED  ] {name} in {source}")
    print(f"[==========] {len(PLANTED) + 1} test(s) run.")
    print(f"[  PASSED  ] {good} test(s).")
    return good


def main():
    with tempfile.TemporaryDirectory() as scratch:
        os.chdir(scratch)
        good = run()
        os.chdir(os.sep)
    sys.exit(good != len(PLANTED) + 1)


main()
