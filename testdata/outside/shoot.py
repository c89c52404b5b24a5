#!/usr/bin/python3
"""Sets made of real photographs, of which it is known what went wrong: what check and mark say of them, what steady leaves.

The truth is how the sets were made (stage.py): photographs reduced by area at known offsets, light multiplied by known
factors. The limits are the ones promised. scikit-image and OpenCV measure the same shifts on photos without objects. Both
draw fractions of a pixel, to whole ones or past them, so that only whole shifts are compared, by the median.

Where COLONNADE_LONG is 1, every photograph is used for everything.
"""

import concurrent.futures
import json
import os
import re
import subprocess
import sys
import tomllib

import harness
import photoset
import stage
from harness import cv2, np

try:
    from skimage.registration import phase_cross_correlation
except ImportError:
    harness.missing("the Python module skimage", "python3-skimage")

LONG = os.environ.get("COLONNADE_LONG") == "1"
NAMES = list(stage.PHOTOGRAPHS)
MEASURED = NAMES if LONG else ["nature/Garden.jpg", "nature/Aqua.jpg", "nature/TwoWings.jpg", "nature/Wood.jpg", "nature/Storm.jpg", "abstract/Elephants_3840x2160.jpg"]
FAULTY = NAMES if LONG else ["nature/Garden.jpg", "nature/Storm.jpg", "nature/Wood.jpg"]
MENDED = NAMES if LONG else ["nature/Garden.jpg", "nature/Wood.jpg", "abstract/Elephants_3840x2160.jpg"]
CLEAN, MARKED = 100, 30


def examine(check, what, *flags):
    """What check says, as its JSON object, and its exit status."""
    done = subprocess.run([check.arguments.colonnade, "check", "--json", *flags, str(what)], capture_output=True, text=True)
    if done.returncode not in (0, 3):
        sys.exit(f"FAIL check {what} ended with status {done.returncode}\n{done.stderr}")
    return json.loads(done.stdout), done.returncode


def texts(findings):
    """What is said, without the folders that photos lie in."""
    return [re.sub(r"[^,]*/", "", f["where"]) + ": " + f["what"] for f in findings]


def side_by_side(work, items):
    """The results of work on each item, in their order. Programs, numpy and OpenCV run beside each other in threads."""
    with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
        return list(pool.map(work, items))


def known_shifts(base, photo):
    """A photo's shift by OpenCV and by scikit-image, both under a Hann window. OpenCV errs by half a pixel where it has to pad a
    picture of odd size to one it can transform, so that it gets one it need not pad."""
    height, width = [next(v for v in range(side, 0, -1) if v % 2 == 0 and cv2.getOptimalDFTSize(v) == v) for side in base.shape[:2]]
    grey = [cv2.cvtColor(np.ascontiguousarray(p[:height, :width, ::-1]), cv2.COLOR_BGR2GRAY).astype(np.float32) for p in (base, photo)]
    window = cv2.createHanningWindow((width, height), cv2.CV_32F)
    opencv = cv2.phaseCorrelate(*[g - g.mean() for g in grey], window)[0]
    down, right = phase_cross_correlation(*[(g - g.mean()) * window for g in grey], upsample_factor=20)[0]
    return np.array(opencv), np.array([-right, -down])


def measures(check):
    """Light and shift against the truth: a set for each photograph, each photo off in its own way."""
    gains = [1.2, 0.8, 0.95, 1.02, 0.9, 0.99, 1.1, 0.85]

    def one(item):
        n, name = item
        s = stage.Stage(name)
        o = s.over
        # Whole pixels, fractions, far and near, each in another light.
        shifts = [(0, 0), (o, -2 * o), (8 * o, 5 * o), (-8 * o, -8 * o), (1, 0), (o // 2, -1), (3 * o + o // 2, -5 * o - 1), (-7 * o - 1, o // 2)]
        base = s.take(s.light, seed=1)
        photos = [base] + [s.take(s.put(k % (s.levels + 1)), dx=dx, dy=dy, gain=gain, noise=1 + k % 3, seed=10 * n + k)
                           for k, ((dx, dy), gain) in enumerate(zip(shifts, gains), 1)]
        found, _ = examine(check, s.write(check.work / f"measures-{n}", photos))
        out = []
        for k, ((dx, dy), gain) in enumerate(zip(shifts, gains), 1):
            photo, truth = found["photos"][k], np.array([dx, dy]) / o
            whole = dx % o == 0 and dy % o == 0
            others = known_shifts(base, s.take(s.light, dx=dx, dy=dy, gain=gain, noise=1 + k % 3, seed=10 * n + k)) if whole else ()
            out.append({"name": f"{name}, photo {k}", "trusted": photo["shift_trusted"] and photo["light_trusted"], "whole": whole,
                        "light": abs(photo["light"] - np.log2(gain)), "shift": np.abs(photo["shift"] - truth).max(),
                        "others": [np.abs(photo["shift"] - v).max() for v in others], "apart": np.abs(others[0] - others[1]).max() if whole else 0})
        return out

    all_ = sum(side_by_side(one, enumerate(MEASURED)), [])
    check.claim(all(m["trusted"] for m in all_), f"light and shift are measured in {len(all_)} photos; not in {[m['name'] for m in all_ if not m['trusted']]}")
    whole = [m for m in all_ if m["whole"]]
    for what, list_, key, limit, unit in [("light", all_, "light", 0.005, " stops"), ("shift by whole pixels", whole, "shift", 0.1, " pixels"),
                                          ("shift by fractions", [m for m in all_ if not m["whole"]], "shift", 0.15, " pixels")]:
        worst = max(list_, key=lambda m: m[key])
        check.at_most(f"{what}, {len(list_)} photos, worst off ({worst['name']})", worst[key], limit, unit)
    for i, library in enumerate(["OpenCV", "scikit-image"]):
        check.at_most(f"shift by whole pixels, {len(whole)} photos, median off {library}'s (the two are {np.median([m['apart'] for m in whole]):.3f} apart)",
                      np.median([m["others"][i] for m in whole]), 0.1, " pixels")


def plant(s, other, n):
    """Faults by name: the photos, and what must be said of them, and what may be said beside it: nothing, as a rule. other is another
    stage."""
    levels = [s.put(k) for k in range(s.levels + 1)]
    clean = [s.take(light, seed=100 * n + k) for k, light in enumerate(levels)]

    def again(k, light=None, **taking):
        taken = s.take(levels[k] if light is None else light, **{"seed": 100 * n + k, **taking})
        return clean[:k] + [taken] + clean[k + 1:]

    o = s.over
    pushed = [clean[k] if k < 3 else s.take(s.put(k, pushed=(1, 0, s.room * 0.03)), seed=100 * n + k) for k in range(s.levels + 1)]
    x, y, w, h = s.columns[0]["box"]
    strange = cv2.resize(other.take(other.light), (s.width, s.height))
    edge = "its edge would show"  # of both columns beside a shadow
    faults = {
        "brighter by 2 %": (again(2, gain=1.02), ["shot-02.jpg: it is", "brighter"]),
        "brighter by 20 %": (again(1, gain=1.2), ["shot-01.jpg: it is", "brighter"]),
        "darker by 3 %": (again(4, gain=0.97), ["shot-04.jpg: it is", "darker"]),
        "darker by 20 %": (again(3, gain=0.8), ["shot-03.jpg: it is", "darker"]),
        # On a stage that is red itself this is brighter as well.
        "another white balance": (again(2, gain=(1.05, 1, 0.95)), ["shot-02.jpg: its colour is off"], "shot-02.jpg: it is"),
        "nudged by half a pixel": (again(2, dx=(o + 1) // 2), ["shot-02.jpg: the camera has moved"]),
        "kicked by 8 pixels": (again(3, dx=-8 * o, dy=3 * o), ["shot-03.jpg: the camera has moved"]),
        "slightly blurred": (again(2, blur=1), ["shot-02.jpg: it is blurred"]),
        "blurred": (again(1, blur=1.5), ["shot-01.jpg: it is blurred"]),
        "blurred at the top": (again(4, blur=2.5), ["shot-04.jpg: it is blurred"]),
        "far out of focus": (again(2, blur=4), ["shot-02.jpg: it"]),
        "noisy": (again(3, noise=8), ["shot-03.jpg: its noise is"]),
        "changed places": ([clean[0], clean[1], clean[3], clean[2], clean[4]], ["shot-02.jpg,shot-03.jpg: these two seem to have changed places"]),
        "the first changed places": ([clean[0], clean[2], clean[1], clean[3], clean[4]], ["shot-01.jpg,shot-02.jpg: these two seem to have changed places"]),
        "missing": (clean[:2] + clean[3:], ["shot-02.jpg", "a photo seems to be missing"]),
        "an object pushed": (pushed, ["shot-03.jpg, column \"c1\": what stood at level 2 has moved"]),
        "an object forgotten": (again(2, s.put(2, without=(2, 1))), ["shot-02.jpg, column \"c2\": nothing new is there at level 2"]),
        "a shadow spilt": (again(2, s.put(2, shadow=(x + w, y + h * 0.8, s.width * 0.05, s.height * 0.05, 0.35))), [f"shot-02.jpg, column \"c0\": {edge}"], edge),
        "a shadow over a stack": (again(3, s.put(3, shadow=(x + w / 2, y + h * 0.5, w * 0.8, s.height * 0.1, 0.3))), [f"shot-03.jpg, column \"c0\": {edge}"], edge),
        "another scene": (clean[:2] + [strange] + clean[3:], ["shot-02.jpg: its still parts do not match"]),
    }
    return clean, faults


def faults(check):
    """Each fault that is planted is named, and no other."""

    def one(item):
        n, name = item
        s = stage.Stage(name)
        clean, planted = plant(s, stage.Stage(NAMES[(NAMES.index(name) + 1) % len(NAMES)]), n)
        out = []
        for what, (photos, words, *more) in planted.items():
            found, status = examine(check, s.write(check.work / f"{n} {what}", photos))
            said = texts(found["faults"])
            hit = [t for t in said if all(w in t for w in words)]
            rest = [t for t in said if t not in hit and not any(m in t for m in more)]
            out.append((f"{name}: {what}", status == 3 and len(hit) == 1, rest, said))
        return out

    all_ = sum(side_by_side(one, enumerate(FAULTY)), [])
    for what, named, rest, said in all_:
        if not named or rest:
            print("    ", what, said)
    check.equal(f"faults named, of {len(all_)} planted", sum(named for _, named, _, _ in all_), len(all_))
    check.equal("what else is named beside them", sum(len(rest) for _, _, rest, _ in all_), 0)


def random_stage(n, columns, levels, **more):
    return stage.Stage(NAMES[n % len(NAMES)], columns, levels, over=2, seed=n + 1, **more)


def clean(check):
    """Sets on which nothing is wrong are blamed for nothing: light that flickers by less than is seen, noise, JPEG."""

    def one(n):
        random = np.random.default_rng(n)
        s = random_stage(n, int(random.integers(2, 6)), int(random.integers(3, 7)), width=540, height=360)
        noise, quality = random.uniform(0, 3), int(random.integers(86, 98))
        photos = [s.take(s.put(k), noise=noise, seed=1000 * n + k, gain=1 + random.uniform(-0.004, 0.004)) for k in range(s.levels + 1)]
        file = s.write(check.work / f"clean-{n}", photos, quality=quality)
        # Every fifth as a folder that has no column file yet.
        found, status = examine(check, file.parent / "photos" if n % 5 == 4 else file)
        return f"set {n}, {s.name}, {len(s.columns)} columns, {s.levels} levels, noise {noise:.1f}, quality {quality}", texts(found["faults"]), status

    all_ = side_by_side(one, range(CLEAN))
    for what, said, status in all_:
        if said or status:
            print("    ", what, said)
    check.equal(f"faults named in {CLEAN} clean sets", sum(len(said) for _, said, _ in all_), 0)


def marks(check):
    """Columns are found: of 30 sets at least 28 as they should be."""

    def one(n):
        random = np.random.default_rng(500 + n)
        s = random_stage(n, int(random.integers(2, 9)), int(random.integers(3, 7)), width=600, height=360)
        drift, noise = random.uniform(0, 0.1), random.uniform(0.5, 2.5)
        photos = [s.take(s.put(k), noise=noise, seed=1000 * n + k, gain=1 + random.uniform(-drift, drift) * (k > 0)) for k in range(s.levels + 1)]
        folder = s.write(check.work / f"marks-{n}", photos, quality=int(random.integers(86, 98))).parent
        check.run("mark", "-o", folder / "found.toml", folder / "photos")
        regions = [c["region"] for c in tomllib.loads((folder / "found.toml").read_text())["column"]]
        covers = [photoset.coverage(r, s.width, s.height) for r in regions]
        shared = int(np.count_nonzero(np.sum(covers, axis=0) > 1 + 1e-6))
        covered = min(max(c[s.outlines(k)].mean() for c in covers) for k in range(len(s.columns)))
        return f"set {n}, {s.name}, {len(s.columns)} columns, {s.levels} levels", len(regions) == len(s.columns), covered, shared

    all_ = side_by_side(one, range(MARKED))
    good = 0
    for what, counted, covered, shared in all_:
        if counted and covered >= 0.99 and shared == 0:
            good += 1
        else:
            print("    ", what, "all found" if counted else "another number found", f"covered {covered:.3f}, {shared} pixels shared")
    check.at_least(f"marked as they should be, of {MARKED} sets", good, 28)


def mended(check):
    """The frames of a drifted set against those of the set without drift, before steady and after."""

    def one(item):
        n, name = item
        s = stage.Stage(name)
        lights = [s.put(k) for k in range(s.levels + 1)]
        rows = [[k, (k + 2) % (s.levels + 1), s.levels - k] for k in range(s.levels + 1)]
        o = s.over
        # The columns within their soft edges: around them the base plate is the same in all.
        boxes = [np.s_[y + 4:y + h - 4, x + 4:x + w - 4] for x, y, w, h in (c["box"] for c in s.columns)]
        shown = [(i, level, box) for i, row in enumerate(rows) for level, box in zip(row, boxes)]

        def frames(what, photos, *flags):
            file = check.work / f"{what}-{n}" / "columns.toml"
            if not file.exists():
                s.write(file.parent, photos, "png")  # JPEG would leave an error of its own
            harness.write_levels(file.parent / "levels.csv", [c["name"] for c in s.columns], rows, 25)
            folder = file.parent / ("frames" + "".join(flags))
            check.run("render", "-q", "--levels", file.parent / "levels.csv", *flags, "-o", folder, file)
            return [harness.read_picture(harness.frame_path(folder, i + 1)).astype(float) for i in range(len(rows))]

        def seam(what, *flags):
            found, _ = examine(check, check.work / f"{what}-{n}" / "columns.toml", *flags)
            return max(level["seam_as_is"] for c in found["columns"] for level in c["levels"])

        plain = [s.take(light, noise=0) for light in lights]
        truth = frames("truth", plain)
        out = []
        for what, times, drift, flag in [
            ("light", 10, [{}] + [{"gain": g} for g in (0.8, 1.15, 0.9, 1.2)], "light"),
            ("colour", 10, [{}] + [{"gain": g} for g in ((0.85, 0.8, 0.8), (1.1, 1.15, 1.2), (0.9, 0.87, 0.8), (1.2, 1.2, 1.12))], "light"),
            ("shift by whole pixels", 10, [{}] + [{"dx": x * o, "dy": y * o} for x, y in ((1, 0), (-3, 2), (8, -5), (0, 4))], "shift"),
            ("shift by fractions", 3, [{}] + [{"dx": x, "dy": y} for x, y in ((o // 2, 1), (-3 * o - 1, o // 2), (5 * o + o // 2, -o - 1), (1, 2 * o))], "shift"),
        ]:
            photos = [s.take(light, noise=0, **d) for light, d in zip(lights, drift)]
            drifted, steady = frames(what, photos), frames(what, photos, "--steady", flag)

            def error(picture):
                """The root mean square in codes. What is white in the drifted photo was cut off by the sensor: nobody knows it."""
                off = [(picture(i, level) - truth[i])[box][photos[level][box] < 255 if flag == "light" else ...].ravel() for i, level, box in shown]
                return float(np.sqrt(np.mean(np.concatenate(off) ** 2)))

            # What no mending gets below: the drifted photo, rounded to 8 bits, brought back by the true gain and rounded again.
            back = [np.round(255 * photoset.encode(photoset.decode(p / 255) / np.asarray(d.get("gain", 1.0)))) for p, d in zip(photos, drift)]
            out.append({"name": name, "what": what, "times": times, "before": error(lambda i, _: drifted[i]), "after": error(lambda i, _: steady[i]),
                        "floor": error(lambda _, level: back[level]) if flag == "light" else None, "was": seam(what), "left": seam(what, "--steady", flag)})
        return out

    all_ = sum(side_by_side(one, enumerate(MENDED)), [])
    for m in all_:
        gain = m["before"] / max(m["after"], 0.01)
        floor = f" ({m['floor']:.2f} by rounding alone)" if m["floor"] else ""
        check.claim(gain >= m["times"], f"{m['name']}: {m['what']}: an error of {m['before']:.2f} codes becomes {m['after']:.2f}{floor}, {gain:.1f} times less, at least {m['times']}; "
                    f"the largest step along an edge goes from {m['was']} 8-bit steps to {m['left']}")
    for what in dict.fromkeys(m["what"] for m in all_):
        these = [m for m in all_ if m["what"] == what]
        check.at_most(f"{what}, {len(these)} stages: the largest part of a step along an edge that is left", max(m["left"] / m["was"] for m in these), 0.1)
        if these[0]["floor"]:
            check.at_most(f"{what}, {len(these)} stages: the error that is left, times what rounding alone leaves", max(m["after"] / m["floor"] for m in these), 1.5)


def main():
    check = harness.Check(__doc__)
    for part in (measures, faults, clean, marks, mended):
        part(check)
    check.finish()


main()
