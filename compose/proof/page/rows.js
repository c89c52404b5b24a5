// The rows of the chart: one for the song, one for each column, one for the marks of time. Every plot has the moving line
// and the shade of the loop.

function makeRows(place, columns, withSong) {
  const lines = [];
  const shades = [];
  const row = (kind, ...head) => {
    const canvas = element("canvas", { "aria-hidden": "true" });
    const line = element("div", { class: "line" });
    const shade = element("div", { class: "shade" });
    const plot = element("div", { class: "plot" }, canvas, shade, line);
    if (kind !== "marks") {
      lines.push(line);
      shades.push(shade);
    } else plot.replaceChildren();
    place.append(element("div", { class: "row " + kind }, element("div", { class: "head" }, ...head), plot));
    return { canvas, plot };
  };
  const song = withSong ? row("song", element("span", { class: "facts" }, "song")) : null;
  const rows = columns.map(c => {
    const name = element("button", { type: "button", class: "name", "aria-pressed": "false" }, c.name);
    const band = element("span");
    const now = element("span", { class: "now" });
    const busy = element("span");
    return { ...row("column", name, element("span", { class: "facts" }, band, element("br"), now, element("br"), busy)), name, band, now, busy };
  });
  const marks = row("marks");
  let width = 0;
  return {
    song, rows, marks: marks.plot,
    plots: [...(song ? [song] : []), ...rows].map(r => r.plot),
    // measure is called when the page has another size.
    measure() { width = marks.plot.getBoundingClientRect().width; },
    get width() { return width; },
    moveLine(share) { for (const line of lines) line.style.transform = "translateX(" + (share * width).toFixed(2) + "px)"; },
    shadeFrom(from, to) {
      for (const shade of shades) {
        shade.style.display = to > from ? "block" : "none";
        shade.style.left = 100 * from + "%";
        shade.style.width = 100 * (to - from) + "%";
      }
    },
  };
}

// outlineColumns draws the regions over the photo, with their names at their feet.
function outlineColumns(svg, size, columns) {
  const make = (name, attributes) => {
    const e = document.createElementNS("http://www.w3.org/2000/svg", name);
    for (const [key, value] of Object.entries(attributes)) e.setAttribute(key, value);
    return e;
  };
  svg.setAttribute("viewBox", "0 0 " + size.width + " " + size.height);
  const shapes = columns.map(c => {
    const group = make("g", {});
    const middle = c.region.reduce((sum, p) => sum + p[0], 0) / c.region.length;
    const foot = Math.min(size.height - 8, Math.max(...c.region.map(p => p[1])) - 10);
    const text = make("text", { x: middle, y: foot });
    text.textContent = c.name;
    const polygon = make("polygon", { points: c.region.map(p => p.join(",")).join(" ") });
    group.append(polygon, text);
    svg.append(group);
    return { group, polygon };
  });
  // all or the chosen one are shown.
  return (all, chosen) => shapes.forEach((s, c) => {
    s.group.style.display = all || c === chosen ? "" : "none";
    s.polygon.setAttribute("class", c === chosen ? "chosen" : "");
  });
}
