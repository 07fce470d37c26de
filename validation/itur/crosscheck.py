#!/usr/bin/env python3
"""Compares `mastwright model p838` and `p676` with the library `itur`.

    crosscheck.py PROGRAM [--must-run]

Both compute the same grids of inputs: specific attenuation by rain (ITU-R
P.838-3) and by the gases of the air (ITU-R P.676, Annex 1, line by line).
The library stands in a virtual environment below `target/`; nothing else is
touched. Exit status: 0 agreement, or nothing to compare with and that said;
1 disagreement, or with `--must-run` nothing to compare with.

Pressure. The functions `gamma*_exact` of the library name their argument
"atmospheric pressure", but put it into the sums of Annex 1 as the pressure of
*dry air* and add that of the vapour, e = rho T / 216.7, themselves. So does
`p_dry_hpa`: both get the same number. What a mistaken total pressure would do
is printed beside, so that the check is seen to tell the two apart.

Edition. The library has P.676-12; its Annex 1 is that of -13. P.838-3 is the
edition in both.
"""

import csv
import hashlib
import itertools
import os
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
FOLDER = HERE.parents[1] / "target" / "itur"
PYTHON = FOLDER / "venv" / "bin" / "python"

# Both sides compute in double precision; ours is printed to 12 digits.
TOLERANCE = 1e-9


def main() -> int:
    words = [word for word in sys.argv[1:] if word != "--must-run"]
    if len(words) != 1:
        sys.exit(__doc__)
    program = Path(words[0]).resolve()
    # Inside the environment the interpreter's own folder is the environment.
    if Path(sys.prefix).resolve() != (FOLDER / "venv").resolve():
        missing = installed()
        if missing:
            print(f"skipped: comparison with `itur`, {missing}")
            return 1 if "--must-run" in sys.argv else 0
        os.execv(PYTHON, [str(PYTHON), __file__, *sys.argv[1:]])
    return 0 if all([rain(program), gas(program)]) else 1


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
        return "the library could not be installed (is the registry within reach?)"
    stamp.write_text(wanted)
    return ""


def ours(program: Path, model: str, columns: list, cases: list) -> list:
    """The rows that the program computes for the cases."""
    table = FOLDER / f"{model}.csv"
    with table.open("w", newline="") as file:
        csv.writer(file).writerows([columns, *cases])
    ran = subprocess.run(
        [str(program), "model", model, "--cases", str(table), "--quiet"],
        stdout=subprocess.PIPE, text=True, check=True,
    )
    rows = list(csv.DictReader(ran.stdout.splitlines()))
    assert len(rows) == len(cases), f"{len(rows)} rows for {len(cases)} cases"
    return rows


def agree(name: str, cases: list, pairs) -> bool:
    """Prints the greatest relative difference of a quantity; true within tolerance."""
    worst, at = 0.0, None
    for case, (a, b) in zip(cases, pairs, strict=True):
        difference = 0.0 if a == b else abs(a - b) / max(abs(a), abs(b))
        # A difference that is no number is not an agreement.
        if not difference <= worst:
            worst, at = difference, case
    good = worst <= TOLERANCE
    print(f"  {name:<14} {len(cases):>6} cases, greatest relative difference {worst:.1e} "
          f"(tolerance {TOLERANCE:.0e}){'' if good else f'  DISAGREES at {at}'}")
    return good


def rain(program: Path) -> bool:
    from itur.models import itu838
    itu838.change_version(3)
    f_ghz = [float(f) for f in range(1, 101)]
    ends = [(0, 0), (0, 90), (0, 45), (5, 0), (10, 90), (30, 0), (45, 20), (89, 70)]
    rates = [1, 2, 5, 12, 22, 42, 63, 95, 120, 150]
    cases = list(itertools.product(f_ghz, ends, rates))
    columns = ["f_ghz", "elevation_deg", "tau_deg", "rain_mmh"]
    rows = ours(program, "p838", columns, [[f, *end, rate] for f, end, rate in cases])
    theirs = [itu838.rain_specific_attenuation(rate, f, *end).value for f, end, rate in cases]
    law = [itu838.rain_specific_attenuation_coefficients(f, *end) for f, end, _ in cases]
    print("P.838-3, 1 to 100 GHz, 1 to 150 mm/h, 8 elevations and tilts")
    return all([
        agree("k", cases, [(float(row["k"]), float(x[0])) for row, x in zip(rows, law)]),
        agree("alpha", cases, [(float(row["alpha"]), float(x[1])) for row, x in zip(rows, law)]),
        agree("gamma_dbkm", cases, [(float(row["gamma_dbkm"]), float(x)) for row, x in zip(rows, theirs)]),
    ])


def gas(program: Path) -> bool:
    from itur.models import itu676
    itu676.change_version(12)
    # Every 1 GHz, and closely where the lines of oxygen and vapour stand.
    f_ghz = sorted({*range(1, 101), *(20 + i / 4 for i in range(21)), *(50 + i / 5 for i in range(76))})
    pressures = [500.0, 700.0, 850.0, 1013.25, 1040.0]
    weather = [(250.15, 0.0), (263.15, 1.5), (288.15, 0.0), (288.15, 7.5), (288.15, 12.0),
               (303.15, 7.5), (308.15, 25.0)]
    cases = [(float(f), p, t, rho) for f, p, (t, rho) in itertools.product(f_ghz, pressures, weather)]
    rows = ours(program, "p676", ["f_ghz", "p_dry_hpa", "t_k", "rho_gm3"], cases)
    oxygen = [itu676.gamma0_exact(f, p, rho, t).value for f, p, t, rho in cases]
    vapour = [itu676.gammaw_exact(f, p, rho, t).value for f, p, t, rho in cases]
    both = [itu676.gamma_exact(f, p, rho, t).value for f, p, t, rho in cases]
    print("P.676 Annex 1, 1 to 100 GHz, 500 to 1040 hPa of dry air, -23 to 35 °C, 0 to 25 g/m³")
    column = lambda name, theirs: [(float(row[name]), float(x)) for row, x in zip(rows, theirs)]
    good = [
        agree("gamma_o_dbkm", cases, column("gamma_o_dbkm", oxygen)),
        agree("gamma_w_dbkm", cases, column("gamma_w_dbkm", vapour)),
        agree("gamma_dbkm", cases, column("gamma_dbkm", both)),
    ]
    total = [itu676.gamma_exact(f, p + rho * t / 216.7, rho, t).value for f, p, t, rho in cases]
    mistaken = max(abs(a - b) / b for a, b in zip(total, both))
    print(f"  (total pressure in place of dry would differ by up to {100 * mistaken:.1f} %)")
    return all(good) and mistaken > TOLERANCE


if __name__ == "__main__":
    sys.exit(main())
