// What the page carries is text: base64 of bytes that are packed by DEFLATE, and of pictures and sound as they are.

function bytesOf(base64) {
  const text = atob(base64);
  const bytes = new Uint8Array(text.length);
  for (let i = 0; i < bytes.length; i++) bytes[i] = text.charCodeAt(i);
  return bytes;
}

async function unpacked(base64) {
  const stream = new Blob([bytesOf(base64)]).stream().pipeThrough(new DecompressionStream("deflate"));
  return new Response(stream).arrayBuffer();
}

// frameStart is the second at which frame n begins to be shown, never so little early that the clock would read n-1.
function frameStart(rate, n) {
  let t = (n - 1) * rate.den / rate.num;
  if (Math.floor(t * rate.num / rate.den) < n - 1) t *= 1 + Number.EPSILON;
  return t;
}

// frameAt is the frame that is shown at t seconds.
function frameAt(rate, t) {
  return Math.floor(t * rate.num / rate.den) + 1;
}

// minutes writes a time as the commands take it.
function minutes(seconds) {
  const hundredths = Math.floor(seconds * 100 + 1e-6);
  const two = v => String(v).padStart(2, "0");
  return Math.floor(hundredths / 6000) + ":" + two(Math.floor(hundredths / 100) % 60) + "." + two(hundredths % 100);
}

function hertz(v) {
  return v >= 1000 ? Number((v / 1000).toPrecision(3)) + " kHz" : Math.round(v * 10) / 10 + " Hz";
}

// element makes an element. What is text stays text.
function element(name, attributes, ...children) {
  const e = document.createElement(name);
  for (const [key, value] of Object.entries(attributes || {})) {
    if (value === true) e.setAttribute(key, "");
    else if (value !== false && value !== undefined) e.setAttribute(key, value);
  }
  e.append(...children);
  return e;
}
