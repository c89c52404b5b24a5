// The clock is the sound's own: where the song is heard to be tells which frame is shown. Without a song it runs by the
// browser's time.

// decodeTrack needs no sounding context, which browsers allow only once somebody has pressed something.
async function decodeTrack(track) {
  const bytes = bytesOf(track.flac);
  const context = new OfflineAudioContext(1, 1, Math.max(8000, track.rate));
  return context.decodeAudioData(bytes.buffer);
}

// makeClock runs from start to end, in seconds of the song. sound is null, or a buffer whose first sample is at start.
function makeClock(start, end, sound) {
  let context = null;
  let volume = null;
  let gain = 1;
  let source = null;
  let playing = false;
  let position = start; // where it stands, or where it began to play
  let began = 0; // on the context's or the browser's time
  let loop = null;

  const heard = () => {
    if (!context) return performance.now() / 1000;
    // What is handed to the loudspeaker now is heard a little later, a fifth of a second later without wires.
    return context.currentTime - (context.outputLatency || context.baseLatency || 0);
  };

  const silence = () => {
    if (!source) return;
    source.onended = null;
    source.stop();
    source.disconnect();
    source = null;
  };

  const now = () => {
    if (!playing) return position;
    let t = position + Math.max(0, heard() - began);
    if (loop && position < loop.to && t >= loop.to) t = loop.from + (t - loop.from) % (loop.to - loop.from);
    return Math.min(t, end);
  };

  const run = () => {
    silence();
    if (sound) {
      source = context.createBufferSource();
      source.buffer = sound;
      source.connect(volume);
      if (loop && position < loop.to) {
        source.loop = true;
        source.loopStart = loop.from - start;
        source.loopEnd = loop.to - start;
      }
      source.start(0, Math.min(position - start, sound.duration));
    }
    began = context ? context.currentTime : heard();
  };

  return {
    now,
    get playing() { return playing; },
    get loop() { return loop; },
    async play() {
      if (playing) return;
      if (sound && !context) {
        context = new AudioContext();
        volume = context.createGain();
        volume.gain.value = gain;
        volume.connect(context.destination);
      }
      if (context) await context.resume();
      if (position >= end) position = start;
      if (loop && (position < loop.from || position >= loop.to)) position = loop.from;
      playing = true;
      run();
    },
    pause() {
      position = now();
      playing = false;
      silence();
    },
    seek(t) {
      position = Math.min(Math.max(t, start), end);
      if (playing) run();
    },
    // repeat plays from one time to another again and again; null ends it.
    repeat(stretch) {
      position = now();
      loop = stretch && sound ? { from: stretch.from, to: Math.min(stretch.to, start + sound.duration) } : stretch;
      if (loop && !(loop.from < loop.to)) loop = null;
      if (loop && playing && (position < loop.from || position >= loop.to)) position = loop.from;
      if (playing) run();
    },
    loudness(v) {
      gain = v;
      if (volume) volume.gain.value = v;
    },
  };
}
