"""Scores at several visits of the same patients, some visits missing: a model of their means.

Own code, because no library at hand fits an unstructured covariance. It uses every
visit that was seen and is right when the chance of being missed depends only on what
was seen before. Means of the seen alone belong beside it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy import optimize, stats

from reports.stats.checks import check_confidence

Floats = npt.NDArray[np.float64]
# Below this the normal limits promise too much (statistical convention, no source).
MANY_PATIENTS: Final = 30
UNSTRUCTURED: Final = "unstructured"
COMPOUND_SYMMETRY: Final = "compound symmetry"


@dataclass(frozen=True, slots=True)
class Fit:
    """A fitted model.

    `coefficients` go with the columns of the design, `covariance` is that between
    visits, in squared units of the score. `deviance` is -2 log likelihood (restricted
    unless asked otherwise). `structure` says which covariance was fitted in the end.
    """

    coefficients: Floats
    standard_errors: Floats
    covariance: Floats
    deviance: float
    structure: str
    patients: int
    observations: int

    def limits(self, confidence: float = 0.95) -> tuple[Floats, Floats]:
        """Limits of the coefficients: normal from thirty patients, else t, approximate."""
        check_confidence(confidence)
        freedom = self.patients - self.coefficients.size
        if self.patients >= MANY_PATIENTS:
            width = float(stats.norm.ppf(0.5 + confidence / 2))
        else:
            width = float(stats.t.ppf(0.5 + confidence / 2, max(freedom, 1)))
        half = width * self.standard_errors
        return self.coefficients - half, self.coefficients + half


@dataclass(frozen=True, slots=True)
class _Pattern:
    """The patients who were seen at the same visits: their scores and designs, stacked."""

    visits: npt.NDArray[np.int_]
    scores: Floats  # patients × visits seen
    design: Floats  # patients × visits seen × columns


def fit_visits(
    *,
    scores: Sequence[Sequence[float | None]],
    design: Sequence[Sequence[Sequence[float]]],
    restricted: bool = True,
    structure: str = UNSTRUCTURED,
) -> Fit:
    """Fit means of `scores[patient][visit]` (None where not seen) on `design[patient][visit]`.

    Generalised least squares with the covariance that maximises the (restricted)
    likelihood. When the unstructured covariance does not converge, compound symmetry is
    fitted and named in `structure`. Raises ValueError when there is nothing to fit.
    """
    patterns = _patterns(scores, design)
    columns = patterns[0].design.shape[2]
    visits = max(len(row) for row in scores)
    observations = sum(p.scores.size for p in patterns)
    if observations <= columns:
        raise ValueError(f"{observations} scores cannot tell {columns} coefficients apart.")
    fitted = None
    if structure == UNSTRUCTURED:
        fitted = _maximise(patterns, visits, restricted, UNSTRUCTURED)
    if fitted is None:
        structure = COMPOUND_SYMMETRY
        fitted = _maximise(patterns, visits, restricted, COMPOUND_SYMMETRY)
    if fitted is None:
        raise ValueError("The model did not converge; print the observed means alone.")
    covariance, deviance = fitted
    coefficients, information, _ = _least_squares(patterns, covariance)
    errors = np.sqrt(np.diag(np.linalg.inv(information)))
    patients = sum(len(p.scores) for p in patterns)
    return Fit(coefficients, errors, covariance, deviance, structure, patients, observations)


def _patterns(
    scores: Sequence[Sequence[float | None]], design: Sequence[Sequence[Sequence[float]]]
) -> list[_Pattern]:
    """Group the patients by the visits at which they were seen; nobody seen, nobody grouped."""
    if len(scores) != len(design):
        raise ValueError("Each patient needs scores and a design.")
    groups: dict[tuple[int, ...], list[int]] = {}
    for patient, row in enumerate(scores):
        seen = tuple(visit for visit, score in enumerate(row) if score is not None)
        if seen:
            groups.setdefault(seen, []).append(patient)
    if not groups:
        raise ValueError("No visit was seen; there is nothing to fit.")
    return [
        _Pattern(
            np.array(seen),
            np.array([[scores[p][v] for v in seen] for p in patients], dtype=float),
            np.array([[design[p][v] for v in seen] for p in patients], dtype=float),
        )
        for seen, patients in groups.items()
    ]


def _maximise(
    patterns: list[_Pattern], visits: int, restricted: bool, structure: str
) -> tuple[Floats, float] | None:
    """Return the covariance of the highest likelihood and its deviance; None without success."""

    def deviance(parameters: Floats) -> float:
        try:
            return _deviance(patterns, _covariance(parameters, visits, structure), restricted)
        except (np.linalg.LinAlgError, FloatingPointError):
            return 1e12

    with np.errstate(over="raise", invalid="raise", divide="raise"):
        found = optimize.minimize(
            deviance, _start(patterns, visits, structure), method="BFGS", options={"gtol": 1e-5}
        )
        at = found.x
    # BFGS may stop for want of precision beside the minimum; the slope decides.
    flat = np.max(np.abs(found.jac)) < 1e-2 if np.all(np.isfinite(found.jac)) else False
    if found.fun >= 1e12 or not (found.success or flat):
        return None
    return _covariance(at, visits, structure), float(found.fun)


def _start(patterns: list[_Pattern], visits: int, structure: str) -> Floats:
    spread = float(np.std(np.concatenate([p.scores.ravel() for p in patterns]))) or 1.0
    if structure == COMPOUND_SYMMETRY:
        return np.array([np.log(spread * 0.7), np.log(spread * 0.7)])
    start = np.zeros(visits * (visits + 1) // 2)
    start[_diagonal(visits)] = np.log(spread)
    return start


def _diagonal(visits: int) -> npt.NDArray[np.int_]:
    """Places of the diagonal among the entries of a lower triangle, row by row."""
    return np.cumsum(np.arange(1, visits + 1)) - 1


def _covariance(parameters: Floats, visits: int, structure: str) -> Floats:
    """Unstructured: a triangle with the logarithm of its diagonal. Else: two variances as logs."""
    if structure == COMPOUND_SYMMETRY:
        between, within = np.exp(2 * np.clip(parameters, -300, 300))
        return np.asarray(between + within * np.eye(visits))
    triangle = np.zeros((visits, visits))
    triangle[np.tril_indices(visits)] = parameters
    triangle[np.diag_indices(visits)] = np.exp(parameters[_diagonal(visits)])
    return np.asarray(triangle @ triangle.T)


def _least_squares(patterns: list[_Pattern], covariance: Floats) -> tuple[Floats, Floats, float]:
    """Return coefficients, their information matrix, and the log determinant of the variance."""
    columns = patterns[0].design.shape[2]
    information, right, determinant = np.zeros((columns, columns)), np.zeros(columns), 0.0
    for p in patterns:
        part = covariance[np.ix_(p.visits, p.visits)]
        weights = np.linalg.inv(part)
        information += np.einsum("pvc,vw,pwd->cd", p.design, weights, p.design)
        right += np.einsum("pvc,vw,pw->c", p.design, weights, p.scores)
        determinant += len(p.scores) * float(np.linalg.slogdet(part)[1])
    coefficients = np.asarray(np.linalg.solve(information, right), dtype=np.float64)
    return coefficients, information, determinant


def _deviance(patterns: list[_Pattern], covariance: Floats, restricted: bool) -> float:
    coefficients, information, determinant = _least_squares(patterns, covariance)
    squares, count = 0.0, 0
    for p in patterns:
        weights = np.linalg.inv(covariance[np.ix_(p.visits, p.visits)])
        rest = p.scores - p.design @ coefficients
        squares += float(np.einsum("pv,vw,pw->", rest, weights, rest))
        count += rest.size
    free = count - coefficients.size if restricted else count
    extra = float(np.linalg.slogdet(information)[1]) if restricted else 0.0
    return determinant + squares + free * float(np.log(2 * np.pi)) + extra
