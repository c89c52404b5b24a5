// Envelopes to levels, as package analyze/response does it: the formulas stand there. Every step is one that IEEE 754
// makes alike everywhere, and what differs in the last bits, powers and exponentials, is rounded to 2^-20.

const responsePrecision = 1 << 20;
const responseSilence = 1e-4;
const levelOne = 1000;

function quantise(v) { return Math.round(v * responsePrecision) / responsePrecision; }

function amplitude(db) { return quantise(Math.pow(10, db / 20)); }

// referenceOf is what counts as an envelope's top.
function referenceOf(envelope, s) {
  if (envelope.length === 0) return 0;
  const sorted = Float64Array.from(envelope).sort();
  const last = sorted.length - 1;
  const above = Math.max(0, Math.min(Math.trunc(s.clip * sorted.length + 1e-9), last));
  const loudest = sorted[last];
  const top = sorted[last - above];
  return top < responseSilence && loudest * amplitude(s.floor) >= responseSilence ? loudest : top;
}

function remaining(milliseconds, rate) {
  if (milliseconds <= 0) return 0;
  const left = Math.exp(-1000 / (rate.num / rate.den * milliseconds));
  return Math.min(quantise(left), 1 - 1 / responsePrecision);
}

// levelsOf gives the levels, in thousandths, of each column in each frame, and what counts as each column's top.
function levelsOf(envelopes, settings, rate, dissolve) {
  const references = envelopes.map((envelope, c) => referenceOf(envelope, settings[c]));
  const shared = Math.max(0, ...references.filter((_, c) => settings[c].shared));
  const levels = envelopes.map((envelope, c) => {
    if (settings[c].shared) references[c] = shared;
    return columnLevels(envelope, settings[c], references[c], rate, dissolve);
  });
  return { levels, references };
}

function columnLevels(envelope, s, reference, rate, dissolve) {
  const scale = reference >= responseSilence ? amplitude(s.gain) / reference : 0;
  const floor = amplitude(s.floor);
  const attack = remaining(s.attack, rate);
  const release = remaining(s.release, rate);
  const bottom = s.bottom * levelOne;
  const top = Math.max(s.top, s.bottom) * levelOne;
  const step = dissolve ? levelOne / 8 : levelOne;
  const hold = dissolve ? 0 : s.hold;
  const positions = new Float64Array(envelope.length);
  let height = 0;
  for (let n = 0; n < envelope.length; n++) {
    const x = scale * envelope[n];
    let h;
    if (x <= floor) h = 0;
    else if (x >= 1) h = 1;
    else h = quantise(Math.pow((x - floor) / (1 - floor), s.curve));
    height = n === 0 ? h : h + (h > height ? attack : release) * (height - h);
    positions[n] = bottom + (top - bottom) * height;
  }
  const nearest = (n) => Math.floor(positions[n] / step + 0.5) * step;
  // A rise that goes on within the frames of its hold waits for its peak.
  const waits = (n, level) => {
    if (nearest(n) < level) return false;
    for (let i = n + 1; i < Math.min(n + hold, envelope.length); i++) if (nearest(i) > nearest(n)) return true;
    return false;
  };
  const levels = new Int32Array(envelope.length);
  let level = 0;
  let shown = 0;
  for (let n = 0; n < envelope.length; n++) {
    if (shown === 0 || (Math.abs(positions[n] - level) > 0.75 * step && shown >= hold && !waits(n, level))) {
      level = nearest(n);
      shown = 0;
    }
    shown++;
    levels[n] = level;
  }
  return levels;
}

// rangeOf is between which amplitudes a column moves.
function rangeOf(s, reference) {
  const top = reference / Math.pow(10, s.gain / 20);
  return { rest: top * Math.pow(10, s.floor / 20), top };
}

function changesPerSecond(levels, rate) {
  let changes = 0;
  for (let n = 1; n < levels.length; n++) if (levels[n] !== levels[n - 1]) changes++;
  return changes / Math.max(1, levels.length) * rate.num / rate.den;
}
