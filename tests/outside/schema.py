# SPDX-License-Identifier: GPL-3.0-or-later
"""Holds scene files against docs/scene.schema.json by a validator of JSON Schema (draft 2020-12).

usage: schema.py SCHEMA FOLDER...: a line for each .json file, "ok PATH", "shape PATH" or "syntax PATH".
"""
import json
import pathlib
import sys

import jsonschema


def verdict(validator, path):
    try:
        scene = json.loads(path.read_bytes().decode("utf-8-sig"))
    except (ValueError, RecursionError):  # no UTF-8, no JSON, or too deep
        return "syntax"
    return "ok" if validator.is_valid(scene) else "shape"


def main():
    schema = json.loads(pathlib.Path(sys.argv[1]).read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    for folder in sys.argv[2:]:
        for path in sorted(pathlib.Path(folder).rglob("*.json")):
            print(verdict(validator, path), path)


main()
