"""Where a picture lies on another of the same side, found by what both show.

Features (D. G. Lowe, "Distinctive image features from scale-invariant keypoints", IJCV 60 (2004) 91-110) are paired,
a projective map is voted for (D. Barath et al., "MAGSAC++", CVPR 2020), and then made exact on patches all over the
board, with the lens. Whether it is right is judged by patches that nothing was fitted to alone: each must look alike
in both pictures where the map says it lies.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from ohmwright.errors import DataError
from ohmwright.geometry.camera import View
from ohmwright.geometry.registration import Residuals, refined, residuals
from ohmwright.geometry.transforms import Array, Homography, similarity_from_pairs
from ohmwright.pictures.canvas import Pixels
from ohmwright.pictures.contradiction import contradicted
from ohmwright.pictures.sheets import Sheet

FEATURES = 6000
"""Most features taken from a picture. [1]"""
RATIO = 0.82
"""How much nearer the best match must be than the next (Lowe's ratio). [1]"""
LEAST_INLIERS = 14
"""Fewer pairs that agree are chance. [1] false ones reached 9 in the tests of pictures that do not belong together"""
PATCH, SEARCH = 33, 12
"""Edge of a patch and how far it is sought, in pixels of the reference. [px]"""
ALIKE = 0.6
"""Correlation from which two patches show the same. [1]"""
LEAST_AGREEMENT = 0.25
"""Share of the patches that must look alike. [1] true pictures reach 0.5 and more, false ones 0.1"""
HINT = "mark four points or more that you can see in both pictures, far apart"


@dataclass(frozen=True, slots=True)
class Match:
    """A picture brought onto the board.

    Parameters
    ----------
    view : View
        Board millimetres to pixels of the whole picture.
    residuals : Residuals
        Of the patches that were found again.
    agreement : float
        Share of the patches that look alike in both. [1]
    """

    view: View
    residuals: Residuals
    agreement: float
    count: int


def matched(reference: Sheet, to_board: Homography, picture: Sheet, side: str) -> Match:
    """Where a picture lies, from a reference picture of the same side whose way onto the board is known.

    Parameters
    ----------
    to_board : Homography
        Pixels of the whole reference to board millimetres.

    Raises
    ------
    DataError
        "This did not register", with the reason and what to try.
    """
    best: Match | None = None
    why = "the two pictures have too little in common"
    for of_reference, of_picture in ((2.5e6, 2.5e6), (12e6, 1.0e6), (12e6, 0.2e6)):
        vote = _vote(reference.at_most(of_reference), picture.at_most(of_picture))
        if vote is None:
            continue
        found = _made_exact(reference, to_board, picture, side, vote)
        if isinstance(found, str):
            why = found
        elif best is None or found.agreement > best.agreement:
            best = found
        if best is not None and best.agreement >= LEAST_AGREEMENT:
            if contradicted(reference, to_board, picture, best.view):
                raise unregistered("parts of it look alike, and parts show another thing where they would lie")
            return best
    if best is not None:
        why = f"only {best.agreement:.0%} of it looks alike where it would lie"
    raise unregistered(why)


def unregistered(why: str, hint: str = HINT) -> DataError:
    """The error that says that a picture did not register."""
    return DataError(f"This picture did not register: {why}.", hint=hint)


def _vote(reference: Sheet, picture: Sheet) -> tuple[Array, Array] | None:
    """Pairs of places in the two whole pictures that one projective map agrees with, or None where there are few."""
    a, of_a = _features(reference)
    b, of_b = _features(picture)
    if len(a) < LEAST_INLIERS or len(b) < LEAST_INLIERS:
        return None
    pairs = cv2.BFMatcher(cv2.NORM_L2).knnMatch(of_b, of_a, k=2)
    good = [m for m, n in (p for p in pairs if len(p) == 2) if m.distance < RATIO * n.distance]
    if len(good) < LEAST_INLIERS:
        return None
    from_a = np.array([a[m.trainIdx] for m in good])
    from_b = np.array([b[m.queryIdx] for m in good])
    # The bend of a lens keeps a plane from fitting everywhere to the pixel.
    loose = 0.004 * max(picture.size_px) + 1.0
    cv2.setRNGSeed(1)
    _, mask = cv2.findHomography(from_a, from_b, cv2.USAC_MAGSAC, loose, maxIters=8000, confidence=0.9999)
    if mask is None or int(mask.sum()) < LEAST_INLIERS:
        return None
    keep = mask.ravel().astype(bool)
    return reference.full(from_a[keep]), picture.full(from_b[keep])


def _features(sheet: Sheet) -> tuple[Array, Pixels]:
    found, words = cv2.SIFT.create(FEATURES, contrastThreshold=0.02).detectAndCompute(sheet.grey, None)
    if words is None or len(found) == 0:
        return np.zeros((0, 2)), np.zeros((0, 128), np.float32)
    # Square roots of the histograms compare better (R. Arandjelovic and A. Zisserman, CVPR 2012).
    words = np.sqrt(words / np.maximum(words.sum(axis=1, keepdims=True), 1e-6))
    return np.array([point.pt for point in found], dtype=np.float64), words


def _made_exact(
    reference: Sheet, to_board: Homography, picture: Sheet, side: str, vote: tuple[Array, Array]
) -> Match | str:
    """The map voted for, refined on patches, or why it cannot be."""
    board, pixels = to_board.applied(vote[0]), vote[1]
    wrong = _implausible(board, pixels, side)
    if wrong:
        return wrong
    plane, _ = cv2.findHomography(board, pixels, cv2.USAC_MAGSAC, 0.004 * max(picture.full_px), maxIters=4000)
    rough = 0.002 * max(picture.full_px)
    lens = len(board) >= 30
    try:
        view = View(side, Homography.of(np.asarray(plane, dtype=np.float64)))
        view = refined(view, board, pixels, picture.full_px, lens=lens, soft_px=rough)
        for search in (SEARCH, SEARCH // 2, SEARCH // 3):
            at, there, alike = patches(reference, to_board, picture, view, search)
            good = alike >= ALIKE
            if good.sum() < LEAST_INLIERS:
                return f"only {int(good.sum())} places of it look alike where they would lie"
            view = _best(view, at[good], there[good], picture.full_px)
        misses = np.hypot(*(view.millimetres(there) - at).T)
        pixel = np.sqrt(abs(np.linalg.det(to_board.matrix[:2, :2])))
        good &= misses < max(6 * float(np.median(misses[good])), 2.0 * pixel)
        if good.sum() < LEAST_INLIERS:
            return f"only {int(good.sum())} places of it look alike where they would lie"
        return Match(view, residuals(view, at[good], there[good]), float(good.mean()), int(good.sum()))
    except (DataError, ValueError, np.linalg.LinAlgError) as error:
        return f"no view fits what they have in common ({error.__class__.__name__})"


def _implausible(board: Array, pixels: Array, side: str) -> str:
    """Whether pairs that agree among each other still make no picture of a board."""
    spread = np.linalg.svd(pixels - pixels.mean(axis=0), compute_uv=False)
    if spread[1] < 0.05 * spread[0]:
        return "what the pictures have in common lies on one line"
    if float(np.ptp(board, axis=0).max()) < 1.0:
        return "what the pictures have in common lies on one spot"
    flip = np.array([-1.0, 1.0]) if side == "bottom" else np.array([1.0, 1.0])
    alike = similarity_from_pairs([(float(x), float(y)) for x, y in board * flip], [tuple(p) for p in pixels.tolist()])
    away = np.hypot(*(alike.applied(board * flip) - pixels).T)
    if float(np.median(away)) > 0.12 * float(np.ptp(pixels, axis=0).max()):
        return "the view would be far too askew"
    return ""


def _best(view: View, board: Array, pixels: Array, size: tuple[int, int]) -> View:
    """With the lens, unless a plain scan explains the pairs as well."""
    flip = np.array([-1.0, 1.0]) if view.side == "bottom" else np.array([1.0, 1.0])
    alike = similarity_from_pairs([(float(x), float(y)) for x, y in board * flip], [tuple(p) for p in pixels.tolist()])
    flat = View(view.side, alike.after(Homography.of(np.diag([flip[0], 1.0, 1.0]))))
    curved = refined(view, board, pixels, size, lens=len(board) >= 30)
    of_flat, of_curved = (np.hypot(*(v.pixels(board) - pixels).T) for v in (flat, curved))
    plain = np.quantile(of_flat, 0.9) <= 1.15 * np.quantile(of_curved, 0.9) + 0.05
    return flat if plain else curved


def patches(
    reference: Sheet, to_board: Homography, picture: Sheet, view: View, search: int
) -> tuple[Array, Array, Array]:
    """Places on the board, where the picture shows them, and how alike the two look there."""
    reference, picture = _of_one_scale(reference, to_board, picture, view)
    onto = to_board.after(reference.to_full)
    spots = _spots(reference, onto, picture, view)
    half = PATCH // 2
    wide = np.arange(-half - search, half + search + 1, dtype=np.float64)
    du, dv = np.meshgrid(wide, wide)
    at, there, alike = [], [], []
    for u, v in spots:
        shown = picture.here(view.pixels(onto.applied(np.column_stack([(u + du).ravel(), (v + dv).ravel()]))))
        fetched = cv2.remap(
            picture.grey, shown[:, 0].reshape(du.shape).astype(np.float32),
            shown[:, 1].reshape(du.shape).astype(np.float32), cv2.INTER_LINEAR,
        )  # fmt: skip
        wanted = reference.grey[int(v) - half : int(v) + half + 1, int(u) - half : int(u) + half + 1]
        dx, dy, score = _peak(cv2.matchTemplate(fetched, wanted, cv2.TM_CCOEFF_NORMED), search)
        at.append(onto.at(float(u), float(v)))
        there.append(view.pixels(np.array([onto.at(float(u) + dx, float(v) + dy)]))[0])
        alike.append(score)
    return np.array(at).reshape(-1, 2), np.array(there).reshape(-1, 2), np.array(alike)


def _of_one_scale(reference: Sheet, to_board: Homography, picture: Sheet, view: View) -> tuple[Sheet, Sheet]:
    """Both pictures with pixels of about one size on the board, and no more of them than serve."""
    reference, picture = reference.at_most(12e6), picture.at_most(16e6)
    middle = view.millimetres(np.array([[picture.full_px[0] / 2, picture.full_px[1] / 2]]))
    step = np.hypot(*(view.pixels(middle + np.array([0.01, 0.0])) - view.pixels(middle))[0]) / 0.01
    of_picture = step / picture.to_full.matrix[0, 0]
    of_reference = 1.0 / (np.sqrt(abs(np.linalg.det(to_board.matrix[:2, :2]))) * reference.to_full.matrix[0, 0])
    return reference.smaller(of_picture / of_reference), picture.smaller(1.15 * of_reference / of_picture)


def _spots(reference: Sheet, onto: Homography, picture: Sheet, view: View, across: int = 20) -> list[tuple[int, int]]:
    """Textured places, spread over what both pictures show."""
    width, height = reference.size_px
    edge = PATCH // 2 + 1
    # Where the picture lies on the reference.
    w, h = picture.full_px
    rim = np.array([[x * w, y * h] for x in (0.02, 0.5, 0.98) for y in (0.02, 0.5, 0.98)])
    on = onto.inverse.applied(view.millimetres(rim))
    low = np.maximum(on.min(axis=0), edge)
    high = np.minimum(on.max(axis=0), [width - edge - 1, height - edge - 1])
    cell = max(float((high - low).max()) / across, 6.0)
    strength = cv2.cornerMinEigenVal(cv2.GaussianBlur(reference.grey, (0, 0), 1.2), 7)
    spots = []
    for y in np.arange(low[1], high[1], cell):
        for x in np.arange(low[0], high[0], cell):
            part = strength[int(y) : int(min(y + cell, high[1])), int(x) : int(min(x + cell, high[0]))]
            if part.size:
                v, u = np.unravel_index(int(part.argmax()), part.shape)
                spots.append((int(x) + int(u), int(y) + int(v), float(part.max())))
    if not spots:
        return []
    floor = 0.08 * float(np.median([s for _, _, s in spots]))
    board = onto.applied(np.array([[u, v] for u, v, _ in spots], dtype=np.float64))
    there = view.pixels(board)
    inside = [0 < x < w and 0 < y < h for x, y in there]
    return [(u, v) for (u, v, s), here in zip(spots, inside, strict=True) if here and s > floor]


def _peak(score: Pixels, search: int) -> tuple[float, float, float]:
    """Where the best match lies from the middle, between pixels too, and how good it is. A peak at the rim is none."""
    _, best, _, (x, y) = cv2.minMaxLoc(score)
    if not (0 < x < 2 * search and 0 < y < 2 * search):
        return 0.0, 0.0, 0.0
    row, column = score[y, x - 1 : x + 2].astype(float), score[y - 1 : y + 2, x].astype(float)
    return x - search + _vertex(row), y - search + _vertex(column), float(best)


def _vertex(three: Array) -> float:
    bend = three[0] - 2 * three[1] + three[2]
    return 0.0 if bend >= 0 else float(np.clip(0.5 * (three[0] - three[2]) / bend, -0.5, 0.5))
