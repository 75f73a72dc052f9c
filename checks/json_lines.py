"""Lines of `--json` held to docs/json-lines.schema.json by PyPI's `jsonschema`, for every check that gets some."""

import json
import pathlib
import subprocess

from jsonschema import Draft202012Validator

SCHEMA = pathlib.Path(__file__).resolve().parent.parent / "docs" / "json-lines.schema.json"
# Kinds that only listening, or sending, gives: the part of checks/run in which they are had.
HAD_ELSEWHERE = {"run": "tonight", "known": "tonight", "sent": "desk"}


def validators():
    """A validator for each type, since "is valid under none of 22 schemas" helps nobody."""
    schema = json.loads(SCHEMA.read_text())
    Draft202012Validator.check_schema(schema)
    kinds = [one["$ref"].rsplit("/", 1)[1] for one in schema["oneOf"]]
    return {kind: Draft202012Validator({**schema, "oneOf": [{"$ref": f"#/$defs/{kind}"}]}) for kind in kinds}


def fault(known, line):
    """What is wrong with a line, or None."""
    kind = line.get("type")
    if kind not in known:
        return f"no type {kind!r} in the schema"
    for error in known[kind].iter_errors(line):
        inner = min(error.context, key=lambda e: len(e.path)) if error.context else error
        return inner.message
    return None


def printed(command):
    """What a command prints, line by line."""
    done = subprocess.run(command, capture_output=True, text=True, timeout=300)
    return [json.loads(line) for line in done.stdout.splitlines()]


def check_kinds(report, part, lines):
    """That lines are valid, and those kinds are among them which this part of the checks is to have."""
    known = validators()
    wrong = {why for line in lines if (why := fault(known, line))}
    wanted = {kind for kind, where in HAD_ELSEWHERE.items() if where == part}
    lacking = wanted - {line.get("type") for line in lines}
    said = [f"lacking: {', '.join(sorted(lacking))}"] if lacking else []
    report.check(f"{part}: lines of --json are valid by the schema", bool(lines) and not wrong and not lacking,
                 "; ".join([f"{len(lines)} lines", *said, *sorted(wrong)])[:400])
