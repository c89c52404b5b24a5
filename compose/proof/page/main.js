// Everything is put together here: what was unpacked, the picture, the clock, the chart, and the controls.

async function openPage() {
  const piece = JSON.parse(document.getElementById("piece").textContent);
  const find = id => document.getElementById(id);
  const { rate, first, last, columns } = piece;
  const start = frameStart(rate, first);
  const end = frameStart(rate, last + 1);
  const notes = [];

  const canvas = find("photo");
  canvas.width = piece.width;
  canvas.height = piece.height;
  const [photos, maskBytes, tableBytes, envelopeBytes, bankBytes, sound] = await Promise.all([
    Promise.all(piece.photos.map(p => photoPixels(p, piece.width, piece.height))),
    unpacked(piece.masks), unpacked(piece.table),
    piece.envelopes ? unpacked(piece.envelopes) : null,
    piece.bank ? unpacked(piece.bank.codes) : null,
    piece.track ? decodeTrack(piece.track) : null,
  ]);
  const picture = makePicture(canvas, photos, photos[piece.base], readMasks(columns.map(c => c.mask), maskBytes), makeCurve(piece.linear, piece.least));
  if (!readsBack()) notes.push("This browser changes the pixels of pictures, so colours are a little off; allow this page to read its canvas.");

  const table = { offset: piece.tableFirst, levels: split(new Int32Array(tableBytes), columns.length) };
  const envelopes = envelopeBytes ? split(new Float64Array(envelopeBytes), columns.length) : null;
  const bank = bankBytes ? makeBank(piece.bank, bankBytes) : null;
  const tuned = columns.map(c => ({ ...c, is: { ...c.was } }));
  let shown = table; // the levels being shown
  let references = null;

  if (envelopes) {
    const own = levelsOf(envelopes, columns.map(c => c.was), rate, piece.dissolve);
    references = own.references;
    const agrees = table.levels.every((levels, c) => levels.every((v, i) => v === own.levels[c][i + table.offset - 1]));
    find("page").dataset.agrees = agrees;
    if (!agrees) notes.push("This browser reckons other levels than the program; tuning here would mislead.");
    else find("tune").hidden = false;
  }

  const clock = makeClock(start, end, sound);
  const rows = makeRows(find("rows"), columns, sound !== null);
  const outline = outlineColumns(find("outlines"), piece, columns);
  const warnings = makeWarnings(find, piece.warnings, rate, n => go(n));
  let frame = 0;

  // show draws the frame of the time that the clock tells.
  const show = again => {
    const t = clock.now();
    const n = Math.min(Math.max(frameAt(rate, t), first), last);
    canvas.dataset.time = t;
    rows.moveLine((t - start) / (end - start));
    if (n === frame && !again) return;
    frame = n;
    const levels = shown.levels.map(column => column[n - shown.offset]);
    picture.show(levels);
    canvas.dataset.levels = levels.map(v => v / levelOne).join();
    canvas.dataset.frame = n;
    find("time").textContent = minutes(t);
    find("frame").textContent = "frame " + n + " of " + piece.frames;
    find("seek").value = n;
    find("seek").setAttribute("aria-valuetext", minutes(t) + ", frame " + n);
    levels.forEach((v, c) => { rows.rows[c].now.textContent = "level " + v / levelOne + " of " + tuned[c].is.top; });
    warnings.at(n, clock.playing);
  };

  const buttons = () => {
    find("play").textContent = clock.playing ? "Pause" : "Play";
    find("loop").setAttribute("aria-pressed", String(clock.loop !== null));
    find("loop").disabled = !(stretch.from <= stretch.to);
    find("stretch").textContent = stretch.from <= stretch.to ? "frames " + stretch.from + " to " + stretch.to : "";
    rows.shadeFrom((stretch.from - first) / (last + 1 - first), (stretch.to + 1 - first) / (last + 1 - first));
  };

  const tick = () => {
    if (!clock.playing) return;
    show();
    if (clock.now() >= end || warnings.stops(frame)) stop();
    else requestAnimationFrame(tick);
  };
  const stop = () => {
    clock.pause();
    buttons();
    show(true);
  };
  const play = async () => {
    if (clock.playing) return stop();
    warnings.go(frame);
    await clock.play();
    buttons();
    tick();
  };
  const go = n => {
    clock.seek(frameStart(rate, Math.min(Math.max(n, first), last)));
    show();
  };
  const step = by => {
    if (clock.playing) stop();
    go(frame + by);
  };

  const stretch = { from: NaN, to: NaN };
  const loopOver = (from, to, on) => {
    stretch.from = from;
    stretch.to = to;
    const whole = from <= to;
    clock.repeat(on && whole ? { from: frameStart(rate, from), to: frameStart(rate, to + 1) } : null);
    buttons();
    show();
  };
  const loopFrom = () => loopOver(frame, stretch.to >= frame ? stretch.to : NaN, true);
  const loopTo = () => loopOver(stretch.from <= frame ? stretch.from : first, frame, true);
  const loopSwitch = () => loopOver(stretch.from, stretch.to, clock.loop === null);

  const draw = () => {
    rows.measure();
    // The names over the photo are as large as those beside it, however large the photo is shown.
    find("outlines").style.fontSize = 14 * piece.width / Math.max(1, canvas.getBoundingClientRect().width) + "px";
    if (rows.song) drawWaveform(rows.song.canvas, sound);
    tuned.forEach((c, i) => drawColumn(rows.rows[i].canvas, columnOf(c, i)));
    rows.marks.replaceChildren(...timeMarks(start, end, rows.width).map(mark => {
      const e = element("span", { class: "mark" }, mark.text);
      e.style.left = 100 * mark.share + "%";
      return e;
    }));
    tuned.forEach((c, i) => {
      rows.rows[i].band.textContent = c.is.low > 0 ? hertz(c.is.low) + " to " + hertz(c.is.high) : "all of the song";
      rows.rows[i].busy.textContent = changesPerSecond(shown.levels[i], rate).toFixed(1) + " changes a second";
    });
    show(true);
  };
  const heardBands = new Map();
  const envelopeOf = (c, i) => {
    if (c.is.low === c.was.low && c.is.high === c.was.high) return envelopes[i];
    const key = c.is.low + " " + c.is.high;
    if (!heardBands.has(key)) {
      if (heardBands.size > 40) heardBands.clear();
      heardBands.set(key, bandEnvelope(bank, c.is.low, c.is.high));
    }
    return heardBands.get(key);
  };
  const columnOf = (c, i) => ({
    first, last, levels: shown.levels[i], offset: shown.offset, bottom: c.is.bottom, top: c.is.top,
    envelope: envelopes ? envelopeOf(c, i) : null, range: envelopes ? rangeOf(c.is, references[i]) : null,
  });

  const changed = () => {
    const text = changedText(tuned);
    find("changes").hidden = text === "";
    find("text").textContent = text;
    find("copied").textContent = "";
    find("download").disabled = changedFile(piece.file.text, tuned) === null;
    if (text === "") {
      shown = table;
      references = levelsOf(envelopes, columns.map(c => c.was), rate, piece.dissolve).references;
    } else {
      const own = levelsOf(tuned.map(envelopeOf), tuned.map(c => c.is), rate, piece.dissolve);
      shown = { offset: 1, levels: own.levels };
      references = own.references;
    }
    draw();
  };
  const tuning = makeTuning(find("tune"), tuned, bank && bank.edges, piece.highest, changed);
  const choose = c => {
    rows.rows.forEach((r, i) => r.name.setAttribute("aria-pressed", String(i === c)));
    if (!find("tune").hidden) tuning.open(c);
    outline(find("outline").checked, c);
  };
  rows.rows.forEach((r, c) => r.name.addEventListener("click", () => choose(c)));

  find("seek").min = first;
  find("seek").max = last;
  find("seek").addEventListener("input", () => go(Number(find("seek").value)));
  find("play").addEventListener("click", play);
  find("back").addEventListener("click", () => step(-1));
  find("forward").addEventListener("click", () => step(1));
  find("loopfrom").addEventListener("click", loopFrom);
  find("loopto").addEventListener("click", loopTo);
  find("loop").addEventListener("click", loopSwitch);
  find("loudness").addEventListener("input", () => clock.loudness(Number(find("loudness").value)));
  find("loudnessbox").hidden = sound === null;
  clock.loudness(Number(find("loudness").value));
  const outlines = () => {
    const chosen = rows.rows.findIndex(r => r.name.getAttribute("aria-pressed") === "true");
    outline(find("outline").checked, chosen);
  };
  find("outline").addEventListener("change", outlines);
  outline(false, -1);
  offerText(find, piece.file.name, () => changedText(tuned), () => changedFile(piece.file.text, tuned));
  pointAtPlots(rows.plots, { first, last, go, loopOver });
  takeKeys({
    " ": play, ArrowLeft: e => step(e.shiftKey ? -Math.round(rate.num / rate.den) : -1),
    ArrowRight: e => step(e.shiftKey ? Math.round(rate.num / rate.den) : 1), Home: () => go(first), End: () => go(last),
    i: loopFrom, o: loopTo, l: () => find("loop").disabled || loopSwitch(),
    c: () => { find("outline").checked = !find("outline").checked; outlines(); },
  });

  find("facts").textContent = piece.facts;
  find("legend").textContent = envelopes
    ? "Ochre: RMS amplitude of the band. Stepped line: levels shown. Dashed: the amplitudes of the top and of rest."
    : "Stepped line: levels shown, from the level table.";
  find("notice").textContent = notes.join(" ");
  find("wait").hidden = true;
  find("page").hidden = false;
  buttons();
  draw();
  let width = window.innerWidth;
  window.addEventListener("resize", () => {
    if (window.innerWidth !== width) draw();
    width = window.innerWidth;
  });
  if (find("tune").hidden === false) find("tune").replaceChildren(element("p", { class: "small" }, "Choose a column by its name above to tune it."));
  find("page").dataset.ready = "true";
  if (!piece.dissolve) picture.prepare(piece.highest);
}

// split takes an array apart into one for each column.
function split(values, columns) {
  const length = values.length / Math.max(columns, 1);
  return Array.from({ length: columns }, (_, c) => values.subarray(c * length, (c + 1) * length));
}

openPage().catch(error => {
  document.getElementById("wait").textContent = "This page can not be shown here: " + error.message;
  console.error(error);
});
