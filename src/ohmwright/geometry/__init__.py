"""Frames and the maps between them, cameras, and where the pads of a package are."""

from ohmwright.geometry.camera import Lens, View, hand_held_view, px_per_mm, scan_view
from ohmwright.geometry.frames import BoardPoint, Outline, PicturePoint
from ohmwright.geometry.packages import Land, LandPattern, Pad, land_pattern, pad_centres, part_pattern
from ohmwright.geometry.transforms import (
    Homography,
    Pair,
    affine,
    affine_from_pairs,
    homography_from_pairs,
    similarity,
    similarity_from_pairs,
)

__all__ = [
    "BoardPoint",
    "Homography",
    "Land",
    "LandPattern",
    "Lens",
    "Outline",
    "Pad",
    "Pair",
    "PicturePoint",
    "View",
    "affine",
    "affine_from_pairs",
    "hand_held_view",
    "homography_from_pairs",
    "land_pattern",
    "pad_centres",
    "part_pattern",
    "px_per_mm",
    "scan_view",
    "similarity",
    "similarity_from_pairs",
]
