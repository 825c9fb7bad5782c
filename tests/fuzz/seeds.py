#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Seeds of the fuzz targets, from the demo, the tests and made-up pixels; and a dictionary of their
words.

Usage: seeds.py FOLDER    each target's into FOLDER/TARGET, the words into FOLDER/words
"""
import glob
import json
import math
import os
import random
import re
import shlex
import struct
import sys
import zlib

TOP = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
LENGTH_MAX = 8192  # bytes of a seed: longer ones only slow the fuzzer down
# Larger scenes are opened, which takes longest, and nothing is asked of them (fuzz_scene.c).
MOST = {"rooms": 3, "lights": 10, "shots": 5, "openings": 5}


def files(*patterns):
    return sorted(path for p in patterns for path in glob.glob(os.path.join(TOP, p)))


def compact(path):
    """A JSON file's text in few bytes; nothing where it is none on purpose."""
    try:
        with open(path, encoding="utf-8") as f:
            return json.dumps(json.load(f), separators=(",", ":")).encode()
    except ValueError:
        return None


def is_small(text):
    scene = json.loads(text)
    return all(len(scene.get(key, [])) <= most for key, most in MOST.items())


def scenes():
    found = files("tests/cli/scenes/*.json", "tests/cli/good/*.json", "tests/cli/grade/*.json", "tests/cli/dwell/*.json",
                  "tests/cli/reading/*.json", "tests/cli/choose/*.json", "tests/cli/predict/*.json", "tests/reference/rooms/*.json",
                  "data/new/*.json", "data/demo/*.json")
    return [text for text in map(compact, found) if text and is_small(text)]


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


def seen(at, aim, focal_mm, size, place):
    """The pixel at which an upright camera with a sensor 36 mm wide sees a place; None: it does not."""
    ahead = [a - b for a, b in zip(aim, at)]
    length = math.hypot(*ahead)
    ahead = [a / length for a in ahead]
    flat = math.hypot(ahead[0], ahead[1])
    right = [ahead[1] / flat, -ahead[0] / flat, 0]
    up = [right[1] * ahead[2] - right[2] * ahead[1], right[2] * ahead[0] - right[0] * ahead[2],
          right[0] * ahead[1] - right[1] * ahead[0]]
    off = [p - a for p, a in zip(place, at)]
    x, y, z = (sum(o * e for o, e in zip(off, axis)) for axis in (right, up, ahead))
    if z <= 0.1:
        return None
    pixel_mm = 36 / size[0]
    px, py = size[0] / 2 + focal_mm * x / z / pixel_mm, size[1] / 2 - focal_mm * y / z / pixel_mm
    return (px, py) if 0 <= px <= size[0] and 0 <= py <= size[1] else None


def matches(dice):
    """Pairs that some camera in the room of scenes/small.json sees so."""
    places = {"corner:floor-east-south": (6, 0, 0), "corner:floor-east-north": (6, 4, 0), "corner:ceiling-north-east": (6, 4, 3),
              "corner:cellar:ceiling-east-south": (6, 0, 3), "opening:cellar door:top-north": (6, 1.5, 2.1),
              "opening:cellar door:bottom-south": (6, 0.5, 0), "point:wall": (6, 3, 1.5), "4,2,0.8": (4, 2, 0.8), "3.5,1.2,0": (3.5, 1.2, 0)}
    for flags in range(0, 128, 3):
        at = (dice.uniform(0.3, 1.5), dice.uniform(1, 3), dice.uniform(1, 2))
        found = [(seen(at, (5, 2, dice.uniform(1, 1.6)), 20, (1920, 1080), p), name) for name, p in places.items()]
        pairs = [f"{p[0]:.1f},{p[1]:.1f}={name}" for p, name in found if p]
        dice.shuffle(pairs)
        yield bytes([flags & ~6]) + "; ".join(pairs[:3 + flags % 6]).encode()


def questions():
    """Questions of the tests' command lines, as lines, without the scene."""
    for path in files("tests/cli/*/*.cmd"):
        with open(path, encoding="utf-8") as f:
            words = [w for w in shlex.split(f.read()) if not w.endswith(".json")]
        yield "\n".join(words).encode()
    yield b"=0 0.03 0.01 0.5 1\n\npredict\n--json"
    yield b"trust\n--shot\n1\n--paths\n64\n--json\n\ndwell\n--units\nft"


def calls(dice):
    """Calls of the page's door: what is opened, then a number, a shot and what belongs to it."""
    for text in [b"\x01"] + [b"\x00" + t + b"\xff" for t in scenes() if len(t) < 900]:
        yield text + b"\x06\x00\x70\x06\x00\x10"
        yield text + b"\x00\x00predict\n--json\xff\x00\x00choose\n--json\xff"
        yield text + b"\x03\x00\x70\x14\x10\x41" + dice.randbytes(6)
        yield text + b"\x05\x01\x50\x14\x12" + dice.randbytes(90)
        yield text + b"\x02\x00IES:LM-63-2019\xff\x00\x00cautions\n--json\xff\x03\x00\xf0" + dice.randbytes(16)


def lamps():
    for path in files("tests/reference/*.ies", "data/demo/*.ies", "tests/cli/*/*.ies", "tests/cli/*/*/*.ies"):
        with open(path, "rb") as f:
            yield f.read()


# What was found once, small: the fuzzer begins with it each time.
FOUND = {"fuzz_reading": [b'{"veilstop":1,"rooms":[],"hazer":[{"room":"a","fluid_ml_per_h":36}]}'],
         "fuzz_lm63": [b"IES:LM-63-2019\nTILT=NONE\n1 -1 1 3 1 1 2 0 0 0\n1 1 60\n0 45 90\n0\n10 20e155 30\n"],
         "fuzz_words": [b"=0 0 0 1 1\n\nchoose", b"predict\n--extinction\n30", b"r a bug: the figureading\n--as\ndecay",
                        b"grade\n--shot\n1rade\n--shot\n1 lrg\n\n1 loso lrg\n\n1 loson"],
         "fuzz_page": [b"ute|\x10percetz ~\xf2"]}


def words(texts):
    found = set()
    for text in texts:
        found |= set(re.findall(rb'"([a-z_0-9]{1,24})"', text))
    found |= {b"IES:LM-63-2019", b"IESNA:LM-63-2002", b"IESNA91", b"TILT=NONE", b"TILT=INCLUDE", b"[TEST]", b"[MORE]",
              b"corner:", b"opening:", b"point:", b"floor-west-north", b"ceiling-east-south", b"top-north", b"cellar door",
              b"--json", b"--units", b"--write", b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"gAMA", b"1e155", b"1e-170", b"null", b"true", b"\\u0000"}
    return b"\n".join(b'"' + re.sub(rb'([\\"])', rb"\\\1", word) + b'"' for word in sorted(found)) + b"\n"


def main():
    folder = sys.argv[1]
    dice = random.Random(1)
    texts = scenes()
    seeds = {"fuzz_scene": texts, "fuzz_reading": [t for t in texts if b'"readings"' in t], "fuzz_data": list(own_files()),
             "fuzz_lm63": list(lamps()), "fuzz_png": pictures(dice), "fuzz_pair": list(frames(dice)), "fuzz_match": list(matches(dice)),
             "fuzz_words": list(questions()), "fuzz_page": list(calls(dice))}
    for target, all_of_it in seeds.items():
        os.makedirs(os.path.join(folder, target), exist_ok=True)
        for i, text in enumerate(t for t in all_of_it + FOUND.get(target, []) if len(t) <= LENGTH_MAX):
            with open(os.path.join(folder, target, f"seed-{i:03}"), "wb") as f:
                f.write(text)
    with open(os.path.join(folder, "words"), "wb") as f:
        f.write(words(texts))


main()
