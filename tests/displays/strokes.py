"""Letters drawn with a pen: OpenCV's Hershey font, and what it lacks."""

import cv2
import numpy as np


def hershey(letter, thick):
    (w, _), _ = cv2.getTextSize(letter, cv2.FONT_HERSHEY_SIMPLEX, 2.0, thick)
    image = np.zeros((74, w + 8), np.uint8)
    cv2.putText(image, letter, (4, 54), cv2.FONT_HERSHEY_SIMPLEX, 2.0, 255, thick, cv2.LINE_AA)
    return image


def omega(thick):
    image = np.zeros((74, 52), np.uint8)
    cv2.ellipse(image, (26, 31), (17, 18), 0, 115, 425, 255, thick, cv2.LINE_AA)
    cv2.line(image, (8, 53), (20, 53), 255, thick, cv2.LINE_AA)
    cv2.line(image, (32, 53), (44, 53), 255, thick, cv2.LINE_AA)
    return image


def mu(thick):
    image = np.zeros((74, 40), np.uint8)
    cv2.line(image, (9, 26), (9, 70), 255, thick, cv2.LINE_AA)
    cv2.ellipse(image, (18, 42), (9, 11), 0, 0, 180, 255, thick, cv2.LINE_AA)
    cv2.line(image, (27, 26), (27, 54), 255, thick, cv2.LINE_AA)
    return image
