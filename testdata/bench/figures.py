#!/usr/bin/env python3
"""Measures what a render, a preview, a check, a mark and a proof take, and prints a line for each.

usage: figures.py COLONNADE [--folder /tmp]

The photo sets are those of compare.py. Times are wall clock on all cores, the best of three; memory is the peak that the
system tells of the process. The disk must hold 45 GB.
"""
import argparse, os, shutil, subprocess, sys, tempfile, time
import numpy as np, cv2
from scipy.io import wavfile
import compare

SIZES = {"1080p": (1920, 1080), "4K": (3840, 2160), "24 megapixels": (6000, 4000)}


def run(command):
    """Wall-clock seconds, processor seconds and peak memory in MB."""
    # Debian's time starts the program: a child of this script would have the script's own memory for its peak.
    with tempfile.NamedTemporaryFile("r") as told:
        child = subprocess.run(["/usr/bin/time", "-q", "-f", "%e %U %S %M", "-o", told.name] + command, capture_output=True, text=True)
        if child.returncode not in (0, 3):
            sys.exit(f"figures.py: {command}: {child.stderr}")
        wall, user, system, memory = map(float, told.read().split()[-4:])
    return wall, user + system, memory / 1024


def best(command, fresh, rounds=3):
    results = []
    for _ in range(rounds):
        shutil.rmtree(fresh, ignore_errors=True)
        os.sync()
        results.append(run(command))
    return min(results)


def tell(what, figure):
    print(f"{what:60s} {figure}", flush=True)


def main():
    p = argparse.ArgumentParser()
    p.add_argument("colonnade")
    p.add_argument("--folder", default=tempfile.gettempdir())
    a = p.parse_args()
    program = os.path.abspath(a.colonnade)
    os.environ["COLONNADE_CACHE"] = "off"
    work = tempfile.mkdtemp(prefix="colonnade-figures-", dir=a.folder)
    out = os.path.join(work, "out")
    try:
        for name, (width, height) in SIZES.items():
            folder = os.path.join(work, name.replace(" ", "-"))
            compare.make_set(folder, width, height, 10000)
            piece = os.path.join(folder, "columns.toml")
            render = [program, "render", "-q", "--repeats", "write", "-o", out, "--levels", os.path.join(folder, "columns.csv")]
            empty, every = (os.path.join(folder, table + ".csv") for table in ("empty", "every"))
            for table, levels in ((empty, [0] * compare.COLUMNS), (every, range(compare.LEVELS))):
                with open(table, "w") as f:
                    f.write("frame,time," + ",".join(f"c{c}" for c in range(compare.COLUMNS)) + "\n1,0," + ",".join(map(str, levels)) + "\n")
            for table, what in ((empty, "the empty stage"), (every, "all six photos")):
                wall, processor, _ = best([program, "render", "-q", "-o", out, "--levels", table, piece], out)
                tell(f"first frame on disk, {name}, {what}", f"{wall:.2f} s, {processor:.2f} s of processor")
            times = []
            for _ in range(3):
                begun = time.perf_counter()
                for level in range(compare.LEVELS):
                    cv2.imread(os.path.join(folder, "photos", f"photo-{level}.jpg"))
                times.append(time.perf_counter() - begun)
            tell(f"decoding the six photos by OpenCV on one core, {name}", f"{min(times):.2f} s")
            _, _, memory = best(render + ["--frames", "1-200", piece], out)
            tell(f"peak memory of 200 frames, {name}", f"{memory:.0f} MB")
            if name == "1080p":
                times = {n: best(render + ["--frames", f"1-{n}", piece], out, 1 if n == 10000 else 3)[0] for n in (100, 1000, 10000)}
                tell("a frame more, 100 to 1000 frames, 1080p", f"{(times[1000] - times[100]) / 0.9:.2f} ms")
                tell("a frame more, 1000 to 10000 frames, 1080p", f"{(times[10000] - times[1000]) / 9:.2f} ms")
        rate = 44100
        noise = np.random.default_rng(1).normal(0, 3000, (240 * rate, 2)).astype(np.int16)
        song = os.path.join(work, "song.wav")
        wavfile.write(song, rate, noise)
        wall, processor, _ = best([program, "listen", "--song", song, piece], out)
        tell("listen, four minutes of stereo, six bands", f"{wall:.2f} s, {processor:.2f} s of processor")
        for command in (["check", piece], ["mark", "-o", out, os.path.join(folder, "photos")]):
            shutil.rmtree(out, ignore_errors=True)
            times = []
            for _ in range(3):
                if os.path.exists(out):
                    os.remove(out)
                times.append(run([program] + command))
            wall, processor, _ = min(times)
            tell(f"{command[0]}, six photos of 24 megapixels", f"{wall:.2f} s, {processor:.2f} s of processor")
        wall, processor, _ = min(run([program, "proof", "--song", song, "-o", out, piece]) for _ in range(3))
        tell("proof, four minutes, six photos of 24 megapixels", f"{wall:.2f} s, {processor:.2f} s of processor, {os.path.getsize(out) / 1e6:.1f} MB")
    finally:
        shutil.rmtree(work, ignore_errors=True)


main()
