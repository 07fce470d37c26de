#!/usr/bin/env python3
"""Fuzzes the workspace's API from its own description.

    fuzz.py PROGRAM [--must-run]

Serves a copy of the example island on a loopback port, gives the description
(docs/api/openapi.json) to the general-purpose fuzzer schemathesis, and lets it
send requests that follow the description and requests that break it, the same
in every run as far as its time goes. Looked at: no answer says that the program failed, every answer
conforms to the description, nothing but the token opens, and the program
neither panics nor ends.

The fuzzer stands in a virtual environment below `target/`; nothing else is
touched. Exit status: 0 nothing found, or nothing to fuzz with and that said;
1 something found, or with `--must-run` nothing to fuzz with.
"""

import hashlib
import os
import shutil
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
FOLDER = ROOT / "target" / "fuzz-api"
PYTHON = FOLDER / "venv" / "bin" / "python"
DESCRIPTION = ROOT / "docs" / "api" / "openapi.json"

# Cases an operation and phase; the whole takes some two minutes.
EXAMPLES = 25
LONGEST_S = 120
CHECKS = [
    "not_a_server_error",
    "status_code_conformance",
    "content_type_conformance",
    "response_schema_conformance",
    "ignored_auth",
]
# The stream of events does not end: its tests stand beside the server.
LEFT_OUT = ["/api/events"]


def main() -> int:
    words = [word for word in sys.argv[1:] if word != "--must-run"]
    if len(words) != 1:
        sys.exit(__doc__)
    missing = installed()
    if missing:
        print(f"skipped: fuzzing of the API, {missing}")
        return 1 if "--must-run" in sys.argv else 0
    program = Path(words[0]).resolve()
    with tempfile.TemporaryDirectory() as folder:
        return fuzz(program, Path(folder))


def installed() -> str:
    """Makes the environment; says what is missing, or nothing."""
    requirements = HERE / "requirements.txt"
    stamp = FOLDER / "installed"
    wanted = hashlib.sha256(requirements.read_bytes()).hexdigest()
    if PYTHON.exists() and stamp.exists() and stamp.read_text() == wanted:
        return ""
    FOLDER.mkdir(parents=True, exist_ok=True)
    environment = [sys.executable, "-m", "venv", "--clear", str(FOLDER / "venv")]
    if subprocess.run(environment).returncode:
        return "no virtual environment could be made (is python3-venv there?)"
    install = [str(PYTHON), "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    if subprocess.run([*install, "--no-deps", "--requirement", str(requirements)]).returncode:
        return "the fuzzer could not be installed (is the registry within reach?)"
    stamp.write_text(wanted)
    return ""


def fuzz(program: Path, folder: Path) -> int:
    project = folder / "island"
    subprocess.run([str(program), "demo", str(project), "--no-open", "--quiet"],
                   stdout=subprocess.DEVNULL, check=True)
    shutil.rmtree(project / "results", ignore_errors=True)
    told = folder / "told"
    with told.open("w") as errors:
        served = subprocess.Popen(
            [str(program), "open", str(project), "--no-browser", "--port", "0"],
            stdout=subprocess.PIPE, stderr=errors, text=True,
        )
    try:
        opening = next(line for line in served.stdout if line.startswith("workspace: ")).split()[1]
        found = ask(opening, folder)
        if served.poll() is not None:
            print(f"the program has ended with {served.returncode}")
            found = 1
    finally:
        served.send_signal(signal.SIGINT)
        try:
            served.wait(timeout=20)
        except subprocess.TimeoutExpired:
            served.kill()
            print("the program does not end")
            found = 1
    words = told.read_text()
    if "panicked" in words:
        print(words)
        return 1
    return found


def ask(opening: str, folder: Path) -> int:
    address, token = opening.split("/open?token=")
    command = [
        str(PYTHON), "-m", "schemathesis.cli", "run", str(DESCRIPTION),
        "--url", address,
        "--header", f"Authorization: Bearer {token}",
        "--checks", ",".join(CHECKS),
        "--phases", "coverage,fuzzing",
        "--max-examples", str(EXAMPLES),
        "--max-time", str(LONGEST_S),
        "--generation-deterministic",
        "--request-timeout", "30",
        "--suppress-health-check", "all",
        "--continue-on-failure",
        "--no-color",
        "--warnings", "off",
    ]
    for path in LEFT_OUT:
        command += ["--exclude-path", path]
    environment = {key: value for key, value in os.environ.items() if "proxy" not in key.lower()}
    return min(subprocess.run(command, cwd=folder, env=environment).returncode, 1)


if __name__ == "__main__":
    sys.exit(main())
