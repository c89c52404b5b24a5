#!/usr/bin/python3
"""The envelopes of a real song against scipy.

Each band's RMS is computed once more straight from its definition, at the song's full rate: a periodic Hann window
of the same length in seconds, centred on the frame's middle (n-1/2)/fps; the power between the band's edges, a bin
at an edge counted by its share; power averaged over the channels. The spectrum is padded to at least four times
the window's length, so that it stands for the continuous one. The program reads low bands from slowed copies of
the song with shorter transforms; both must tell the same.

Frames whose window reaches past an end of the song are left out, for there the definition says nothing.
"""

import subprocess
from fractions import Fraction

import harness
from harness import np, scipy

SONG = "/usr/share/games/frozen-bubble/snd/frozen-mainzik-1p.ogg"
SECONDS = 60
FPS = Fraction(25)
# A frame is loud when it is within this many dB of the band's loudest: what lies lower is at rest on the stage.
LOUD_DB = 30


def band_rms(song, rate, low, high, window_samples, middles):
    """RMS of a band around each of middles, which are sample numbers; song is [channel, sample]."""
    half = window_samples // 2
    window = scipy.signal.get_window("hann", window_samples, fftbins=True)
    size = scipy.fft.next_fast_len(4 * window_samples, real=True)
    k = np.arange(size // 2 + 1)
    share = np.clip(np.minimum(k + 0.5, high * size / rate) - np.maximum(k - 0.5, low * size / rate), 0, 1)
    scale = 2 / (size * np.sum(window**2))
    inside = np.flatnonzero(share)
    first, last = inside[0], inside[-1] + 1
    power = np.zeros(len(middles))
    for channel in song:
        for start in range(0, len(middles), 64):
            part = middles[start:start + 64]
            cut = np.stack([channel[m - half:m - half + window_samples] for m in part])
            spectrum = scipy.fft.rfft(cut * window, n=size)[:, first:last]
            power[start:start + 64] += scale * (np.abs(spectrum)**2 @ share[first:last])
    return np.sqrt(power / len(song))


def main():
    check = harness.Check(__doc__, bands="low-high,... in Hz", windows="seconds,...: the window of each band at 25 frames a second")
    bands = [tuple(map(float, band.split("-"))) for band in check.arguments.bands.split(",")]
    windows = [float(seconds) for seconds in check.arguments.windows.split(",")]
    ffmpeg = harness.tool("ffmpeg", "ffmpeg")
    source = harness.data_file(SONG, "frozen-bubble-data")
    wav = check.work / "song.wav"
    subprocess.run([ffmpeg, "-v", "error", "-nostdin", "-y", "-i", source, "-t", str(SECONDS), "-ac", "2", "-ar", "44100",
                    "-c:a", "pcm_s16le", "-bitexact", wav], check=True)
    names = [f"band{i}" for i in range(len(bands))]
    harness.write_column_file(check.work / "columns.toml", [
        {"name": name, "band": [low, high], "box": [10 * i, 0, 8, 8], "top": 5} for i, (name, (low, high)) in enumerate(zip(names, bands))
    ], song="song.wav", fps=25)
    check.run("listen", "--envelopes", check.work / "envelopes.csv", check.work / "columns.toml")
    got_names, numbers, _, envelopes = harness.read_table(check.work / "envelopes.csv")

    rate, samples = scipy.io.wavfile.read(wav)
    song = samples.T / 32768
    check.equal("samples a second", rate, 44100)
    check.equal("columns", got_names, names)
    frames = -(-song.shape[1] * FPS // rate)
    check.equal("frames", list(numbers) == list(range(1, int(frames) + 1)) and len(numbers), int(frames))

    for i, ((low, high), seconds) in enumerate(zip(bands, windows)):
        window_samples = 2 * round(seconds * rate / 2)
        half = window_samples // 2
        middles = np.array([round((2 * n - 1) * rate / (2 * FPS)) for n in range(1, int(frames) + 1)])
        whole = np.flatnonzero((middles >= half) & (middles + half <= song.shape[1]))
        want = band_rms(song, rate, low, high, window_samples, middles[whole])
        got = envelopes[whole, i]
        loud = want >= want.max() * 10 ** (-LOUD_DB / 20)
        off = np.abs(20 * np.log10(np.maximum(got[loud], 1e-9) / want[loud]))
        title = f"{low:g}-{high:g} Hz, window {1000 * seconds:.1f} ms, {loud.sum()} loud frames of {len(whole)}"
        check.at_most(f"{title}: median difference", np.median(off), 0.1, " dB")
        check.at_most(f"{title}: 99 of 100 within", np.percentile(off, 99), 0.3, " dB")
        print(f"     worst {off.max():.3f} dB in frame {numbers[whole][loud][off.argmax()]}")
    check.finish()


main()
