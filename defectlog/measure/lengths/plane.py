"""The plane the markers lie in, fitted to their corners: from pixels to millimetres."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.lengths.scale import Polygon

Corners = NDArray[np.float64]  # (4, 2) x, y; clockwise from the marker's own top left

# Corner error assumed where a single marker leaves nothing to judge it by, and the least
# that is ever believed.
SINGLE_MARKER_PX = 0.3
LEAST_CORNER_PX = 0.05
# Distances between neighbouring markers, in sides, that bare markers are commonly printed at:
# with white margins of a quarter side shared, and each with its own.
COMMON_PITCHES = (1.25, 1.5)


@dataclass(frozen=True, slots=True)
class Plane:
    """Where the markers lie: (x, y) mm to pixels, and how far off the corners are."""

    to_px: NDArray[np.float64]
    places_mm: NDArray[np.float64]  # (n, 4, 2)
    rms_px: float
    spare: int  # measured coordinates beyond those the fit needs
    scale_error: float  # one standard deviation of px_per_mm, relative


def fit_plane(
    quads: Sequence[Corners], places_mm: NDArray[np.float64], middle: tuple[float, float]
) -> Plane:
    """Fit the plane to corners whose places on the card are known."""
    return _least_squares(quads, places_mm, np.empty(0), lambda _: places_mm, middle)


def fit_squares(quads: Sequence[Corners], side_mm: float, middle: tuple[float, float]) -> Plane:
    """Fit the plane to equal squares whose places on it are not known."""
    square = np.array([(0, 0), (1, 0), (1, 1), (0, 1)], dtype=np.float64) * side_mm
    if len(quads) == 1:
        return fit_plane(quads, square[None], middle)
    start = np.linalg.inv(cv2.findHomography(square, quads[0], 0)[0])
    poses = []
    for quad in quads[1:]:
        laid = np.array(through(start, quad))
        edge = laid[1] - laid[0] + laid[2] - laid[3]
        poses += [*laid[0], math.atan2(edge[1], edge[0])]

    def placed(values: NDArray[np.float64]) -> NDArray[np.float64]:
        squares = [square]
        for x, y, angle in values.reshape(-1, 3):
            turn = np.array(
                [[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]]
            )
            squares.append(square @ turn.T + (x, y))
        return np.array(squares)

    free = _least_squares(quads, placed(np.array(poses)), np.array(poses), placed, middle)
    for pitch in COMMON_PITCHES:
        steps = (free.places_mm[:, 0] - free.places_mm[0, 0]) / (pitch * side_mm)
        on_grid = square + np.round(steps)[:, None, :] * pitch * side_mm
        if np.abs(on_grid - free.places_mm).max() < 0.05 * side_mm:
            gridded = fit_plane(quads, on_grid, middle)
            # The grid is believed only if the corners fit it about as well as without.
            if gridded.rms_px < 1.5 * free.rms_px + 0.03:
                return gridded
    return free


def _least_squares(
    quads: Sequence[Corners],
    places_mm: NDArray[np.float64],
    start: NDArray[np.float64],
    placed: Callable[[NDArray[np.float64]], NDArray[np.float64]],
    middle: tuple[float, float],
) -> Plane:
    """Plane and free places together, by least squares of the corners in pixels."""
    seen = np.concatenate(list(quads))
    centre, reach = seen.mean(axis=0), float(np.ptp(seen, axis=0).max())
    norm = np.array(
        [[1 / reach, 0, -centre[0] / reach], [0, 1 / reach, -centre[1] / reach], [0, 0, 1]]
    )
    back = np.linalg.inv(norm)
    offset = np.array(
        [[1, 0, -places_mm[..., 0].mean()], [0, 1, -places_mm[..., 1].mean()], [0, 0, 1]]
    )
    first = cv2.findHomography(places_mm.reshape(-1, 2), seen, 0)[0]
    first = norm @ first @ np.linalg.inv(offset)
    first = (first / first[2, 2]).ravel()[:8]

    def to_px(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return back @ np.append(values[:8], 1.0).reshape(3, 3) @ offset

    def misfit(values: NDArray[np.float64]) -> NDArray[np.float64]:
        corners = placed(values[8:]).reshape(-1, 2)
        return (np.array(through(to_px(values), corners)) - seen).ravel()

    x, left, slopes = fitted(misfit, np.concatenate([first, start]))
    spare = seen.size - len(x)
    rms = float(np.sqrt(np.mean(left**2)))
    sigma = math.sqrt(float(left @ left) / spare) if spare else SINGLE_MARKER_PX
    covariance = max(sigma, LEAST_CORNER_PX) ** 2 * np.linalg.pinv(slopes.T @ slopes)

    def log_scale(values: NDArray[np.float64]) -> float:
        jacobian = jacobian_at(np.linalg.inv(to_px(values)), middle)
        return -0.5 * math.log(abs(np.linalg.det(jacobian)))

    gradient = np.zeros(len(x))
    for k in range(8):
        step = 1e-6 * max(1.0, abs(x[k]))
        nudge = np.eye(1, len(x), k).ravel() * step
        gradient[k] = (log_scale(x + nudge) - log_scale(x - nudge)) / (2 * step)
    error = math.sqrt(max(0.0, float(gradient @ covariance @ gradient)))
    return Plane(to_px(x), placed(x[8:]), rms, spare, error)


def fitted(
    misfit: Callable[[NDArray[np.float64]], NDArray[np.float64]], start: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Least squares by Levenberg and Marquardt: where, what is left, and its slopes there."""
    x, left = start, misfit(start)
    slopes = _slopes(misfit, x)
    damping = 1e-4
    for _ in range(60):
        squares = slopes.T @ slopes
        weights = np.diag(damping * np.maximum(np.diag(squares), 1e-12))
        step = np.linalg.solve(squares + weights, -slopes.T @ left)
        tried = misfit(x + step)
        gain = float(left @ left) - float(tried @ tried)
        if gain > 0:
            x, left, damping = x + step, tried, damping / 10
            slopes = _slopes(misfit, x)
        else:
            damping *= 10
        if abs(gain) <= 1e-12 * float(left @ left) + 1e-18 or damping > 1e8:
            break
    return x, left, slopes


def _slopes(
    misfit: Callable[[NDArray[np.float64]], NDArray[np.float64]], x: NDArray[np.float64]
) -> NDArray[np.float64]:
    """How the misfit changes with each value, by differences to both sides."""
    columns = []
    for k in range(len(x)):
        nudge = np.zeros(len(x))
        nudge[k] = 1e-6 * max(1.0, abs(x[k]))
        columns.append((misfit(x + nudge) - misfit(x - nudge)) / (2 * nudge[k]))
    return np.column_stack(columns)


def jacobian_at(to_mm: NDArray[np.float64], place: tuple[float, float]) -> NDArray[np.float64]:
    """How millimetres change with pixels at a place, (2, 2)."""
    u, v, w = to_mm @ np.array([*place, 1.0])
    return (to_mm[:2, :2] * w - np.outer((u, v), to_mm[2, :2])) / w**2


def through(homography: NDArray[np.float64], points: NDArray[np.float64]) -> Polygon:
    flat = np.column_stack([points, np.ones(len(points))]) @ homography.T
    return tuple((float(x / w), float(y / w)) for x, y, w in flat)
