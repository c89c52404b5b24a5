// Any band's envelope, from the power of narrow cells that the page carries: about half a decibel off, and more where a
// stroke begins or a tone stands on the band's edge. The windows' lengths are those of package analyze/envelope.

function makeBank(about, bytes) {
  const codes = new Uint8Array(bytes);
  let at = 0;
  const readings = about.readings.map(r => {
    const cells = [];
    for (let i = 0; i < r.cells; i++, at += about.frames) {
      const cell = codes.subarray(at, at + about.frames);
      for (let n = 1; n < cell.length; n++) cell[n] = cell[n] + cell[n - 1] & 255; // differences are carried
      cells.push(cell);
    }
    return { seconds: r.seconds, first: r.first, cells };
  });
  const powers = new Float64Array(256);
  for (let code = 1; code < 256; code++) powers[code] = Math.pow(10, (about.loudest - about.step * (255 - code)) / 10);
  return { edges: about.edges, frames: about.frames, readings, powers };
}

// bandEnvelope is the RMS amplitude in each frame between two edges of the bank.
function bandEnvelope(bank, low, high) {
  const { edges, readings, powers } = bank;
  const length = Math.max(readings[0].seconds, 3 / (high - low), 5.5 / low);
  let lower = 0;
  while (lower + 1 < readings.length && readings[lower + 1].seconds <= length) lower++;
  let upper = lower;
  let part = 0;
  if (lower + 1 < readings.length) {
    upper = lower + 1;
    part = Math.log(length / readings[lower].seconds) / Math.log(readings[upper].seconds / readings[lower].seconds);
  }
  const sum = new Float64Array(bank.frames);
  const add = (reading, i, share) => {
    if (share === 0) return;
    let r = readings[reading];
    if (i < r.first || i >= r.first + r.cells.length) r = readings[0];
    const cell = r.cells[i - r.first];
    for (let n = 0; n < sum.length; n++) sum[n] += share * powers[cell[n]];
  };
  for (let i = 0; i + 1 < edges.length; i++) {
    if (edges[i] < low || edges[i + 1] > high) continue;
    add(lower, i, 1 - part);
    add(upper, i, part);
  }
  for (let n = 0; n < sum.length; n++) sum[n] = Math.sqrt(sum[n]);
  return sum;
}
