"""A photo set made of real photographs, and what a frame of it must be by the formula, in floating point.

The set is a crop of one photograph with objects cut out of others stacked on it: at level k every column holds
k objects. Each photo is a little brighter or darker than the first, as real exposures are, so that every pixel of
a column tells which photo it comes from.
"""

import harness
from harness import cv2, np

BACKGROUNDS = "/usr/share/backgrounds/mate/nature/"
STAGE = "Dune.jpg"
OBJECTS = ["Garden.jpg", "LadyBird.jpg", "TwoWings.jpg", "Storm.jpg", "Wood.jpg"]


def photograph(name, width, height):
    """A photograph brought to cover width x height."""
    picture = harness.read_picture(harness.data_file(BACKGROUNDS + name, "mate-backgrounds"))
    scale = max(width / picture.shape[1], height / picture.shape[0])
    picture = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    top, left = (picture.shape[0] - height) // 2, (picture.shape[1] - width) // 2
    return np.ascontiguousarray(picture[top:top + height, left:left + width])


def make(width, height, columns, levels):
    """The photos by level, each [height, width, 3]. columns is how many stacks stand side by side."""
    stage = photograph(STAGE, width, height).astype(float)
    objects = [photograph(name, width, height) for name in OBJECTS]
    random = np.random.default_rng(2026)
    photos = []
    for level in range(levels):
        picture = stage.copy()
        for c in range(columns):
            for k in range(level):
                # An ellipse of another photograph, on top of the ones below it.
                step = height * 0.8 / levels
                centre = (width * (c + 0.5) / columns, height * 0.92 - step * (k + 0.5))
                shape = np.zeros((height, width), np.uint8)
                cv2.ellipse(shape, tuple(int(round(256 * v)) for v in centre), (int(256 * width / columns * 0.42), int(256 * step * 0.55)),
                            0, 0, 360, 255, -1, cv2.LINE_AA, 8)
                share = shape[:, :, None] / 255
                picture += share * (objects[(c + k) % len(objects)] - picture)
        if level:
            picture *= 1 + random.uniform(-0.03, 0.03)
        photos.append(np.clip(np.round(picture), 0, 255).astype(np.uint8))
    return photos


def decode(code):
    """Light of an sRGB value, both 0..1 (IEC 61966-2-1)."""
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)


def encode(light):
    """The sRGB value of light, both 0..1 (IEC 61966-2-1)."""
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 0) ** (1 / 2.4) - 0.055)


def coverage(polygon, width, height):
    """The share of each pixel that a simple polygon covers: exact along x, 256 lines a pixel along y, even-odd rule."""
    lines = 256
    ys = (np.arange(height * lines) + 0.5) / lines
    crossings = []
    for (x0, y0), (x1, y1) in zip(polygon, [*polygon[1:], polygon[0]]):
        inside = (ys >= min(y0, y1)) & (ys < max(y0, y1))
        at = np.full(len(ys), np.inf)
        if y0 != y1:
            at[inside] = x0 + (ys[inside] - y0) * (x1 - x0) / (y1 - y0)
        crossings.append(at)
    crossings = np.sort(np.array(crossings), axis=0)
    area = np.zeros((height, width + 2))
    rows = np.arange(len(ys)) // lines
    for n, at in enumerate(crossings):
        there = np.isfinite(at)
        x = np.clip(at[there], 0, width)
        pixel = np.floor(x).astype(int)
        sign = 1 if n % 2 == 0 else -1
        np.add.at(area, (rows[there], pixel), sign * (1 - (x - pixel)))
        np.add.at(area, (rows[there], pixel + 1), sign * (x - pixel))
    return np.cumsum(area, axis=1)[:, :width] / lines


def mask(polygon, feather, width, height):
    """The mask of a region: its coverage, blurred by scipy's Gaussian; the picture's border goes on beyond it."""
    cover = coverage(polygon, width, height)
    if feather == 0:
        return cover
    return harness.scipy.ndimage.gaussian_filter(cover, feather, mode="nearest", truncate=4)


def compose(base, photos, masks, levels, linear=True):
    """A frame as codes in floating point, 0..255, not yet rounded.

    Each column in turn is laid over what is there; between two levels the photo is the mix of both, in light.
    """
    light = decode if linear else np.asarray
    out = light(base / 255)
    for column, level in zip(masks, levels):
        low = int(level)
        photo = light(photos[low] / 255)
        if level > low:
            photo = photo + (level - low) * (light(photos[low + 1] / 255) - photo)
        out = out + column[:, :, None] * (photo - out)
    return 255 * (encode(out) if linear else out)
