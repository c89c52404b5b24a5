#!/usr/bin/python3
"""Sound and picture against each other.

A track of clicks is made at known samples. At every frame rate the level table must peak in the frame that is shown
when a click sounds, floor(t x fps) + 1; there must be ceil(duration x fps) frames; and the video that ffmpeg makes by
the command that render prints must be as long as the song and light up when it clicks.
"""

import json
import pathlib
import shlex
import subprocess
from fractions import Fraction

import harness
from harness import np, scipy

RATE = 44100
SECONDS = Fraction(25)
RATES = ["24000/1001", "25", "30000/1001", "60"]
TOP = 20


def click_track(samples, clicks):
    """Short bursts of 3 kHz, each centred on its sample, over faint noise."""
    random = np.random.default_rng(3)
    song = random.normal(0, 1e-4, samples)
    length = 64
    burst = 0.9 * np.hanning(2 * length + 1) * np.cos(2 * np.pi * 3000 / RATE * np.arange(-length, length + 1))
    for at in clicks:
        song[at - length:at + length + 1] += burst
    return np.stack([song, song], axis=1)


def write_wav(path, song):
    scipy.io.wavfile.write(path, RATE, np.round(song * 32767).astype(np.int16))


def frame_at(sample, fps):
    return int(Fraction(sample, RATE) * fps) + 1


def levels_check(check):
    samples = int(SECONDS * RATE) + 1  # one sample more than whole frames at 25 and 60
    random = np.random.default_rng(4)
    clicks = [int(RATE * (0.5 + 0.6 * k) + random.integers(-6000, 6000)) for k in range(40)]
    write_wav(check.work / "clicks.wav", click_track(samples, clicks))
    for rate in RATES:
        fps = Fraction(rate)
        harness.write_column_file(check.work / "clicks.toml", [{"name": "click", "band": [2000, 4000], "box": [0, 0, 10, 10]}],
                                  song="clicks.wav", fps=rate, response={"top": TOP, "clip": 0.0, "release": 0.0, "hold": 1})
        check.run("listen", "-o", check.work / "levels.csv", "--envelopes", check.work / "envelopes.csv", check.work / "clicks.toml")
        _, numbers, times, levels = harness.read_table(check.work / "levels.csv")
        _, _, _, envelopes = harness.read_table(check.work / "envelopes.csv")
        count = -(-samples * fps // RATE)
        check.equal(f"{rate} a second: frames of a song of {samples} samples", len(numbers), int(count))
        late = max(abs(t - float((n - 1) / fps)) for n, t in zip(numbers.tolist(), times.tolist()))
        check.at_most(f"{rate} a second: frame times off (n-1)/fps by", late, 1e-6, " s")
        levels, envelopes = levels[:, 0], envelopes[:, 0]
        hits = tops = peaks = 0
        for at in clicks:
            want = frame_at(at, fps) - 1
            near = slice(want - 3, want + 4)
            hits += envelopes[near].argmax() == 3
            tops += levels[near].max() == levels[want]
            peaks += levels[want] > max(levels[want - 2], levels[want + 2])
        check.equal(f"{rate} a second: of {len(clicks)} clicks, loudest in the frame shown when they sound", int(hits), len(clicks))
        check.equal(f"{rate} a second: of {len(clicks)} clicks, highest level in that frame", int(tops), len(clicks))
        check.equal(f"{rate} a second: of {len(clicks)} clicks, that level above those two frames before and after", int(peaks), len(clicks))


def streams(path):
    told = subprocess.run([harness.tool("ffprobe", "ffmpeg"), "-v", "error", "-count_frames", "-show_streams", "-of", "json", path],
                          capture_output=True, text=True, check=True).stdout
    return {stream["codec_type"]: stream for stream in json.loads(told)["streams"]}


def video_check(check, rate):
    """Renders, joins by the printed command, and looks at the video."""
    fps = Fraction(rate)
    work = check.work / ("video " + rate.replace("/", " to "))  # with spaces, as folders have them
    photos = work / "photos"
    photos.mkdir(parents=True)
    for level, code in enumerate([16, 235]):
        harness.write_picture(photos / f"shot-{level}.png", np.full((96, 160, 3), code, np.uint8))
    samples = int(6.21 * RATE)
    clicks = [int(t * RATE) for t in (0.731, 1.92, 3.337, 4.004, 5.55)]
    write_wav(work / "click song.wav", click_track(samples, clicks))
    harness.write_column_file(work / "columns.toml", [{"name": "click", "band": [2000, 4000], "box": [0, 0, 160, 96]}],
                              photos="photos", song="click song.wav", fps=rate, feather=0.0,
                              response={"release": 0.0, "hold": 1, "clip": 0.0, "gain": 6.0})
    _, words = check.run("render", "-o", "frames out", "columns.toml", folder=work)
    commands = [line.strip() for line in words.splitlines() if line.strip().startswith("ffmpeg ")]
    check.equal(f"{rate} a second: encoder commands printed", len(commands), 1)
    harness.tool("ffmpeg", "ffmpeg")
    ffmpeg, *arguments = shlex.split(commands[0])
    check.run("-v", "error", "-nostdin", *arguments, program=[ffmpeg], folder=work)
    video = work / pathlib.PurePath(arguments[-1])
    found = streams(video)
    picture, sound = found["video"], found["audio"]
    count = int(-(-samples * fps // RATE))
    check.equal(f"{rate} a second: frames in the folder", len(list((work / "frames out").glob("frame_*.png"))), count)
    check.at_most(f"{rate} a second: frames of the folder and of the video differ by", abs(count - int(picture["nb_read_frames"])), 1)
    check.equal(f"{rate} a second: rate of the video", Fraction(picture["r_frame_rate"]), fps)
    frame = float(1 / fps)
    check.at_most(f"{rate} a second: picture and sound differ in length by", abs(float(picture["duration"]) - float(sound["duration"])) / frame, 1, " frames")
    check.at_most(f"{rate} a second: sound and song differ in length by", abs(float(sound["duration"]) - samples / RATE) / frame, 1, " frames")
    grey = subprocess.run([ffmpeg, "-v", "error", "-nostdin", "-i", video, "-map", "0:v", "-f", "rawvideo", "-pix_fmt", "gray", "-"],
                          capture_output=True, check=True).stdout
    light = np.frombuffer(grey, np.uint8).reshape(-1, 96 * 160).mean(axis=1)
    pcm = subprocess.run([ffmpeg, "-v", "error", "-nostdin", "-i", video, "-map", "0:a", "-f", "s16le", "-ac", "1", "-ar", str(RATE), "-"],
                         capture_output=True, check=True).stdout
    heard = np.abs(np.frombuffer(pcm, np.int16).astype(float))
    bright = np.flatnonzero(light > 128)
    for at in clicks:
        loudest = at - 4000 + int(heard[at - 4000:at + 4000].argmax())
        want = frame_at(loudest, fps)
        check.claim(want - 1 in bright, f"{rate} a second: click at {loudest / RATE:.3f} s of the video, frame {want} is bright, "
                    f"among frames {[int(n) + 1 for n in bright if abs(n + 1 - want) < 5]}")
    check.at_most(f"{rate} a second: bright frames a click", len(bright) / len(clicks), 3)


def main():
    check = harness.Check(__doc__)
    levels_check(check)
    for rate in RATES[1:3]:
        video_check(check, rate)
    check.finish()


main()
