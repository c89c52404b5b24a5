#!/usr/bin/python3
"""The example, examples/cairns: its song moves every column over most of its range, and it renders."""

import pathlib
import tomllib

import harness
from harness import np


def main():
    check = harness.Check(__doc__, example="the example's column file")
    example = pathlib.Path(check.arguments.example)
    check.run("listen", "-o", check.work / "levels.csv", example)
    names, numbers, _, levels = harness.read_table(check.work / "levels.csv")
    check.equal("columns", len(names), 5)
    photos = sorted(p for p in (example.parent / "photos").iterdir() if p.suffix in (".jpg", ".png"))
    top = len(photos) - 1
    for name, column in zip(names, levels.T):
        share = [np.mean(column == level) for level in range(top + 1)]
        print(f"     {name}: share of the time in % at each level", " ".join(f"{100 * s:.0f}" for s in share))
        check.at_least(f"{name}: levels used of {top + 1}", int(sum(s > 0 for s in share)), top)
        check.claim(column.max() == top, f"{name}: reaches the top level {top}: {column.max():g}")
        check.at_most(f"{name}: share of the time at its commonest level", max(share), 0.75)

    # A quiet frame, a full one and the last.
    total = levels.sum(axis=1)
    frames = check.work / "frames"
    for number in sorted({int(numbers[total.argmin()]), int(numbers[total.argmax()]), int(numbers[-1])}):
        check.run("render", "--quiet", "--frames", f"{number}-{number}", "-o", frames, example)
        got = harness.read_picture(harness.frame_path(frames, number)).astype(int)
        stage = harness.read_picture(photos[0]).astype(int)
        check.equal(f"frame {number}: size", got.shape, stage.shape)
        moved = np.mean(np.abs(got - stage).max(axis=2) > 24)
        levels_now = levels[list(numbers).index(number)]
        check.claim((moved > 0.005) == (levels_now.sum() > 0), f"frame {number}: at levels {levels_now.astype(int).tolist()} {100 * moved:.1f} % of the picture differs from the empty stage")
    check.finish()


main()
