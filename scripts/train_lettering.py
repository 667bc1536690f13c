"""Train the small networks that read figures set in type and the marks on a display.

    python scripts/train_lettering.py FONT.ttf ... --bursts 9000

Needs scikit-learn and Pillow, which the program itself does not. The displays are drawn by `tests.displays.rendered`
in its tuned family, with the lettering of the fonts named; the judged family and its fonts are never used here.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT), str(ROOT / "src")]

from tests.displays import rendered  # noqa: E402 - the repository is put on the path first

from ohmwright.pictures.display.glass import glass_from_picture  # noqa: E402 - as above
from ohmwright.pictures.display.lettering import figure_patch, mark_patch  # noqa: E402 - as above
from ohmwright.pictures.display.marks import UNITS, WORDS, unit_boxes, word_boxes  # noqa: E402 - as above
from ohmwright.pictures.display.row import row_of  # noqa: E402 - as above

LETTERS = "0123456789-VAmkMΩµnFHzLOUTDCRESXIN"
OUT = ROOT / "src" / "ohmwright" / "pictures" / "display" / "lettering.npz"


def faces_of(paths: list[str]) -> dict[str, np.ndarray]:
    from PIL import Image, ImageDraw, ImageFont

    faces: dict[str, np.ndarray] = {}
    for number, path in enumerate(paths):
        font = ImageFont.truetype(path, 48)
        tall = sum(font.getmetrics())
        for letter in LETTERS:
            image = Image.new("L", (int(font.getlength(letter)) + 8, tall), 0)
            ImageDraw.Draw(image).text((4, 0), letter, fill=255, font=font)
            faces[f"{number}/{letter}"] = np.asarray(image)
        faces[f"{number}/box"] = np.array(font.getbbox("H"))
    return faces


def taught(count: int, faces: dict[str, np.ndarray]) -> tuple[list, list, list, list]:
    """Patches and what they say, cut out by the reader's own hands."""
    own = len({name.split("/")[0] for name in faces})
    tuned = dict(rendered.TUNED())
    for name, face in faces.items():
        number, letter = name.split("/")
        tuned[f"{int(number) + 2}/{letter}"] = face
    rendered._TUNED.update(tuned)
    rendered.LETTERS.update(faces)
    figures, signs, marks, words = [], [], [], []
    for seed in range(count):
        rng = np.random.default_rng([77, seed])
        look = rendered.panel(rng, apart=False)
        dots = str(rng.choice(["", "A", "B", "T", "T", "T"]))
        rows = int(rng.choice([7, 8, 9, 10, 12, 14, 16, 20]))
        lean, frame = 0.0 if dots else look.slant_deg, int(rng.integers(0, own + 2))
        look = replace(look, dots=dots, slant_deg=lean, frame=frame, rows=rows)
        shown = rendered.shown(rng, look.places)
        nonsense = rng.random() < 0.25
        if nonsense:
            unit = "".join(rng.choice(list(LETTERS[11:]), int(rng.integers(1, 4))))
            word = "".join(rng.choice(list("DCAOUTHLREMX"), int(rng.integers(2, 5))))
            shown = replace(shown, unit=unit, words=(word,))
        elif rng.random() < 0.7:
            shown = replace(shown, unit=str(rng.choice(UNITS)), words=tuple(rng.choice(WORDS, int(rng.integers(0, 3)))))
        drawing = _one_face(look, shown, own, rng)
        for _ in range(2):
            picture, corners = rendered.photographed(drawing, look, rendered.light(rng), rng)
            row = row_of(glass_from_picture(picture, corners), dark=look.dark_on_light)
            if row is not None:
                _cut(row, shown, figures, signs, marks, words, rng)
    return figures, signs, marks, words


def _cut(row, shown, figures, signs, marks, words, rng):
    text = shown.text.replace(".", "")
    if len(row.boxes) == len(text):
        _figures(row, text, figures, signs, rng)
    units, said = unit_boxes(row), word_boxes(row)
    if len(units) == 1:
        _marks(row.ink, units, (shown.unit,), marks, words, rng)
    if len(said) == len(shown.words):
        _marks(row.plain, said, shown.words, marks, words, rng)


def _one_face(look, shown, own, rng):
    if look.dots != "T":
        return rendered.drawn(look, shown)
    keep = rendered.LETTERS
    number = int(rng.integers(0, own))
    rendered.LETTERS = {**keep, **{f"0/{n.split('/')[1]}": f for n, f in keep.items() if n.startswith(f"{number}/")}}
    try:
        return rendered.drawn(look, shown)
    finally:
        rendered.LETTERS = keep


def _figures(row, text, figures, signs, rng):
    for box, sign in zip(row.boxes, text, strict=True):
        jog = rng.integers(-2, 3, 2)
        figures.append(figure_patch(row.ink, box.left + jog[0], box.right + jog[1], row.top, row.bottom))
        signs.append("0" if sign == "O" else sign)
        if sign != "-" and rng.random() < 0.25 and box.wide > 0.4 * row.high:
            half = box.wide // 2
            cut = [(box.left, box.left + half), (box.left + half, box.right)]
            cut += [(box.left + half, box.right + half + row.high // 4)]
            left, right = cut[int(rng.integers(0, 3))]
            figures.append(figure_patch(row.ink, left, right, row.top, row.bottom))
            signs.append("other")
        if rng.random() < 0.12:  # a figure with a band of light over it
            ink = row.ink.copy()
            y = int(rng.uniform(row.top, row.bottom))
            ink[max(0, y - row.high // 5) : y + row.high // 5] *= 0.1
            figures.append(figure_patch(ink, box.left, box.right, row.top, row.bottom))
            signs.append("other")


def _marks(ink, boxes, texts, marks, words, rng):
    for box, text in zip(boxes, texts, strict=True):
        known = text in UNITS or text in WORDS
        jog = rng.integers(-1, 2, 4)
        marks.append(mark_patch(ink, box.left + jog[0], box.right + jog[1], box.top + jog[2], box.bottom + jog[3]))
        words.append(text if known else "other")
        if len(text) > 1 and text not in ("diode",) and rng.random() < 0.2:
            # The end of a word whose beginning cannot be told apart from the glass.
            left = box.left + int(box.wide * rng.uniform(0.25, 0.5))
            part = ink.copy()
            part[:, :left] = 0
            if text not in ("mV", "µV", "mA", "nF", "Hz", "µA", "kΩ", "MΩ", "µF", "nF", "mF", "kHz"):
                marks.append(mark_patch(part, left, box.right, box.top, box.bottom))
                words.append("other")


def trained(patches, says, hidden: int, seed: int):
    from sklearn.neural_network import MLPClassifier

    x = np.array([p.ravel() for p in patches], np.float32)
    y = np.array(says)
    net = MLPClassifier(
        (hidden,), alpha=1e-4, batch_size=128, max_iter=40, early_stopping=True, random_state=seed, n_iter_no_change=10
    )
    net.fit(x, y)
    print(hidden, x.shape, "held out:", round(net.best_validation_score_, 4))
    (w1, w2), (b1, b2) = net.coefs_, net.intercepts_
    return w1, b1, w2, b2, net.classes_


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("fonts", nargs="+")
    parser.add_argument("--bursts", type=int, default=9000)
    parser.add_argument("--keep", type=Path, help="file for the patches, so that training again is quick")
    asked = parser.parse_args()
    if asked.keep and asked.keep.exists():
        with np.load(asked.keep, allow_pickle=False) as kept_before:
            figures, signs, marks, words = (kept_before[n] for n in ("figures", "signs", "marks", "words"))
    else:
        figures, signs, marks, words = taught(asked.bursts, faces_of(asked.fonts))
        if asked.keep:
            patches = {"figures": np.float16(figures), "marks": np.float16(marks)}
            np.savez_compressed(asked.keep, signs=signs, words=words, **patches)
    kept = {}
    for name, patches, says, hidden in (("figures", figures, signs, 96), ("marks", marks, words, 96)):
        for part, array in zip(("w1", "b1", "w2", "b2", "signs"), trained(patches, says, hidden, 5), strict=True):
            kept[f"{name}_{part}"] = array if part == "signs" else array.astype(np.float16)
    np.savez_compressed(OUT, **kept)
    print(OUT.stat().st_size, "bytes")


if __name__ == "__main__":
    main()
