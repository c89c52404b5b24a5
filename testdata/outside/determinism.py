#!/usr/bin/python3
"""The same inputs give the same bytes.

One small piece is heard and rendered by one worker and by two, in parts, with the processor's fused multiply-add and
vector units switched off, and by the program built for another processor, under emulation. Every frame and the level
table must be the same to the byte.
"""

import hashlib

import harness
import photoset
from harness import np, scipy

WIDTH, HEIGHT, LEVELS, COLUMNS = 320, 180, 4, 5
FRAMES = 20
RATE = 22050
BANDS = [[16, 60], [60, 250], [250, 2000], [2000, 4000], [4000, 10000]]


def song():
    """Chirps, decaying tones and noise in both channels: something for every band, nothing that is exact in binary."""
    random = np.random.default_rng(11)
    t = np.arange(int(RATE * FRAMES / 25)) / RATE
    out = []
    for phase in (0.1, 0.7):
        tone = sum(0.15 * np.sin(2 * np.pi * f * t + phase) * np.exp(-((5 * t + k / 5) % 1) * 4) for k, f in enumerate([41, 130, 777, 3011, 7003]))
        out.append(tone + 0.02 * random.normal(size=len(t)) + 0.1 * scipy.signal.chirp(t, 30, t[-1], 9000, "logarithmic"))
    return np.stack(out, axis=1)


def digests(folder):
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in sorted(folder.glob("frame_*.png"))}


def main():
    check = harness.Check(__doc__, arm64="the program built for 64-bit ARM")
    qemu = harness.tool("qemu-aarch64-static", "qemu-user-static")
    work = check.work
    for kind in ["png", "jpg"]:
        (work / kind).mkdir()
    for level, photo in enumerate(photoset.make(WIDTH, HEIGHT, COLUMNS, LEVELS)):
        for kind in ["png", "jpg"]:
            harness.write_picture(work / kind / f"shot-{level}.{kind}", photo)
    scipy.io.wavfile.write(work / "song.wav", RATE, np.round(np.clip(song(), -1, 1) * 32767).astype(np.int16))
    step = WIDTH / COLUMNS
    harness.write_column_file(work / "columns.toml", [
        {"name": f"column{c}", "band": band, "region": [[c * step + 3.3, 20.1], [(c + 1) * step - 2.7, 17], [(c + 1) * step - 4, HEIGHT], [c * step, 171.5]]}
        for c, band in enumerate(BANDS)
    ], photos="png", song="song.wav", feather=4.7, response={"curve": 0.7, "gain": 1.5, "attack": 20.0, "release": 90.0})

    off = {"GODEBUG": "cpu.fma=off,cpu.avx=off,cpu.avx2=off"}
    emulated = [qemu, check.arguments.arm64]
    ways = [  # title, how, flags
        ("one worker", {}, ["-j", "1"]),
        ("two workers", {}, ["-j", "2"]),
        ("one processor", {"environment": {"GOMAXPROCS": "1"}}, []),
        ("without fused multiply-add and vectors", {"environment": off}, []),
        ("64-bit ARM", {"program": emulated}, []),
    ]
    for motion, more in [("step", []), ("dissolve", ["--size", "200x112", "--photos", work / "jpg"])]:
        first = None
        for title, how, flags in ways:
            if motion == "dissolve" and title in ("two workers", "one processor"):
                continue
            shape = ["--motion", motion, *more]
            table, folder = work / f"{motion} {title}.csv", work / f"{motion} {title}"
            check.run("listen", "--motion", motion, "-o", table, "--envelopes", work / "envelopes.csv", work / "columns.toml", **how)
            check.run("render", "--quiet", "-o", folder, *shape, *flags, work / "columns.toml", **how)
            got = (digests(folder), table.read_bytes(), (work / "envelopes.csv").read_bytes())
            if first is None:
                first = got
                check.equal(f"{motion}: frames", len(got[0]), FRAMES)
                check.at_least(f"{motion}: different pictures", len(set(got[0].values())), FRAMES // 3)
                continue
            check.claim(got[0] == first[0], f"{motion}: {title}: the bytes of {len(got[0])} frames")
            check.claim(got[1] == first[1], f"{motion}: {title}: the bytes of the level table")
            check.claim(got[2] == first[2], f"{motion}: {title}: the bytes of the envelopes")
        parts = work / f"{motion} parts"
        for k in [3, 1, 2]:
            check.run("render", "--quiet", "-o", parts, *shape, "--shard", f"{k}/3", work / "columns.toml")
        check.claim(digests(parts) == first[0], f"{motion}: three parts, the last one first: the bytes of {FRAMES} frames")
    check.finish()


main()
