// The chart below the photo: the song's waveform, then for each column its envelope, what counts as its top and its rest,
// and the levels that come of it. Amplitudes are on a straight scale, since heights follow amplitude.

const chartColours = { paper: "#fbf8f3", ink: "#2e2a26", faint: "#cfc6b8", sound: "#dfb86c", stone: "#3d5a66", top: "#a3472f", rest: "#6f675c" };

// drawn prepares a canvas for its size on the screen and gives its context, in CSS pixels.
function drawn(canvas) {
  const box = canvas.getBoundingClientRect();
  const scale = window.devicePixelRatio || 1;
  canvas.width = Math.max(1, Math.round(box.width * scale));
  canvas.height = Math.max(1, Math.round(box.height * scale));
  const context = canvas.getContext("2d");
  context.scale(canvas.width / Math.max(1, box.width), canvas.height / Math.max(1, box.height));
  return { context, width: box.width, height: box.height };
}

// drawWaveform draws the least and the greatest sample behind each dot.
function drawWaveform(canvas, sound) {
  const { context, width, height } = drawn(canvas);
  context.fillStyle = chartColours.sound;
  const channels = [];
  for (let c = 0; c < sound.numberOfChannels; c++) channels.push(sound.getChannelData(c));
  for (let x = 0; x < width; x++) {
    const from = Math.floor(sound.length * x / width);
    const to = Math.max(from + 1, Math.floor(sound.length * (x + 1) / width));
    let low = 0;
    let high = 0;
    for (const channel of channels) {
      for (let i = from; i < to && i < channel.length; i++) {
        if (channel[i] < low) low = channel[i];
        if (channel[i] > high) high = channel[i];
      }
    }
    const y = height / 2 * (1 - Math.min(high, 1));
    context.fillRect(x, y, 1, Math.max(1, height / 2 * (1 - Math.max(low, -1)) - y));
  }
}

// drawColumn draws frames first to last of a column. envelope and range are null where the levels come from a table.
function drawColumn(canvas, column) {
  const { context, width, height } = drawn(canvas);
  const { first, last, levels, offset, envelope, range, bottom, top } = column;
  const base = height - 1;
  const tall = height - 5;
  const x = n => (n - first) / (last - first + 1) * width;
  let scale = 1;
  if (envelope) {
    scale = range.top;
    for (let n = first; n <= last; n++) scale = Math.max(scale, envelope[n - 1]);
    if (!(scale > 0)) scale = 1;
    context.fillStyle = chartColours.sound;
    context.beginPath();
    context.moveTo(0, base);
    eachDot(first, last, width, n => envelope[n - 1], (from, to, low, high) => {
      context.lineTo(from, base - tall * high / scale);
      context.lineTo(to, base - tall * high / scale);
    });
    context.lineTo(width, base);
    context.fill();
    if (range.top > 0) {
      context.setLineDash([5, 4]);
      for (const [colour, amplitude] of [[chartColours.top, range.top], [chartColours.rest, range.rest]]) {
        context.strokeStyle = colour;
        context.beginPath();
        context.moveTo(0, base - tall * amplitude / scale);
        context.lineTo(width, base - tall * amplitude / scale);
        context.stroke();
      }
      context.setLineDash([]);
    }
  }
  // The levels share the scale: the lowest stands at rest, the highest at the top.
  const at = level => {
    const share = (level / levelOne - bottom) / Math.max(top - bottom, 1);
    return base - tall * (envelope ? (range.rest + (range.top - range.rest) * share) / scale : share);
  };
  context.strokeStyle = chartColours.stone;
  context.lineWidth = 1.5;
  context.lineJoin = "round";
  context.beginPath();
  context.moveTo(0, at(levels[first - offset]));
  eachDot(first, last, width, n => levels[n - offset], (from, to, low, high, begin, end) => {
    context.lineTo(from, at(begin));
    if (low !== high) {
      context.lineTo(from, at(low));
      context.lineTo(from, at(high));
    }
    context.lineTo(from, at(end));
    context.lineTo(to, at(end));
  });
  context.stroke();
  context.lineWidth = 1;
  context.strokeStyle = chartColours.ink;
  context.beginPath();
  context.moveTo(0, base + 0.5);
  context.lineTo(width, base + 0.5);
  context.stroke();
}

// eachDot gathers a value a frame: a run for each frame when frames are wider than a dot, else a run for each dot.
function eachDot(first, last, width, value, draw) {
  const frames = last - first + 1;
  const runs = Math.max(1, Math.min(frames, Math.round(width)));
  for (let i = 0; i < runs; i++) {
    const begin = first + Math.floor(frames * i / runs);
    const end = Math.max(begin, first + Math.floor(frames * (i + 1) / runs) - 1);
    let low = value(begin);
    let high = low;
    for (let n = begin + 1; n <= end; n++) {
      const v = value(n);
      if (v < low) low = v;
      if (v > high) high = v;
    }
    draw(width * i / runs, width * (i + 1) / runs, low, high, value(begin), value(end));
  }
}

// timeMarks are where the scale of time has its marks: about every hundred dots.
function timeMarks(from, to, width) {
  const steps = [0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 1200, 3600];
  const step = steps.find(s => s * width / (to - from) >= 70) || 3600;
  const marks = [];
  for (let i = Math.ceil(from / step - 1e-9); i * step <= to + 1e-9; i++) {
    const tenths = Math.round(i * step * 10);
    let text = Math.floor(tenths / 600) + ":" + String(Math.floor(tenths / 10) % 60).padStart(2, "0");
    if (step < 1) text += "." + tenths % 10;
    marks.push({ share: (i * step - from) / (to - from), text });
  }
  return marks;
}
