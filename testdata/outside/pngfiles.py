#!/usr/bin/python3
"""The frames as PNG files, by programs that know nothing of this one.

pngcheck and libpng's pngfix read each frame; the chunks are read here by the PNG Recommendation (Third Edition, W3C
2025): header 11.2.1, order 5.6, colour chunks 11.3.2. Photos with an ICC profile give frames with that same profile.
"""

import struct
import subprocess
import zlib

import harness
import photoset

WIDTH, HEIGHT, LEVELS, COLUMNS = 400, 226, 4, 3


def chunks(path):
    """The (type, data) of each chunk of a PNG file, whose CRCs are checked."""
    data = path.read_bytes()
    if data[:8] != b"\x89PNG\r\n\x1a\n":
        raise SystemExit(f"FAIL {path} has no PNG signature")
    out, at = [], 8
    while at < len(data):
        length, kind = struct.unpack(">I4s", data[at:at + 8])
        body, (crc,) = data[at + 8:at + 8 + length], struct.unpack(">I", data[at + 8 + length:at + 12 + length])
        if zlib.crc32(kind + body) != crc:
            raise SystemExit(f"FAIL {path}: chunk {kind} has a wrong CRC")
        out.append((kind.decode(), body))
        at += 12 + length
    return out


def with_chunk(path, kind, body):
    """Puts a chunk behind a PNG file's header."""
    data = path.read_bytes()
    chunk = struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
    path.write_bytes(data[:33] + chunk + data[33:])


def matrix_profile():
    """A small display profile: primaries near Adobe RGB's, gamma 2.2 (ICC.1:2010, sections 7.2, 8.3.3 and 10)."""

    def fixed(*values):
        return b"".join(struct.pack(">i", round(v * 65536)) for v in values)

    def text(words):
        return b"text\0\0\0\0" + words + b"\0"

    description = b"desc\0\0\0\0" + struct.pack(">I", 11) + b"wide gamut\0" + bytes(78)
    curve = b"curv\0\0\0\0" + struct.pack(">IH", 1, round(2.2 * 256))
    tags = [(b"desc", description), (b"cprt", text(b"none")), (b"wtpt", b"XYZ \0\0\0\0" + fixed(0.9642, 1, 0.8249)),
            (b"rXYZ", b"XYZ \0\0\0\0" + fixed(0.6097, 0.3111, 0.0195)), (b"gXYZ", b"XYZ \0\0\0\0" + fixed(0.2053, 0.6257, 0.0609)),
            (b"bXYZ", b"XYZ \0\0\0\0" + fixed(0.1492, 0.0632, 0.7446)), (b"rTRC", curve), (b"gTRC", curve), (b"bTRC", curve)]
    table, body, at = struct.pack(">I", len(tags)), b"", 128 + 4 + 12 * len(tags)
    for name, data in tags:
        table += struct.pack(">4sII", name, at + len(body), len(data))
        body += data + bytes(-len(data) % 4)
    size = at + len(body)
    head = struct.pack(">I4sI4s4s4s", size, bytes(4), 0x02100000, b"mntr", b"RGB ", b"XYZ ") + struct.pack(">6H", 2026, 1, 1, 0, 0, 0)
    head += b"acsp" + bytes(28) + fixed(0.9642, 1, 0.8249)
    return head + bytes(128 - len(head)) + table + body


def readers(check, folder, title):
    """Has pngcheck and pngfix read every frame of a folder."""
    frames = sorted(folder.glob("frame_*.png"))
    told = subprocess.run([harness.tool("pngcheck", "pngcheck"), "-q", *frames], capture_output=True, text=True)
    check.claim(told.returncode == 0 and not told.stdout + told.stderr, f"{title}: pngcheck reads {len(frames)} frames {told.stdout}{told.stderr}".rstrip())
    told = subprocess.run([harness.tool("pngfix", "libpng-tools"), *frames], capture_output=True, text=True)
    bad = [line for line in told.stdout.splitlines() if line.split()[1] != "OK"]
    check.claim(told.returncode == 0 and not told.stderr and not bad, f"{title}: pngfix reads them {told.stderr}{bad or ''}".rstrip())
    return frames


def main():
    check = harness.Check(__doc__)
    photos = photoset.make(WIDTH, HEIGHT, COLUMNS, LEVELS)
    for folder in ["plain", "profiled"]:
        (check.work / folder).mkdir()
        for level, photo in enumerate(photos):
            harness.write_picture(check.work / folder / f"shot-{level}.png", photo)
    profile = matrix_profile()
    for level in range(LEVELS):
        with_chunk(check.work / "profiled" / f"shot-{level}.png", b"iCCP", b"wide gamut\0\0" + zlib.compress(profile))
    names = [f"column{c}" for c in range(COLUMNS)]
    harness.write_column_file(check.work / "columns.toml", [
        {"name": name, "band": [100, 200], "box": [c * WIDTH / COLUMNS + 8, 20, WIDTH / COLUMNS - 16, HEIGHT - 24]} for c, name in enumerate(names)
    ], feather=5.0)
    rows = [[n % LEVELS, n // LEVELS % LEVELS, (n // 3) % 2] for n in range(2 * LEVELS * LEVELS)]
    harness.write_levels(check.work / "levels.csv", names, rows, 25)

    for kind in ["plain", "profiled"]:
        folder = check.work / (kind + "-frames")
        check.run("render", "--quiet", "--photos", check.work / kind, "--levels", check.work / "levels.csv", "--repeats", "write", "-o", folder, check.work / "columns.toml")
        frames = readers(check, folder, kind)
        check.equal(f"{kind}: frames", len(frames), len(rows))
        byte_of, key_of = {}, {}
        for frame, row in zip(frames, rows):
            parts = chunks(frame)
            kinds = [k for k, _ in parts]
            inner = dict(parts)
            header = struct.unpack(">IIBBBBB", inner["IHDR"])
            if header != (WIDTH, HEIGHT, 8, 2, 0, 0, 0):
                check.claim(False, f"{frame.name}: header {header}")
            idat = [i for i, k in enumerate(kinds) if k == "IDAT"]
            if kinds[0] != "IHDR" or kinds[-1] != "IEND" or idat != list(range(idat[0], idat[-1] + 1)) or idat[-1] != len(kinds) - 2:
                check.claim(False, f"{frame.name}: chunks {kinds}")
            colour = {k: inner[k] for k in kinds[:idat[0]] if k in ("sRGB", "gAMA", "cHRM", "iCCP")}
            if kind == "plain":
                want = {"sRGB": b"\0", "gAMA": struct.pack(">I", 45455),
                        "cHRM": struct.pack(">8I", 31270, 32900, 64000, 33000, 30000, 60000, 15000, 6000)}
                if colour != want:
                    check.claim(False, f"{frame.name}: colour chunks {colour}")
            elif set(colour) != {"iCCP"} or zlib.decompress(colour["iCCP"].split(b"\0", 1)[1][1:]) != profile:
                check.claim(False, f"{frame.name}: colour chunks {list(colour)} do not hold the photos' profile alone")
            texts = [body for k, body in parts if k == "tEXt"]
            pixels = harness.read_picture(frame).tobytes()
            if byte_of.setdefault(pixels, frame.read_bytes()) != frame.read_bytes():
                check.claim(False, f"{frame.name}: the same picture in other bytes")
            if key_of.setdefault(tuple(row), texts) != texts or len(texts) != 1:
                check.claim(False, f"{frame.name}: key {texts}, before {key_of[tuple(row)]}")
        check.equal(f"{kind}: different pictures", len(byte_of), len({tuple(row) for row in rows}))
        check.equal(f"{kind}: different keys", len({tuple(t) for t in key_of.values()}), len(key_of))
    check.finish()


main()
