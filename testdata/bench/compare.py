#!/usr/bin/env python3
"""Times colonnade's render against other ways to the same frames, in one run and in turns.

usage: compare.py COLONNADE [--size 1920x1080] [--frames 300] [--cores 0] [--rounds 3] [--folder /tmp]

The photo set is made from a real photograph (Debian's mate-backgrounds): six levels, six columns over 57 % of
the picture, coloured patches of another photograph for objects. The others are
  narrow   colonnade again, with 24 columns in the place of six: the same area, a quarter of the width and the feather
  write    the same bytes from a ready buffer, one file a frame
  opencv   compositing and imwrite at compression level 1, by OpenCV and numpy (Debian's python3-opencv)
  vips     libvips' PNG writer at level 1, from frames that are already composited (Debian's libvips-tools):
           encoding alone
Every way writes the same level tuples. What is printed are medians of whole processes, and their ratios.
"""
import argparse, os, shutil, statistics, subprocess, sys, tempfile, time
import numpy as np, cv2

BACKGROUNDS = "/usr/share/backgrounds/mate"
LEVELS, COLUMNS, NARROW = 6, 6, 24


def pictures(width, height):
    found = {}  # one picture of each name: some come in several sizes
    for folder, _, names in sorted(os.walk(BACKGROUNDS)):
        for name in sorted(names):
            if name.lower().endswith((".jpg", ".png")):
                image = cv2.imread(os.path.join(folder, name))
                subject = name.split(".")[0].split("_")[0]
                if image is not None and image.shape[0] >= 1080 and image.shape[1] >= 1920:
                    if subject not in found or found[subject].size < image.size:
                        found[subject] = image
    if len(found) < 2:
        sys.exit("compare.py: no photographs; install Debian's mate-backgrounds")
    found = sorted(found.values(), key=lambda i: -i.size)
    return [cv2.resize(i, (width, height), interpolation=cv2.INTER_AREA if i.shape[1] > width else cv2.INTER_CUBIC) for i in found[:2]]


def make_set(folder, width, height, frames):
    base, other = pictures(width, height)
    os.makedirs(os.path.join(folder, "photos"))
    boxes = make_boxes(width, height, COLUMNS)
    for level in range(LEVELS):
        photo = base.copy()
        for x, y, w, h in boxes:
            step = h // LEVELS
            for k in range(level):
                top = y + h - (k + 1) * step
                photo[top:top + step, x + w // 4:x + 3 * w // 4] = other[top:top + step, x + w // 4:x + 3 * w // 4]
        cv2.imwrite(os.path.join(folder, "photos", f"photo-{level}.jpg"), photo, [cv2.IMWRITE_JPEG_QUALITY, 92])
    make_piece(folder, "narrow", make_boxes(width, height, NARROW), 12 * COLUMNS / NARROW, frames)
    return boxes, make_piece(folder, "columns", boxes, 12, frames)


def make_boxes(width, height, columns):
    pitch = width / columns
    return [(int(pitch * (c + 0.15)), int(height * 0.1), int(pitch * 0.70), int(height * 0.82)) for c in range(columns)]


def make_piece(folder, name, boxes, feather, frames):
    """Writes a column file and a level table, which it returns."""
    columns = len(boxes)
    with open(os.path.join(folder, name + ".toml"), "w") as f:
        f.write(f"feather = {feather}\n")
        for c, (x, y, w, h) in enumerate(boxes):
            f.write(f'[[column]]\nname = "c{c}"\nband = [{100 * (c + 1)}, {100 * (c + 2)}]\nbox = [{x}, {y}, {w}, {h}]\n')
    random = np.random.default_rng(1)
    rows = np.zeros((frames, columns), int)
    now = random.integers(0, LEVELS, columns)
    for n in range(frames):  # each column moves 4 to 8 times a second at 25 frames a second
        move = random.random(columns) < 0.25
        now = np.where(move, np.clip(now + random.choice([-2, -1, 1, 2], columns), 0, LEVELS - 1), now)
        rows[n] = now
    with open(os.path.join(folder, name + ".csv"), "w") as f:
        f.write("frame,time," + ",".join(f"c{c}" for c in range(columns)) + "\n")
        for n, row in enumerate(rows):
            f.write(f"{n + 1},{n / 25:.6f}," + ",".join(map(str, row)) + "\n")
    return rows


def opencv_way(folder, boxes, rows, out):
    """Runs in its own process: decode, masks, then composite and write each frame."""
    photos = [cv2.imread(os.path.join(folder, "photos", f"photo-{k}.jpg")) for k in range(LEVELS)]
    cuts = []
    for x, y, w, h in boxes:
        mask = np.zeros(photos[0].shape[:2], np.float32)
        mask[y:y + h, x:x + w] = 1
        mask = cv2.GaussianBlur(mask, (0, 0), 12)
        ys, xs = np.nonzero(mask > 1e-5)
        box = slice(ys.min(), ys.max() + 1), slice(xs.min(), xs.max() + 1)
        cuts.append((box, mask[box][..., None], [p[box].astype(np.float32) for p in photos]))
    for n, row in enumerate(rows):
        frame = photos[0].copy()
        for (box, mask, parts), level in zip(cuts, row):
            below = frame[box].astype(np.float32)
            frame[box] = np.rint(below + mask * (parts[level] - below)).astype(np.uint8)
        cv2.imwrite(os.path.join(out, f"frame_{n + 1:06d}.png"), frame, [cv2.IMWRITE_PNG_COMPRESSION, 1])


def write_way(sizes, out):
    data = os.urandom(max(sizes))
    for n, size in enumerate(sizes):
        with open(os.path.join(out, f"frame_{n + 1:06d}.png"), "wb", buffering=0) as f:
            f.write(memoryview(data)[:size])


def main():
    p = argparse.ArgumentParser()
    p.add_argument("colonnade")
    p.add_argument("--size", default="1920x1080")
    p.add_argument("--frames", type=int, default=300)
    p.add_argument("--others", type=int, default=60, help="frames that the slow ways make; their times are scaled")
    p.add_argument("--cores", default="0,1")
    p.add_argument("--rounds", type=int, default=3)
    p.add_argument("--folder", default=tempfile.gettempdir())
    a = p.parse_args()
    width, height = map(int, a.size.split("x"))
    os.sched_setaffinity(0, {int(c) for c in a.cores.split(",")})
    cv2.setNumThreads(len(a.cores.split(",")))
    work = tempfile.mkdtemp(prefix="colonnade-bench-", dir=a.folder)
    try:
        boxes, rows = make_set(work, width, height, a.frames)
        others = min(a.others, a.frames)
        times = {}

        def timed(name, frames, do):
            out = os.path.join(work, "out-" + name)
            shutil.rmtree(out, ignore_errors=True)
            os.makedirs(out)
            os.sync()
            begun = time.perf_counter()
            child = os.fork()
            if child == 0:
                try:
                    do(out)
                    os._exit(0)
                except BaseException as e:
                    print(f"{name}: {e}", file=sys.stderr)
                    os._exit(1)
            if os.waitpid(child, 0)[1] != 0:
                sys.exit(f"compare.py: {name} failed")
            times.setdefault(name, []).append((time.perf_counter() - begun) / frames)
            return out

        def ours(out, piece="columns"):
            shutil.rmtree(out)
            piece = os.path.join(work, piece)
            subprocess.run([os.path.abspath(a.colonnade), "render", "-q", "--repeats", "write", "-o", out, "--levels", piece + ".csv",
                            piece + ".toml"], check=True)

        def vips(out):
            for n in range(others):
                source = os.path.join(work, "ready", f"{n}.ppm")
                subprocess.run(["vips", "copy", source, os.path.join(out, f"{n}.png[compression=1]")], check=True)

        have_vips = shutil.which("vips") is not None
        for round in range(a.rounds):
            out = timed("colonnade", a.frames, ours)
            timed("narrow", a.frames, lambda o: ours(o, "narrow"))
            sizes = [os.path.getsize(os.path.join(out, f"frame_{n + 1:06d}.png")) for n in range(a.frames)]
            timed("write", a.frames, lambda o: write_way(sizes, o))
            timed("opencv", others, lambda o: opencv_way(work, boxes, rows[:others], o))
            if have_vips:
                if round == 0:
                    os.makedirs(os.path.join(work, "ready"))
                    for n in range(others):
                        cv2.imwrite(os.path.join(work, "ready", f"{n}.ppm"), cv2.imread(os.path.join(out, f"frame_{n + 1:06d}.png")))
                timed("vips", others, vips)
        mean = sum(sizes) / len(sizes)
        print(f"{a.size}, {a.frames} frames of {mean / 1e6:.2f} MB, cores {a.cores}, medians of {a.rounds}, set-up included")
        mine = statistics.median(times["colonnade"])
        for name, values in times.items():
            middle = statistics.median(values)
            print(f"  {name:10s} {1000 * middle:9.2f} ms a frame  {middle / mine:7.2f} times colonnade's")
    finally:
        shutil.rmtree(work, ignore_errors=True)


if __name__ == "__main__":
    main()
