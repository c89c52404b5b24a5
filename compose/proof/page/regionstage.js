// The photo with the regions over it. Corners are handles that a pointer drags and the arrow keys move; between two corners
// stands a smaller handle that becomes a corner when it is pressed.

function makeStage(svg, size, act) {
  const make = (name, attributes, parent) => {
    const e = document.createElementNS("http://www.w3.org/2000/svg", name);
    for (const [key, value] of Object.entries(attributes)) e.setAttribute(key, value);
    if (parent) parent.append(e);
    return e;
  };
  svg.setAttribute("viewBox", "0 0 " + size.width + " " + size.height);
  const layer = make("g", {}, svg);
  let scale = 1; // photo pixels in a pixel of the screen

  // drag follows a pointer from where it was pressed; moved gets how far it went, in photo pixels.
  const drag = (target, begin, moved, done) => {
    target.addEventListener("pointerdown", e => {
      if (e.button !== 0) return;
      e.preventDefault();
      e.stopPropagation();
      const pixel = size.width / svg.getBoundingClientRect().width;
      begin(e);
      const move = m => moved((m.clientX - e.clientX) * pixel, (m.clientY - e.clientY) * pixel);
      const end = () => {
        window.removeEventListener("pointermove", move);
        window.removeEventListener("pointerup", end);
        window.removeEventListener("pointercancel", end);
        done();
      };
      window.addEventListener("pointermove", move);
      window.addEventListener("pointerup", end);
      window.addEventListener("pointercancel", end);
    });
  };

  const draw = (columns, chosen, corner) => {
    scale = size.width / Math.max(1, svg.getBoundingClientRect().width);
    layer.replaceChildren();
    const points = c => c.corners.map(p => p.join(",")).join(" ");
    columns.forEach((c, i) => {
      const own = i === chosen;
      if (own) {
        make("polygon", { points: points(c), class: "reach", "stroke-width": Math.max(6 * c.feather, 0.01) }, layer);
      }
      const shape = make("polygon", { points: points(c), class: own ? "region chosen" : "region", "data-column": i }, layer);
      drag(shape, () => act.grab(i, -1), (dx, dy) => act.moveRegion(i, dx, dy), act.done);
      const middle = c.corners.reduce((sum, p) => sum + p[0], 0) / c.corners.length;
      const foot = Math.max(...c.corners.map(p => p[1])) - 8 * scale;
      const text = make("text", { x: middle, y: foot, "font-size": 15 * scale }, layer);
      text.textContent = c.name;
    });
    const c = columns[chosen];
    if (!c) return;
    c.corners.forEach((p, k) => {
      const next = c.corners[(k + 1) % c.corners.length];
      const between = make("circle", { cx: (p[0] + next[0]) / 2, cy: (p[1] + next[1]) / 2, r: 5 * scale, class: "between", "data-between": k }, layer);
      drag(between, () => act.addCorner(chosen, k), (dx, dy) => act.moveCorner(dx, dy), act.done);
    });
    c.corners.forEach((p, k) => {
      const handle = make("circle", {
        cx: p[0], cy: p[1], r: 9 * scale, class: k === corner ? "corner active" : "corner", tabindex: 0, role: "button", "data-corner": k,
        "aria-label": "corner " + (k + 1) + " of " + c.name + " at " + p[0] + ", " + p[1],
      }, layer);
      drag(handle, () => act.grab(chosen, k), (dx, dy) => act.moveCorner(dx, dy), act.done);
      handle.addEventListener("focus", () => act.choose(chosen, k));
    });
  };

  return {
    draw,
    focusCorner(k) {
      const handle = layer.querySelector('[data-corner="' + k + '"]');
      if (handle) handle.focus({ preventScroll: true });
    },
    // mark tells which corner is the active one without drawing all anew.
    mark(k) { layer.querySelectorAll(".corner").forEach((e, i) => e.classList.toggle("active", i === k)); },
  };
}

// drawLoupe shows the surroundings of a place so large that single pixels are seen.
function drawLoupe(canvas, image, size, place, columns, chosen) {
  const density = window.devicePixelRatio || 1;
  const zoom = 5;
  const side = canvas.clientWidth || 200;
  canvas.width = canvas.height = Math.round(side * density);
  const context = canvas.getContext("2d");
  context.scale(canvas.width / side, canvas.height / side);
  context.fillStyle = "#1d1b19";
  context.fillRect(0, 0, side, side);
  context.imageSmoothingEnabled = false;
  const left = place[0] - side / 2 / zoom;
  const top = place[1] - side / 2 / zoom;
  context.drawImage(image, -left * zoom, -top * zoom, size.width * zoom, size.height * zoom);
  columns.forEach((c, i) => {
    context.beginPath();
    c.corners.forEach((p, k) => context[k === 0 ? "moveTo" : "lineTo"]((p[0] - left) * zoom, (p[1] - top) * zoom));
    context.closePath();
    context.lineWidth = 3;
    context.strokeStyle = "#000a";
    context.stroke();
    context.lineWidth = 1.2;
    context.strokeStyle = i === chosen ? "#fff" : "#dfb86c";
    context.stroke();
  });
  for (const [colour, width] of [["#000a", 3], ["#fff", 1]]) {
    context.strokeStyle = colour;
    context.lineWidth = width;
    context.beginPath();
    for (const [x, y] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
      context.moveTo(side / 2 + 5 * x, side / 2 + 5 * y);
      context.lineTo(side / 2 + 16 * x, side / 2 + 16 * y);
    }
    context.stroke();
  }
}
