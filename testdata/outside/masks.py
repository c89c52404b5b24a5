#!/usr/bin/python3
"""The masks against scipy.

Of a black photo 0 and a white photo 1, mixed as they are encoded, a frame at level 1 is the mask itself. It is held
against the polygon's coverage blurred by scipy.ndimage.gaussian_filter.
"""

import harness
import photoset
from harness import np

WIDTH, HEIGHT = 480, 320
FEATHERS = [0, 2, 5, 12, 30]
POLYGONS = {
    "upright box on whole pixels": [(100, 60), (300, 60), (300, 260), (100, 260)],
    "box on parts of pixels": [(99.3, 60.75), (300.6, 60.75), (300.6, 259.1), (99.3, 259.1)],
    "slanted": [(150.5, 40.25), (260, 55), (330.125, 290), (120, 275.5)],
    "on the top and bottom border": [(200, 0), (280, 0), (310, 320), (190, 320)],
    "in a corner": [(0, 0), (130, 0), (100.5, 90), (0, 150)],
    "on the right border": [(400.5, 100), (480, 80), (480, 250), (420, 240)],
    "concave": [(100, 50), (380, 50), (380, 110), (170, 120), (170, 200), (380, 210), (380, 280), (100, 280)],
    "concave, the other way round": [(100, 280), (240, 150.5), (380, 280), (380, 50), (240, 110), (100, 50)],
    "thinner than its feather": [(237.25, 20), (240.75, 20), (244, 300), (241, 300)],
    "nearly all of the picture": [(2, 1.5), (478, 3), (477, 318), (1, 317)],
}


def main():
    check = harness.Check(__doc__)
    photos = check.work / "photos"
    photos.mkdir()
    for level, code in enumerate([0, 255]):
        harness.write_picture(photos / f"shot-{level}.png", np.full((HEIGHT, WIDTH, 3), code, np.uint8))
    harness.write_levels(check.work / "levels.csv", ["only"], [[1]], 25)
    worst = {}
    for name, polygon in POLYGONS.items():
        harness.write_column_file(check.work / "columns.toml", [{"name": "only", "band": [20, 200], "region": polygon}],
                                  photos="photos", light="encoded")
        for feather in FEATHERS:
            frames = check.work / "frames"
            check.run("render", "--quiet", "--fresh", "--feather", feather, "--levels", check.work / "levels.csv", "-o", frames, check.work / "columns.toml")
            got = harness.read_picture(harness.frame_path(frames, 1)).astype(float)
            want = 255 * photoset.mask(polygon, feather, WIDTH, HEIGHT)
            off = np.abs(got - want[:, :, None])
            y, x, _ = np.unravel_index(off.argmax(), off.shape)
            worst[feather] = max(worst.get(feather, 0), off.max())
            check.at_most(f"{name}, feather {feather}: worst pixel ({x}, {y})", off.max(), 1, " of 255")
    print("     worst by feather:", ", ".join(f"{feather}: {off:.2f}" for feather, off in worst.items()))
    check.finish()


main()
