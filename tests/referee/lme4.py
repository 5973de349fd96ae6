"""What lme4 says of raw readings: ``python -m tests.referee.lme4 > tests/referee/lme4.json``, where R has lme4.

The tables are the same everywhere and always: their "random" numbers are normal quantiles of the fractions of
multiples of square roots, so that no generator's version enters.
"""

import json
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import ndtri

FROZEN = Path(__file__).with_suffix(".json")

SDS = {
    "balanced": (0.05, 0.03, 0.04, 0.1),
    "unbalanced": (0.05, 0.03, 0.04, 0.1),
    "zero variance": (0.05, 0.0, 0.0, 0.1),
}
"""Of people, of a person at a site, of wears and of readings, on the log scale."""

SCRIPT = """
suppressMessages(library(lme4))
d <- read.csv(commandArgs(TRUE)[1])
for (name in c("wear", "person", "cell")) d[[name]] <- factor(d[[name]])
start <- proc.time()
fit <- lmer(y ~ 0 + cell + (1 | person) + (1 | person:cell) + (1 | wear), d, REML = TRUE{control})
seconds <- sum((proc.time() - start)[1:2])
say <- function(values) paste(format(values, digits = 17), collapse = " ")
cat(R.version$major, ".", R.version$minor, " ", as.character(packageVersion("lme4")), "\\n", sep = "")
sds <- as.data.frame(VarCorr(fit))
sds <- sds$sdcor[match(c("person", "person:cell", "wear", "Residual"), sds$grp)]
cat(say(seconds), say(REMLcrit(fit)), say(sds), say(fixef(fit)), say(sqrt(diag(vcov(fit)))), sep = "\\n")
"""
TO_THE_LAST_DIGIT = ', control = lmerControl("bobyqa", optCtrl = list(rhobeg = 0.1, rhoend = 1e-10, maxfun = 1e5))'


def normals(n: int, root: int) -> NDArray[np.float64]:
    """So many numbers that look normal, others for each `root`, which must not be a square."""
    return ndtri((np.arange(1, n + 1) * root**0.5) % 1)


def readings(name: str) -> pd.DataFrame:
    """A table with columns y, wear, person, cell. Balanced, and where only people differ: everybody wears every cell
    twice, six readings each time. Unbalanced: two or three cells each, one to three wears, one to nine readings."""
    sds = SDS[name]
    if name == "unbalanced":
        wears = [(p, c, 1 + (p + c) % 3) for p in range(12) for c in range(3) if (p * 7 + c) % 4]
    else:
        wears = [(p, c, 2) for p in range(10) for c in range(3)]
    person = np.repeat([p for p, _, _ in wears], [n for _, _, n in wears])
    cell = np.repeat([c for _, c, _ in wears], [n for _, _, n in wears])
    n = 1 + (np.arange(person.size) * 5) % 9 if name == "unbalanced" else np.full(person.size, 6)
    at_site = normals(36, 3)[person * 3 + cell]
    effect = 0.03 * cell + sds[0] * normals(12, 2)[person] + sds[1] * at_site + sds[2] * normals(person.size, 5)
    wear = np.repeat(np.arange(person.size), n)
    y = effect[wear] + sds[3] * normals(wear.size, 7)
    return pd.DataFrame({"y": y, "wear": wear, "person": person[wear], "cell": cell[wear]})


def fitted(table: pd.DataFrame, *, control: str = TO_THE_LAST_DIGIT) -> dict:
    """What lme4 says of the four levels; `seconds` of computing are the fit's alone."""
    with tempfile.TemporaryDirectory() as place:
        data, script = Path(place) / "readings.csv", Path(place) / "fit.R"
        table.to_csv(data, index=False)
        script.write_text(SCRIPT.replace("{control}", control), encoding="utf-8")
        told = subprocess.run(["Rscript", script, data], check=True, capture_output=True, text=True)
    versions, *numbers = told.stdout.splitlines()
    seconds, criterion, sds, beta, se = ([float(value) for value in line.split()] for line in numbers)
    return {
        "versions": versions,
        "seconds": seconds[0],
        "criterion": criterion[0],
        "sds": sds,
        "beta": beta,
        "se": se,
    }


def is_there() -> bool:
    """Whether this machine runs R scripts and R has the package."""
    found = shutil.which("Rscript")
    return bool(found) and subprocess.run([found, "-e", "library(lme4)"], capture_output=True).returncode == 0


if __name__ == "__main__":
    said = {name: fitted(readings(name)) for name in SDS}
    for one in said.values():
        del one["seconds"]
    json.dump(said, sys.stdout, indent=1)
    sys.stdout.write("\n")
