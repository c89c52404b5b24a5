"""A shoot made of real photographs, of which everything is known: the stage is one photograph, the objects are cut out of others.

A stage is kept in light and several times as large as its photos. A photo is reduced by area from it, at an offset of
whole large pixels, so that a shift by a fraction of a pixel is what a sensor sees. Drift and noise come last: light is
multiplied, encoded (IEC 61966-2-1), noise is added, and all is rounded to 8 bits.
"""

import functools

import harness
import photoset
from harness import cv2, np

BACKGROUNDS = "/usr/share/backgrounds/mate/"
# Photographs, and how many times a photo may be reduced from them so that it still has some 600 pixels across.
PHOTOGRAPHS = {
    "nature/Garden.jpg": 4, "nature/Aqua.jpg": 4, "nature/LadyBird.jpg": 4, "nature/TwoWings.jpg": 4, "nature/YellowFlower.jpg": 4,
    "nature/Wood.jpg": 4, "nature/Storm.jpg": 3, "nature/RainDrops.jpg": 3, "nature/Blinds.jpg": 3, "nature/Dune.jpg": 3,
    "nature/FreshFlower.jpg": 3, "nature/GreenMeadow.jpg": 2, "abstract/Elephants_3840x2160.jpg": 6, "desktop/GreenTraditional.jpg": 3,
}
OBJECTS = ["nature/Wood.jpg", "nature/Garden.jpg", "nature/LadyBird.jpg", "nature/Storm.jpg"]
MARGIN = 10  # photo pixels that the stage goes on past the photo

LIGHT = photoset.decode(np.arange(256) / 255).astype(np.float32)  # by code


@functools.lru_cache(maxsize=24)
def photograph(name):
    """A photograph's codes."""
    return harness.read_picture(harness.data_file(BACKGROUNDS + name, "mate-backgrounds"))


class Stage:
    """A photograph with room for stacks; lengths are in pixels of the photos to be taken."""

    def __init__(self, name, columns=3, levels=4, over=None, seed=None, width=None, height=None):
        """Without a seed all stacks are alike; with one they lean and differ, and the photograph is cropped somewhere and
        maybe turned over, to the width and height given."""
        self.name, self.over, self.levels = name, over or PHOTOGRAPHS[name], levels
        random = np.random.default_rng(seed or 0)
        codes = photograph(name)
        if seed is not None and random.integers(2):
            codes = codes[:, ::-1]
        rows, across = [min(n, side) for n, side in zip(codes.shape, [(v + 2 * MARGIN) * self.over if v else 1 << 20 for v in (height, width)])]
        y, x = [random.integers(n - side + 1) if seed is not None else 0 for n, side in zip(codes.shape, (rows, across))]
        self.light = LIGHT[codes[y:y + rows, x:x + across]]
        self.height, self.width = [n // self.over - 2 * MARGIN for n in self.light.shape[:2]]
        self.cloths = [photograph(n) for n in OBJECTS if n != name]
        self.room, self.ground = self.width / columns, self.height * 0.86
        self.feather = max(self.width / 400, 1.5)
        self.columns, self.stacks = [], []
        step = self.height * 0.66 / levels
        for c in range(columns):
            middle, y, stack = self.room * (c + 0.5), self.ground, []
            for _ in range(levels):
                vary = random.uniform if seed is not None else lambda a, b: (a + b) / 2
                ry, rx = step * vary(0.42, 0.5), self.room * vary(0.2, 0.27)
                stack.append((middle + self.room * vary(-0.04, 0.04), y - ry, rx, ry, int(random.integers(1 << 30))))
                y -= 1.9 * ry
            self.stacks.append(stack)
            self.columns.append({"name": f"c{c}", "band": [100 * 2**c, 200 * 2**c],
                                 "box": [round(middle - self.room * 0.37), round(self.height * 0.13), round(self.room * 0.74), round(self.height * 0.78)]})

    def around(self, x, y, rx, ry):
        """The slices of the stage that an ellipse lies in, and how far from its centre each pixel is, 1 at its edge."""
        n = self.over
        (x0, x1), (y0, y1) = [(max(round((a - r + MARGIN) * n) - 1, 0), min(round((a + r + MARGIN) * n) + 1, size))
                              for a, r, size in ((x, rx, self.light.shape[1]), (y, ry, self.light.shape[0]))]
        part, (v, u) = np.s_[y0:y1, x0:x1], np.ogrid[y0:y1, x0:x1]
        u, v = (u + 0.5) / n - MARGIN - x, (v + 0.5) / n - MARGIN - y
        return part, np.sqrt((u / rx) ** 2 + (v / ry) ** 2).astype(np.float32)

    def shade(self, light, x, y, rx, ry, depth):
        """Darkens by depth at the middle, fading out towards the edge."""
        part, r = self.around(x, y, rx, ry)
        light[part] *= (1 - depth * (1 - np.minimum(r, 1) ** 2) ** 2)[:, :, None]

    def lay(self, light, x, y, rx, ry, seed):
        """Lays an object: an ellipse of another photograph, lit from above, with a shadow where it rests."""
        self.shade(light, x, y + 0.9 * ry, rx * 1.15, ry * 0.4, 0.5)
        part, r = self.around(x, y, rx, ry)
        random = np.random.default_rng(seed)
        cloth = self.cloths[random.integers(len(self.cloths))]
        v, u = [int(random.integers(size - side + 1)) for size, side in zip(cloth.shape, r.shape)]
        lit = np.linspace(1.1, 0.65, r.shape[0], dtype=np.float32)[:, None, None]
        share = np.clip((1 - r) * min(rx, ry) * self.over + 0.5, 0, 1)[:, :, None]
        light[part] += share * (LIGHT[cloth[v:v + r.shape[0], u:u + r.shape[1]]] * lit - light[part])

    def put(self, level, pushed=None, without=None, shadow=None):
        """The stage with level objects in every column. pushed = (column, object, pixels) moves one to the right, without =
        (column, object) leaves one out, shadow = (x, y, rx, ry, depth) is cast over all."""
        light = self.light.copy()
        for c, stack in enumerate(self.stacks):
            for k, (x, *rest) in enumerate(stack[:level]):
                if (c, k) != without:
                    self.lay(light, x + (pushed[2] if pushed and pushed[:2] == (c, k) else 0), *rest)
        if shadow:
            self.shade(light, *shadow)
        return light

    def outlines(self, column):
        """The pixels of the photo that a column's objects cover at their full height."""
        y, x = np.mgrid[:self.height, :self.width] + 0.5
        return np.any([((x - a) / rx) ** 2 + ((y - b) / ry) ** 2 <= 1 for a, b, rx, ry, _ in self.stacks[column]], axis=0)

    def seen(self, light, dx=0, dy=0, gain=1.0, blur=0.0):
        """What a sensor sees, as codes in floating point, not cut off at 255. dx and dy are large pixels by which the scene has
        moved, gain is one figure or one for each channel, blur a standard deviation in photo pixels."""
        if blur:
            light = cv2.GaussianBlur(light, None, blur * self.over)
        n, m = self.over, MARGIN * self.over
        part = np.ascontiguousarray(light[m - dy:m - dy + self.height * n, m - dx:m - dx + self.width * n])
        small = cv2.resize(part, (self.width, self.height), interpolation=cv2.INTER_AREA)
        return 255 * photoset.encode(small * np.asarray(gain, np.float32))

    def take(self, light, noise=1.0, seed=0, **seeing):
        """A photo."""
        codes = self.seen(light, **seeing)
        if noise:
            codes = codes + np.random.default_rng(seed).normal(0, noise, codes.shape)
        return np.clip(np.round(codes), 0, 255).astype(np.uint8)

    def write(self, folder, photos, kind="jpg", quality=96, **keys):
        """Writes a set and its column file, and gives the latter's path."""
        (folder / "photos").mkdir(parents=True)
        options = [cv2.IMWRITE_JPEG_QUALITY, quality] if kind == "jpg" else [cv2.IMWRITE_PNG_COMPRESSION, 1]
        for k, photo in enumerate(photos):
            harness.write_picture(folder / "photos" / f"shot-{k:02d}.{kind}", photo, *options)
        harness.write_column_file(folder / "columns.toml", self.columns, photos="photos", feather=self.feather, fps=25, **keys)
        return folder / "columns.toml"
