#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Seeds of the fuzz targets, from the demo, the tests and made-up pixels; and a dictionary of their
words.

Usage: seeds.py FOLDER    each target's into FOLDER/TARGET, the words into FOLDER/words
"""
import glob
import json
import os
import random
import re
import struct
import sys
import zlib

TOP = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
LENGTH_MAX = 8192  # bytes of a seed: longer ones only slow the fuzzer down


def files(*patterns):
    return sorted(path for p in patterns for path in glob.glob(os.path.join(TOP, p)))


def compact(path):
    """A JSON file's text in few bytes; nothing where it is none on purpose."""
    try:
        with open(path, encoding="utf-8") as f:
            return json.dumps(json.load(f), separators=(",", ":")).encode()
    except ValueError:
        return None


def scenes():
    found = files("tests/cli/scenes/*.json", "tests/cli/good/*.json", "tests/cli/grade/*.json", "tests/cli/dwell/*.json",
                  "tests/cli/reading/*.json", "tests/cli/choose/*.json", "tests/cli/predict/*.json", "tests/reference/rooms/*.json",
                  "data/new/*.json", "data/demo/*.json")
    return [text for text in map(compact, found) if text]


def own_files():
    """Data files, each with its name under "$"."""
    for path in files("data/fluids/*.json", "data/*.json"):
        with open(path, encoding="utf-8") as f:
            content = json.load(f)
        content["$"] = "fluids/mine.json" if "/fluids/" in path else os.path.basename(path)
        yield json.dumps(content, separators=(",", ":")).encode()


def chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png(width, height, depth, colour, dice, more=b"", interlaced=0):
    """Lines of random bytes, for which no filter is needed; an interlaced one of one pixel is plain."""
    bits = depth * {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}[colour]
    line = (width * bits + 7) // 8
    pixels = b"".join(bytes([0]) + dice.randbytes(line) for _ in range(height))
    return (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, depth, colour, 0, 0, interlaced))
            + more + chunk(b"IDAT", zlib.compress(pixels)) + chunk(b"IEND", b""))


def pictures(dice):
    palette = chunk(b"PLTE", dice.randbytes(12)) + chunk(b"tRNS", b"\x00\x80")
    note = chunk(b"tEXt", b"Comment\0a frame") + chunk(b"gAMA", struct.pack(">I", 45455))
    return [png(5, 4, 8, 0, dice), png(7, 3, 16, 2, dice), png(4, 4, 2, 3, dice, palette), png(3, 5, 8, 6, dice, note),
            png(9, 2, 1, 0, dice), png(6, 6, 16, 4, dice), png(1, 1, 8, 2, dice, b"", 1), png(70, 70, 8, 2, dice)]


def frames(dice):
    for size in (8, 24, 47):
        for how in range(6):
            head = bytes([size, size - how, how + 128 * (how % 2), dice.randrange(256)])
            values = [min(255, int(abs(dice.gauss(90, 60)))) for _ in range(500)]
            yield head + bytes(values)
            yield head + bytes((17 * i // 3 + how) % 256 for i in range(400))


def lamps():
    for path in files("tests/reference/*.ies", "data/demo/*.ies", "tests/cli/*/*.ies", "tests/cli/*/*/*.ies"):
        with open(path, "rb") as f:
            yield f.read()


def words(texts):
    found = set()
    for text in texts:
        found |= set(re.findall(rb'"([a-z_0-9]{1,24})"', text))
    found |= {b"IES:LM-63-2019", b"IESNA:LM-63-2002", b"IESNA91", b"TILT=NONE", b"TILT=INCLUDE", b"[TEST]", b"[MORE]",
              b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"gAMA", b"1e155", b"1e-170", b"null", b"true", b"\\u0000"}
    return b"\n".join(b'"' + re.sub(rb'([\\"])', rb"\\\1", word) + b'"' for word in sorted(found)) + b"\n"


def main():
    folder = sys.argv[1]
    dice = random.Random(1)
    texts = scenes()
    seeds = {"fuzz_scene": texts, "fuzz_reading": [t for t in texts if b'"readings"' in t], "fuzz_data": list(own_files()),
             "fuzz_lm63": list(lamps()), "fuzz_png": pictures(dice), "fuzz_pair": list(frames(dice))}
    for target, all_of_it in seeds.items():
        os.makedirs(os.path.join(folder, target), exist_ok=True)
        for i, text in enumerate(t for t in all_of_it if len(t) <= LENGTH_MAX):
            with open(os.path.join(folder, target, f"seed-{i:03}"), "wb") as f:
                f.write(text)
    with open(os.path.join(folder, "words"), "wb") as f:
        f.write(words(texts))


main()
