"""What the outside checks share: running the program, finding what Debian supplies, and saying figures.

Every check prints one line a figure, with the limit it is held to, and ends with status 1 when one fails.
Nothing here knows how the program works inside: it is started as its user starts it.
"""

import argparse
import os
import pathlib
import shutil
import subprocess
import sys


def missing(what, package):
    """Ends the check: without what it needs it must fail, not pass unheard."""
    sys.exit(f"FAIL {what} is missing; install Debian's package {package}")


try:
    import numpy as np
except ImportError:
    missing("the Python module numpy", "python3-numpy")
try:
    import scipy.fft
    import scipy.io.wavfile
    import scipy.ndimage
    import scipy.signal
except ImportError:
    missing("the Python module scipy", "python3-scipy")
try:
    import cv2
except ImportError:
    missing("the Python module cv2", "python3-opencv")


def tool(name, package):
    """The path of a program that Debian supplies."""
    found = shutil.which(name)
    if found is None:
        missing(f"the program {name}", package)
    return found


def data_file(path, package):
    """A data file that Debian supplies."""
    if not os.path.isfile(path):
        missing(f"the file {path}", package)
    return path


class Check:
    """One script's run: the program under test, a folder to work in, and the figures found."""

    def __init__(self, purpose, **more):
        """more names further arguments, each with its help text."""
        parser = argparse.ArgumentParser(description=purpose)
        parser.add_argument("--colonnade", required=True, help="the program under test")
        parser.add_argument("--work", required=True, type=pathlib.Path, help="an empty folder for what is written")
        for name, text in more.items():
            parser.add_argument("--" + name, required=True, help=text)
        self.arguments = parser.parse_args()
        self.work = self.arguments.work
        self.failed = 0
        self.claims = 0

    def run(self, *arguments, program=None, environment=None, folder=None):
        """Runs the program, which must end with status 0, and gives (standard output, standard error)."""
        command = [*(program or [self.arguments.colonnade]), *map(str, arguments)]
        done = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, text=True, cwd=folder,
                              env={**os.environ, **(environment or {})})
        if done.returncode != 0:
            sys.exit(f"FAIL {' '.join(command)}\nended with status {done.returncode}\n{done.stdout}{done.stderr}")
        return done.stdout, done.stderr

    def claim(self, holds, text):
        """States one result."""
        self.claims += 1
        if not holds:
            self.failed += 1
        print("ok  " if holds else "FAIL", text, flush=True)

    def at_most(self, what, figure, limit, unit=""):
        self.claim(figure <= limit, f"{what}: {figure:.6g}{unit}, at most {limit:g}{unit}")

    def at_least(self, what, figure, limit, unit=""):
        self.claim(figure >= limit, f"{what}: {figure:.6g}{unit}, at least {limit:g}{unit}")

    def equal(self, what, got, want):
        self.claim(got == want, f"{what}: {got}, must be {want}")

    def finish(self):
        print(f"{self.claims} claims, {self.failed} failed")
        sys.exit(1 if self.failed or not self.claims else 0)


def frame_path(folder, number):
    return pathlib.Path(folder) / f"frame_{number:06d}.png"


def read_picture(path):
    """A picture file as an array [height, width, 3] of 8-bit R, G, B, decoded by OpenCV's libpng or libjpeg."""
    picture = cv2.imread(str(path), cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION)
    if picture is None:
        sys.exit(f"FAIL {path} can not be decoded by OpenCV")
    return picture[:, :, ::-1]


def write_picture(path, picture, *options):
    """Writes R, G, B codes by OpenCV; the name's ending tells the format."""
    if not cv2.imwrite(str(path), np.ascontiguousarray(picture[:, :, ::-1]), list(options)):
        sys.exit(f"FAIL {path} can not be written by OpenCV")


def write_levels(path, names, rows, fps):
    """Writes a level table; rows[i] holds the levels of frame i+1."""
    with open(path, "w", encoding="utf-8") as file:
        file.write(",".join(["frame", "time", *names]) + "\n")
        for i, row in enumerate(rows):
            file.write(",".join([str(i + 1), f"{i / float(fps):.6f}", *(f"{level:g}" for level in row)]) + "\n")


def read_table(path):
    """A table that listen writes, as (names, frame numbers, times, values[frame, column])."""
    with open(path, encoding="utf-8") as file:
        head = file.readline().strip().split(",")
        values = np.array([[float(cell) for cell in line.strip().split(",")] for line in file])
    if head[:2] != ["frame", "time"]:
        sys.exit(f"FAIL {path} begins with {head[:2]}, not with frame and time")
    return head[2:], values[:, 0].astype(int), values[:, 1], values[:, 2:]


def write_column_file(path, columns, response=None, **keys):
    """Writes a column file. columns are dictionaries; strings, numbers and lists are all that TOML is needed for."""

    def value(v):
        if isinstance(v, str):
            return '"' + v + '"'
        if isinstance(v, (list, tuple)):
            return "[" + ", ".join(map(value, v)) + "]"
        return repr(v)

    lines = [f"{key} = {value(v)}" for key, v in keys.items()]
    if response:
        lines += ["[response]", *(f"{key} = {value(v)}" for key, v in response.items())]
    for column in columns:
        lines += ["[[column]]", *(f"{key} = {value(v)}" for key, v in column.items())]
    pathlib.Path(path).write_text("\n".join(lines) + "\n", encoding="utf-8")
