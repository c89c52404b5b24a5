// The controls of one column at a time: a slider and a number for each key of its response, and the limits of its band.

const tuningKeys = [
  { key: "gain", unit: "dB", says: "louder or quieter than its band", slider: [-24, 24, 0.5], lowest: -60, highest: 60 },
  { key: "floor", unit: "dB", says: "below the top, where it rests", slider: [-60, -3, 0.5], lowest: -120, highest: -0.1 },
  { key: "curve", unit: "", says: "below 1 lifts quiet parts", slider: [0.1, 4, 0.05], lowest: 0.1, highest: 10 },
  { key: "attack", unit: "ms", says: "how slowly it rises", slider: [0, 1000, 10], lowest: 0, highest: 10000 },
  { key: "release", unit: "ms", says: "how slowly it falls", slider: [0, 2000, 10], lowest: 0, highest: 10000 },
  { key: "hold", unit: "frames", says: "that a level stays at the least", slider: [0, 25, 1], lowest: 0, highest: 1000, whole: true },
  { key: "top", unit: "level", says: "highest it reaches", slider: null, whole: true },
];

// makeTuning fills a place with the controls. columns have name, was and is (settings with low and high in Hz) and
// bandTunable; edges are what the band's limits may be. changed is called after every change.
function makeTuning(place, columns, edges, highestLevel, changed) {
  const control = (c, k) => {
    const column = columns[c];
    const [low, high, step] = k.slider || [column.was.bottom + 1, highestLevel, 1];
    const lowest = k.slider ? k.lowest : low;
    const highest = k.slider ? k.highest : high;
    const name = k.key + " of " + column.name;
    const slider = element("input", { type: "range", min: low, max: high, step, "aria-label": name, "data-key": k.key });
    const number = element("input", { type: "number", step: "any", min: lowest, max: highest, "aria-label": name + ", as a number" });
    const row = element("div", { class: "control" }, element("span", { class: "key" }, k.key), slider,
      element("span", { class: "value" }, number, " " + k.unit), element("span", { class: "says" }, k.says));
    const show = () => {
      number.value = column.is[k.key];
      slider.value = column.is[k.key];
      slider.setAttribute("aria-valuetext", column.is[k.key] + " " + k.unit);
      row.classList.toggle("changed", column.is[k.key] !== column.was[k.key]);
    };
    const take = text => {
      let v = Number(text);
      if (text === "" || !Number.isFinite(v)) return;
      v = Math.min(Math.max(k.whole ? Math.round(v) : v, lowest), highest);
      column.is[k.key] = v;
      changed(c);
    };
    slider.addEventListener("input", () => { take(slider.value); show(); });
    number.addEventListener("input", () => {
      take(number.value);
      slider.value = column.is[k.key];
      row.classList.toggle("changed", column.is[k.key] !== column.was[k.key]);
    });
    number.addEventListener("change", show);
    show();
    return row;
  };

  // A band's limits stand on the edges of the cells that the page can read.
  const edge = (c, key, label) => {
    const column = columns[c];
    const slider = element("input", { type: "range", min: 0, max: edges.length - 1, step: 1, "aria-label": label + " of the band of " + column.name, "data-key": key });
    const value = element("span", { class: "value" });
    const row = element("div", { class: "control" }, element("span", { class: "key" }, key === "low" ? "band from" : "band to"), slider, value, element("span", { class: "says" }, label));
    const show = () => {
      slider.value = edges.indexOf(column.is[key]);
      value.textContent = hertz(column.is[key]);
      slider.setAttribute("aria-valuetext", hertz(column.is[key]));
      row.classList.toggle("changed", column.is[key] !== column.was[key]);
    };
    slider.addEventListener("input", () => {
      let i = Number(slider.value);
      if (key === "low") i = Math.min(i, edges.indexOf(column.is.high) - 1);
      else i = Math.max(i, edges.indexOf(column.is.low) + 1);
      column.is[key] = edges[i];
      show();
      changed(c);
    });
    show();
    return row;
  };

  const open = c => {
    const column = columns[c];
    const again = element("button", { type: "button", id: "asfile" }, "As in the file");
    again.addEventListener("click", () => {
      Object.assign(column.is, column.was);
      open(c);
      changed(c);
      place.querySelector("#asfile").focus();
    });
    place.replaceChildren(element("h2", {}, "Tune ", element("span", { class: "name" }, column.name)),
      element("div", { class: "controls" }, ...tuningKeys.map(k => control(c, k)),
        ...(column.bandTunable && edges ? [edge(c, "low", "lower limit"), edge(c, "high", "upper limit")] : [])),
      element("p", { class: "small" }, column.bandTunable && edges
        ? "Levels answer at once. A moved band is read to about half a decibel here; listen reads it exactly."
        : "Levels answer at once. This column's band can be moved in the column file only."), again);
  };

  return { open };
}
