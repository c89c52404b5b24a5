#!/usr/bin/python3
"""Frames of real photographs against the formula in floating point.

out = base; for each column in file order: out = out + mask x (photo[level] - out), in linear light by the sRGB
curve of IEC 61966-2-1, the masks by scipy, the frames decoded by OpenCV. The six columns' feathers overlap.
"""

import harness
import photoset
from harness import cv2, np

WIDTH, HEIGHT, LEVELS = 1280, 720, 6
FEATHERS = [12, 20, 2, 30, 8, 0]
FRAMES = 6


def regions():
    """Six regions side by side, near enough for their soft edges to run into each other."""
    step = WIDTH / 6
    out = []
    for c in range(6):
        left, right = c * step + 6, (c + 1) * step - 6
        out.append([(left + 9.5, 40.25 + 10 * c), (right, 30), (right - 4.75, HEIGHT - 10 * (c % 2)), (left, HEIGHT - 5 * c)])
    out[2].insert(2, (out[2][1][0] - 40, 360))  # concave
    out[0][0], out[0][3] = (0, 50), (0, HEIGHT)  # on the picture's border
    return out


class Piece:
    def __init__(self, check):
        self.check = check
        self.photos = photoset.make(WIDTH, HEIGHT, 6, LEVELS)
        for kind in ["png", "jpeg"]:
            (check.work / kind).mkdir()
        for level, photo in enumerate(self.photos):
            harness.write_picture(check.work / "png" / f"shot-{level}.png", photo, cv2.IMWRITE_PNG_COMPRESSION, 1)
            harness.write_picture(check.work / "jpeg" / f"shot-{level}.jpg", photo, cv2.IMWRITE_JPEG_QUALITY, 92)
        self.regions = regions()
        self.names = [f"column{c}" for c in range(6)]
        harness.write_column_file(check.work / "columns.toml", [
            {"name": name, "band": [100, 200], "region": region, "feather": feather}
            for name, region, feather in zip(self.names, self.regions, FEATHERS)
        ], photos="png")

    def render(self, folder, tuples, *flags):
        levels = self.check.work / (folder + ".csv")
        harness.write_levels(levels, self.names, tuples, 25)
        self.check.run("render", "--quiet", "--levels", levels, "-o", self.check.work / folder, *flags, self.check.work / "columns.toml")
        return [harness.read_picture(harness.frame_path(self.check.work / folder, n + 1)) for n in range(len(tuples))]

    def masks(self, scale=1):
        return [photoset.mask([(x * scale, y * scale) for x, y in region], feather * scale, round(WIDTH * scale), round(HEIGHT * scale))
                for region, feather in zip(self.regions, FEATHERS)]

    def compare(self, title, frames, wants):
        """Holds 8-bit frames against unrounded ones."""
        total, equal, within1, within2, worst = 0, 0, 0, 0, 0.0
        for got, want in zip(frames, wants, strict=True):
            off = np.abs(got - want)
            total += off.size
            equal += np.count_nonzero(got == np.round(want))
            within1 += np.count_nonzero(off <= 1)
            within2 += np.count_nonzero(off <= 2)
            worst = max(worst, off.max())
        self.check.at_least(f"{title}: {total} values, within 2 of 255", 100 * within2 / total, 99.9, " %")
        self.check.at_least(f"{title}: within 1 of 255", 100 * within1 / total, 99.99, " %")
        # What differs lies within a hair of half-way between two codes.
        self.check.at_least(f"{title}: equal to the rounded formula", 100 * equal / total, 99.9, " %")
        print(f"     worst {worst:.3f} of 255 off the unrounded formula")


def main():
    check = harness.Check(__doc__)
    piece = Piece(check)
    random = np.random.default_rng(7)
    whole = [[0] * 6, [LEVELS - 1] * 6, *random.integers(0, LEVELS, (FRAMES - 2, 6)).tolist()]
    between = np.round(random.uniform(0, LEVELS - 1, (FRAMES // 2, 6)), 3).tolist()
    masks, photos = piece.masks(), piece.photos

    # The figures below mean something only if a wrong mix would be seen.
    linear = photoset.compose(photos[0], photos, masks, whole[1])
    encoded = photoset.compose(photos[0], photos, masks, whole[1], linear=False)
    check.at_least("light and codes differ where columns meet, by", np.abs(linear - encoded).max(), 5, " of 255")

    piece.compare("step", piece.render("step", whole), [photoset.compose(photos[0], photos, masks, t) for t in whole])
    piece.compare("base 3", piece.render("based", whole[2:4], "--base", "3"),
                  [photoset.compose(photos[3], photos, masks, t) for t in whole[2:4]])
    piece.compare("dissolve", piece.render("dissolve", between, "--motion", "dissolve"),
                  [photoset.compose(photos[0], photos, masks, t) for t in between])
    piece.compare("encoded", piece.render("encoded", whole[2:4], "--light", "encoded"),
                  [photoset.compose(photos[0], photos, masks, t, linear=False) for t in whole[2:4]])
    piece.compare("encoded dissolve", piece.render("encoded-dissolve", between[:2], "--light", "encoded", "--motion", "dissolve"),
                  [photoset.compose(photos[0], photos, masks, t, linear=False) for t in between[:2]])

    # A crop on whole pixels is exact: the frame is a part of the whole picture.
    x, y, width, height = 101, 77, 1061, 600
    piece.compare("crop", piece.render("crop", whole[2:4], "--crop", f"{x},{y},{width},{height}"),
                  [photoset.compose(photos[0], photos, masks, t)[y:y + height, x:x + width] for t in whole[2:4]])

    # OpenCV's JPEGs hold colour at half the resolution, which each decoder enlarges in its own way; luminance, at the full
    # one, must be the same but for a code or two of rounding. It is the Y of JFIF, ITU-R BT.601's weights.
    luminance = np.array([0.299, 0.587, 0.114])
    decoded = [harness.read_picture(check.work / "jpeg" / f"shot-{level}.jpg") for level in range(LEVELS)]
    for got, t in zip(piece.render("from-jpeg", whole[2:4], "--photos", check.work / "jpeg"), whole[2:4], strict=True):
        off = np.abs(got - photoset.compose(decoded[0], decoded, masks, t))
        check.at_most("from JPEG: mean difference of colours", off.mean(), 2, " of 255")
        off = np.abs(got @ luminance - photoset.compose(decoded[0], decoded, masks, t) @ luminance)
        check.at_most("from JPEG: mean difference of luminance", off.mean(), 1, " of 255")
        check.at_least("from JPEG: luminance within 3 of 255", 100 * np.count_nonzero(off <= 3) / off.size, 99.9, " %")

    # Resizing kernels are a matter of taste; two good ones stay near each other.
    scale = 0.5
    small = [255 * photoset.encode(cv2.resize(photoset.decode(photo / 255), None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)) for photo in photos]
    for got, t in zip(piece.render("small", whole[2:4], "--size", f"{round(WIDTH * scale)}x{round(HEIGHT * scale)}"), whole[2:4], strict=True):
        off = np.abs(got - photoset.compose(small[0], small, piece.masks(scale), t))
        check.at_most("half size against INTER_AREA: mean difference", off.mean(), 2, " of 255")
    check.finish()


main()
