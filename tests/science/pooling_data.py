"""Published layouts, read from the files beside this one; each file names its source in its first line."""

import csv
from pathlib import Path

import numpy as np

from fleet.science.pooling import encode

DATA = Path(__file__).parent / "data"


def columns(name):
    with (DATA / f"{name}.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    return {key: np.array([row[key] for row in rows]) for key in rows[0]}


def dyestuff(name="dyestuff"):
    table = columns(name)
    y = table["grams"].astype(float)
    return y, np.ones((len(y), 1)), {"batch": encode(table["batch"])[0]}


def penicillin():
    table = columns("penicillin")
    y = table["diameter"].astype(float)
    groups = {"plate": encode(table["plate"])[0], "sample": encode(table["sample"])[0]}
    return y, np.ones((len(y), 1)), groups


def pastes(*, nested=True):
    """Casks are named a, b and c in every batch; ``nested`` tells those of different batches apart."""
    table = columns("pastes")
    y = table["strength"].astype(float)
    cask = encode(table["batch"], table["cask"]) if nested else encode(table["cask"])
    return y, np.ones((len(y), 1)), {"batch": encode(table["batch"])[0], "cask": cask[0]}


def sleepstudy():
    table = columns("sleepstudy")
    y, days = table["reaction"].astype(float), table["days"].astype(float)
    return y, np.column_stack([np.ones(len(y)), days]), {"subject": encode(table["subject"])[0]}


def crossed(rng, *, rows=240, riders=30, products=7, tracks=4, weighted=False):
    """Rows of an invented truth, for laws that hold whatever the rows are."""
    groups = {
        "rider": rng.integers(0, riders, rows),
        "product": rng.integers(0, products, rows),
        "track": rng.integers(0, tracks, rows),
    }
    x = np.column_stack([np.ones(rows), rng.normal(size=rows)])
    y = x @ [190.0, 4.0] + rng.normal(0, 3, rows)
    for name, sd in {"rider": 5.0, "product": 3.0, "track": 2.0}.items():
        y = y + rng.normal(0, sd, groups[name].max() + 1)[groups[name]]
    return y, x, groups, rng.uniform(0.5, 2.0, rows) if weighted else None


def by_hand(y, x, groups, weights, pooled):
    """The textbook's dense equations, nothing eliminated: REML deviance, (beta, u) and their error covariance.

    C. R. Henderson (1975), Biometrics 31, section 4; Searle, Casella and McCulloch (1992), chapter 6.
    """
    z = [np.eye(len(pooled.effects[name]))[codes] for name, codes in groups.items()]
    sds = np.concatenate(
        [np.full(part.shape[1], pooled.sd[name]) for part, name in zip(z, groups, strict=True)]
    )
    stacked = np.hstack([x, *z])
    inverse_noise = weights / pooled.residual_sd**2
    equations = stacked.T @ (inverse_noise[:, None] * stacked)
    equations[x.shape[1] :, x.shape[1] :] += np.diag(sds**-2.0)
    covariance = np.linalg.inv(equations)
    solution = covariance @ stacked.T @ (inverse_noise * y)
    total = np.diag(1 / inverse_noise) + np.hstack(z) @ np.diag(sds**2) @ np.hstack(z).T
    inverse = np.linalg.inv(total)
    left = y - x @ solution[: x.shape[1]]
    deviance = (len(y) - x.shape[1]) * np.log(2 * np.pi) + np.linalg.slogdet(total)[1]
    deviance += np.linalg.slogdet(x.T @ inverse @ x)[1] + left @ inverse @ left
    return deviance, solution, covariance
