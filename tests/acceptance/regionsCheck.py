#!/usr/bin/env python3
"""Holds Nightjar's components, outlines and measures against OpenCV, scikit-image and SciPy on the same masks.

usage: regionsCheck.py FOLDER, which holds measured.json and one PNG for each mask (as tests/acceptance/regions.mjs writes it)

Conventions
    Places count pixel edges: the first pixel's centre is (0.5, 0.5). cv2 and skimage count pixel centres: 0.5 is added to theirs.
    A component is made of pixels that touch by an edge or a corner; its area is their number and its centre the mean of theirs.
    An outline runs half way between the pixels inside and outside (marching squares at 0.5), pixels that touch by a corner being apart.
    It cuts each corner of the stair by 1/8, so an outline without its holes holds half a pixel less than the pixels in it: exactly.
    cv2.findContours runs through the outermost pixels' centres: it holds n - B/2 - 1 of the n pixels in it (Pick's theorem, B its steps).
    Perimeters: the length of the outline, the same as skimage.measure.find_contours gives. Beside them stands the Cauchy-Crofton estimate
    in four directions (skimage.measure.perimeter_crofton), which is right on average over directions.
    Of a mask of 0 and 1 the outline is a stair: at an angle t it is cos t + (sqrt 2 - 1) sin t times too long, 1.0548 = 8 (sqrt 2 - 1)/pi
    on average; divided by that it is the estimate in four directions itself, crossing for crossing. Of samples that an edge fills in part, as a camera gives them, it needs no
    such factor; the estimate is then made on a mask four times as fine.
"""
import json
import sys
from os.path import join

import cv2
import numpy as np
import skimage
import scipy
from PIL import Image
from scipy import ndimage
from skimage import measure

STAIR = 8 * (2 ** .5 - 1) / np.pi
STAIR_WITHIN = 1e-6
PERIMETER_WITHIN = 0.02
# Corners that stray less than 0.3 pixel are dropped: a round edge loses two thirds of that at most.
LOSS_PX = 0.2
faults, done = [], {}


def check(name, what, ok, detail=""):
    done[what] = done.get(what, 0) + 1
    if not ok:
        faults.append(f"{name}: {what} {detail}")


def close(a, b, rel=1e-9, tol=1e-9):
    return np.allclose(a, b, rtol=rel, atol=tol)


def check_components(m, mask):
    count, labels, stats, centres = cv2.connectedComponentsWithStats(mask, connectivity=8, ltype=cv2.CV_32S)
    theirs = sorted((int(s[4]), [int(s[0]), int(s[1]), int(s[0] + s[2]), int(s[1] + s[3])], [float(c[0]) + .5, float(c[1]) + .5]) for s, c in zip(stats[1:], centres[1:]))
    ours = sorted((c["count"], c["box"], c["centre"]) for c in m["components"])
    check(m["name"], "pixel components, their areas and boxes equal cv2's", [o[:2] for o in ours] == [t[:2] for t in theirs], f"{len(ours)} and {count - 1}")
    if len(ours) == len(theirs):
        check(m["name"], "centres of pixel components equal cv2's", close([o[2] for o in ours] or 0, [t[2] for t in theirs] or 0))
    regions = sorted((int(r.area), [r.bbox[1], r.bbox[0], r.bbox[3], r.bbox[2]], [r.centroid[1] + .5, r.centroid[0] + .5]) for r in measure.regionprops(measure.label(mask, connectivity=2)))
    same = [o[:2] for o in ours] == [r[:2] for r in regions] and close([o[2] for o in ours] or 0, [r[2] for r in regions] or 0)
    check(m["name"], "pixel components, areas, boxes and centres equal skimage's", same)


def shoelace(p):
    q = np.roll(p, -1, axis=0)
    return abs(float(np.sum(p[:, 0] * q[:, 1] - q[:, 0] * p[:, 1]))) / 2


def check_outlines_against_skimage(m, mask):
    """The same lines: their number, and area, length and corners of each."""
    lines = [line[:-1, ::-1] - .5 for line in measure.find_contours(np.pad(mask, 1).astype(float), .5, fully_connected="low")]
    key = lambda area, length, count, first: (round(area, 6), round(length, 6), count, *np.round(first, 6))
    theirs = sorted(key(shoelace(p), float(np.hypot(*(np.roll(p, -1, 0) - p).T).sum()), len(p), p.min(0)) for p in lines)
    ours = sorted(key(c["area"], c["perimeter"], len(c["corners"]), np.min(c["corners"], 0)) for c in m["contours"])
    check(m["name"], "outlines and holes equal skimage.measure.find_contours", len(ours) == len(theirs) and close(ours, theirs, tol=2e-6))


def check_outlines_against_pixels(m, mask):
    """An outline holds half a pixel less than the pixels in it. Its pixels touch by edges, and a hole's also by corners."""
    labels = measure.label(mask, connectivity=1)
    filled = sorted(int(ndimage.binary_fill_holes(r.image, structure=np.ones((3, 3))).sum()) - .5 for r in measure.regionprops(labels))
    outer = sorted(c["area"] for c in m["contours"] if not c["isHole"])
    check(m["name"], "an outline holds half a pixel less than its pixels (scipy, skimage)", len(outer) == len(filled) and close(outer, filled, tol=1e-6))
    for c in m["contours"]:
        theirs = cv2.contourArea(np.array(c["corners"], np.float32))
        check(m["name"], "areaUm2 equals cv2.contourArea of the same corners", close(c["area"], theirs, rel=1e-5, tol=1e-3), f"{c['area']} {theirs}")
        moments = cv2.moments(np.array(c["corners"], np.float32))
        if c["area"] > 4:
            check(m["name"], "centroid equals cv2.moments' of the same corners", close(c["centre"], [moments["m10"] / moments["m00"], moments["m01"] / moments["m00"]], rel=1e-4, tol=1e-2))
        arc = cv2.arcLength(np.array(c["corners"], np.float32), True)
        check(m["name"], "perimeterUm equals cv2.arcLength of the same corners", close(c["perimeter"], arc, rel=1e-5, tol=1e-3))


def check_against_cv2_contours(m, mask):
    """cv2's own outlines, through pixel centres, hold the same pixels by Pick's theorem."""
    padded = np.pad(mask, 1)
    contours, _ = cv2.findContours(padded, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    steps = lambda c: len(c) if len(c) > 1 else 0
    by_pick = sum(cv2.contourArea(c) + steps(c) / 2 + 1 for c in contours)
    background = measure.label(padded == 0, connectivity=1)
    held = int((background != background[0, 0]).sum())
    check(m["name"], "pixels inside cv2.findContours' outlines by Pick's theorem", abs(by_pick - held) < 1e-6, f"{by_pick} {held}")


def within(m, what, share, limit):
    shares.setdefault(what, []).append(share)
    check(m["name"], f"{what} within its bound", abs(share) <= limit, f"{share:+.2%}, bound {limit:.2%}")


def check_stair(m, mask):
    """The outline of one smooth shape as a mask of 0 and 1."""
    [c] = [c for c in m["contours"] if not c["isHole"]]
    within(m, "perimeter over 1.0548, mask of 0 and 1, against perimeter_crofton", c["perimeter"] / STAIR / measure.perimeter_crofton(np.pad(mask, 2), directions=4) - 1, STAIR_WITHIN)
    within(m, "area of a kept outline against its pixels", c["simpleArea"] / mask.sum() - 1, LOSS_PX * c["perimeter"] / mask.sum())


def check_soft(m, mask):
    """The outline that is kept of a smooth shape with partly filled samples, against a finer mask of the same."""
    finer = m["finer"]
    [c] = m["contours"]
    means = mask.reshape(m["height"] // finer, finer, m["width"] // finer, finer).mean((1, 3))
    [line] = measure.find_contours(np.pad(means, 1), .5)
    check(m["name"], "outline through partly filled samples equals skimage.measure.find_contours", close(c["area"], shoelace(line[:-1]), rel=1e-5))
    within(m, "perimeter of a kept outline, partly filled samples, against perimeter_crofton", c["simplePerimeter"] * finer / measure.perimeter_crofton(np.pad(mask, 2), directions=4) - 1, PERIMETER_WITHIN)
    within(m, "area of a kept outline, partly filled samples, against pixels", c["simpleArea"] * finer * finer / mask.sum() - 1, LOSS_PX * c["perimeter"] * finer * finer / mask.sum())


def check_filled(m, mask):
    """Which pixel centres lie in a polygon. A centre that the two tell apart must lie on the edge to within rounding."""
    corners = np.array(m["polygon"])[:, ::-1] - .5
    theirs = measure.grid_points_in_poly(mask.shape, corners)
    theirs = theirs == 1 if theirs.dtype != bool else theirs
    check(m["name"], "pixels filled by a polygon equal skimage.measure.grid_points_in_poly", bool((theirs == (mask > 0)).all()), f"{int((theirs != (mask > 0)).sum())} differ")


def check_circle(m, mask):
    """The largest inscribed circle: the exact distance transform less half a pixel."""
    most = float(ndimage.distance_transform_edt(np.pad(mask, 1)).max())
    check(m["name"], "largest inscribed circle equals scipy.ndimage.distance_transform_edt", close(m["circleRadius"], max(0., most - .5), rel=1e-9, tol=1e-9))


def check_all(m, mask):
    check(m["name"], "the mask has its size", mask.shape == (m["height"], m["width"]))
    if m["kind"] == "soft":
        return check_soft(m, mask)
    for part in (check_components, check_outlines_against_skimage, check_outlines_against_pixels, check_against_cv2_contours, check_circle):
        part(m, mask)
    if m["kind"] == "smooth":
        check_stair(m, mask)
    if m["kind"] == "polygon":
        check_filled(m, mask)


shares = {}
folder = sys.argv[1]
for m in json.load(open(join(folder, "measured.json"))):
    check_all(m, (np.array(Image.open(join(folder, m["name"] + ".png")).convert("L")) > 0).astype(np.uint8))
print(f"OpenCV {cv2.__version__}, scikit-image {skimage.__version__}, SciPy {scipy.__version__}, NumPy {np.__version__}")
for what, count in done.items():
    print(f"{count:6d}  {what}")
for what, found in shares.items():
    print(f"{min(found):+.2%} to {max(found):+.2%}  {what}")
for fault in faults[:40]:
    print("FAULT", fault, file=sys.stderr)
print(f"{len(faults)} faults")
sys.exit(1 if faults else 0)
