// Regions set by hand: what was unpacked, the state with its undoing, and the controls.

async function openRegions() {
  const piece = JSON.parse(document.getElementById("piece").textContent);
  const find = id => document.getElementById(id);
  const size = { width: piece.width, height: piece.height };
  const images = await Promise.all(piece.photos.map(p => createImageBitmap(new Blob([bytesOf(p)], { type: "image/jpeg" }))));
  const top = images.length - 1;
  const was = piece.columns;

  let columns = was.map((c, from) => ({ name: c.name, corners: c.corners.map(p => [...p]), feather: c.feather, from }));
  let chosen = columns.length > 0 ? 0 : -1;
  let corner = -1;
  let pointed = null; // where the loupe looks while no corner is the active one
  let held = null; // while something is dragged: the corners as they were, and all there was before
  let level = top;
  const past = [];
  let future = [];

  const copy = () => JSON.stringify({ columns, chosen, corner });
  const restore = text => ({ columns, chosen, corner } = JSON.parse(text));
  // keep remembers how things were before a change.
  const keep = () => {
    past.push(copy());
    future = [];
  };
  const whole = v => Math.round(v);
  const within = p => [Math.min(Math.max(p[0], 0), size.width), Math.min(Math.max(p[1], 0), size.height)];

  const act = {
    // grab begins a drag of a corner, or of the region with none.
    grab(c, k) {
      held = { corners: columns[c].corners.map(p => [...p]), before: copy(), changed: false };
      act.choose(c, k);
    },
    choose(c, k) {
      const same = c === chosen;
      chosen = c;
      corner = k;
      if (same) {
        stage.mark(k);
        tell();
      } else draw();
    },
    addCorner(c, k) {
      act.grab(c, k);
      const [a, b] = [columns[c].corners[k], columns[c].corners[(k + 1) % columns[c].corners.length]];
      columns[c].corners.splice(k + 1, 0, [whole((a[0] + b[0]) / 2), whole((a[1] + b[1]) / 2)]);
      corner = k + 1;
      held.corners = columns[c].corners.map(p => [...p]);
      held.changed = true;
      draw();
    },
    moveCorner(dx, dy) {
      if (corner < 0) return;
      const p = held.corners[corner];
      columns[chosen].corners[corner] = within([whole(p[0] + dx), whole(p[1] + dy)]);
      held.changed = true;
      draw();
    },
    moveRegion(c, dx, dy) {
      columns[c].corners = held.corners.map(p => [whole(p[0] + dx), whole(p[1] + dy)]);
      held.changed = true;
      draw();
    },
    done() {
      if (held && held.changed) {
        past.push(held.before);
        future = [];
      }
      held = null;
      draw();
      if (corner >= 0) stage.focusCorner(corner);
    },
  };
  const stage = makeStage(find("drawing"), size, act);

  // change makes one change that can be undone.
  const change = how => {
    held = null;
    keep();
    how();
    draw();
    if (corner >= 0) stage.focusCorner(corner);
  };
  const nudge = (dx, dy) => {
    if (chosen < 0) return;
    change(() => {
      const c = columns[chosen];
      if (corner >= 0) c.corners[corner] = within([c.corners[corner][0] + dx, c.corners[corner][1] + dy]);
      else c.corners = c.corners.map(p => [p[0] + dx, p[1] + dy]);
    });
  };
  const addCorner = () => {
    if (chosen < 0) return;
    change(() => {
      const list = columns[chosen].corners;
      const k = Math.max(corner, 0);
      const [a, b] = [list[k], list[(k + 1) % list.length]];
      list.splice(k + 1, 0, [whole((a[0] + b[0]) / 2), whole((a[1] + b[1]) / 2)]);
      corner = k + 1;
    });
  };
  const removeCorner = () => {
    if (chosen < 0 || corner < 0 || columns[chosen].corners.length <= 3) return;
    change(() => {
      columns[chosen].corners.splice(corner, 1);
      corner = Math.min(corner, columns[chosen].corners.length - 1);
    });
  };
  const addRegion = () => change(() => {
    let number = columns.length + 1;
    while (columns.some(c => c.name === "column " + number)) number++;
    const [w, h] = [size.width / 10, size.height / 2];
    const [x, y] = [(size.width - w) / 2, (size.height - h) / 2];
    columns.push({ name: "column " + number, corners: [[x, y], [x + w, y], [x + w, y + h], [x, y + h]].map(p => p.map(whole)), feather: piece.feather, from: -1 });
    chosen = columns.length - 1;
    corner = 0;
  });
  const removeRegion = () => {
    if (chosen < 0) return;
    change(() => {
      columns.splice(chosen, 1);
      chosen = Math.min(chosen, columns.length - 1);
      corner = -1;
    });
  };
  const back = (from, to) => {
    if (from.length === 0) return;
    held = null;
    to.push(copy());
    restore(from.pop());
    draw();
  };
  const undo = () => back(past, future);
  const redo = () => back(future, past);

  const showPhoto = () => {
    const canvas = find("photo");
    canvas.width = Math.min(size.width, 1600);
    canvas.height = Math.round(canvas.width * size.height / size.width);
    const context = canvas.getContext("2d");
    context.drawImage(images[level], 0, 0, canvas.width, canvas.height);
    if (find("difference").checked && level > 0) {
      context.globalCompositeOperation = "difference";
      context.drawImage(images[level - 1], 0, 0, canvas.width, canvas.height);
      context.globalCompositeOperation = "color-dodge"; // so that little is seen too
      context.fillStyle = "#bbb";
      context.fillRect(0, 0, canvas.width, canvas.height);
      context.globalCompositeOperation = "source-over";
    }
    find("level").value = level;
    find("levelsays").textContent = "level " + level + " of " + top;
    loupe();
  };
  const loupe = () => {
    const place = corner >= 0 && chosen >= 0 ? columns[chosen].corners[corner] : pointed || [size.width / 2, size.height / 2];
    drawLoupe(find("loupe"), images[level], size, place, columns, chosen);
  };

  // faultOf is what is wrong with a column, as the commands would say.
  const faultOf = (c, i) => {
    if (c.name.trim() === "" || c.name.trim() !== c.name || /[",\u0000-\u001f]/.test(c.name)) return "a name has no comma, no quote and no space at its ends";
    if (columns.some((other, j) => j !== i && other.name === c.name)) return "this name is taken";
    if (crossing(c.corners)) return "its edges cross";
    if (polygonArea(c.corners) < 0.01) return "it has no area";
    return "";
  };

  // tell says in words what is chosen.
  const tell = () => {
    const c = columns[chosen];
    find("one").hidden = !c;
    if (c) {
      if (document.activeElement !== find("name")) find("name").value = c.name;
      const others = columns.filter((_, i) => i !== chosen).map(o => ({ name: o.name, far: polygonsApart(c.corners, o.corners), needs: 3 * Math.max(c.feather, o.feather) }));
      const near = others.sort((a, b) => a.far - b.far)[0];
      const fault = faultOf(c, chosen);
      find("says").textContent = c.corners.length + " corners, feather " + c.feather + " pixels" + (near
        ? "; " + near.name + " is " + whole(near.far) + " pixels away" + (near.far < near.needs ? ", nearer than three feathers (" + whole(near.needs) + ")" : "") : "") + ".";
      find("fault").textContent = fault === "" ? "" : "Not so: " + fault + ".";
      for (const [id, i] of [["cornerx", 0], ["cornery", 1]]) {
        find(id).disabled = corner < 0;
        if (document.activeElement !== find(id)) find(id).value = corner < 0 ? "" : c.corners[corner][i];
      }
      find("cornersays").textContent = corner < 0 ? "No corner is chosen." : "Corner " + (corner + 1);
      find("removecorner").disabled = corner < 0 || c.corners.length <= 3;
    }
    find("undo").disabled = past.length === 0;
    find("redo").disabled = future.length === 0;
    const text = regionText(was, columns);
    const faults = columns.some((o, i) => faultOf(o, i) !== "");
    find("text").textContent = text === "" ? "# nothing is changed\n" : text;
    find("download").disabled = faults || columns.length === 0 || regionFile(piece.fileText, was, columns) === null;
    loupe();
  };

  const draw = () => {
    const focused = document.activeElement && document.activeElement.closest("#drawing");
    stage.draw(columns, chosen, corner);
    if (focused && corner >= 0) stage.focusCorner(corner);
    find("list").replaceChildren(...columns.map((c, i) => {
      const button = element("button", { type: "button", "aria-pressed": String(i === chosen) }, c.name || "(no name)");
      button.addEventListener("click", () => {
        chosen = i;
        corner = -1;
        draw();
        find("list").children[i].focus();
      });
      return button;
    }));
    tell();
  };

  find("name").addEventListener("change", () => change(() => { columns[chosen].name = find("name").value; corner = -1; }));
  for (const [id, i] of [["cornerx", 0], ["cornery", 1]]) {
    find(id).addEventListener("change", () => {
      const v = Number(find(id).value);
      if (corner < 0 || find(id).value === "" || !Number.isFinite(v)) return;
      keep();
      columns[chosen].corners[corner][i] = v;
      columns[chosen].corners[corner] = within(columns[chosen].corners[corner]);
      draw();
    });
  }
  for (const [id, press] of Object.entries({ addcorner: addCorner, removecorner: removeCorner, addregion: addRegion, removeregion: removeRegion, undo, redo })) {
    find(id).addEventListener("click", press);
  }
  find("level").max = top;
  find("level").addEventListener("input", () => {
    level = Number(find("level").value);
    showPhoto();
  });
  find("difference").addEventListener("change", showPhoto);
  find("drawing").addEventListener("pointermove", e => {
    if (corner >= 0) return;
    const box = find("drawing").getBoundingClientRect();
    pointed = [(e.clientX - box.left) * size.width / box.width, (e.clientY - box.top) * size.height / box.height];
    loupe();
  });
  find("copy").addEventListener("click", async () => {
    try {
      await navigator.clipboard.writeText(find("text").textContent);
      find("copied").textContent = "Copied.";
    } catch {
      getSelection().selectAllChildren(find("text"));
      find("copied").textContent = "The lines are selected: copy them by the keyboard.";
    }
  });
  find("download").addEventListener("click", () => {
    const place = URL.createObjectURL(new Blob([regionFile(piece.fileText, was, columns)], { type: "application/toml" }));
    element("a", { href: place, download: piece.fileName }).click();
    setTimeout(() => URL.revokeObjectURL(place), 10000);
    find("copied").textContent = "Saved as " + piece.fileName + ".";
  });
  document.addEventListener("keydown", e => {
    if ((e.ctrlKey || e.metaKey) && e.key.toLowerCase() === "z" && !e.target.closest("input[type=text], input[type=number]")) {
      e.preventDefault();
      (e.shiftKey ? redo : undo)();
      return;
    }
    if (e.ctrlKey || e.metaKey || e.altKey || e.target.closest("input, pre")) return;
    const far = e.shiftKey ? 10 : 1;
    const keys = {
      ArrowLeft: () => nudge(-far, 0), ArrowRight: () => nudge(far, 0), ArrowUp: () => nudge(0, -far), ArrowDown: () => nudge(0, far),
      Delete: removeCorner, a: addCorner, ",": () => { level = Math.max(0, level - 1); showPhoto(); }, ".": () => { level = Math.min(top, level + 1); showPhoto(); },
      d: () => { find("difference").checked = !find("difference").checked; showPhoto(); },
      Escape: () => { corner = -1; held = null; draw(); if (chosen >= 0) find("list").children[chosen].focus(); },
    };
    const press = keys[e.key.length === 1 ? e.key.toLowerCase() : e.key];
    if (!press) return;
    e.preventDefault();
    press();
  });
  window.addEventListener("resize", draw);

  find("wait").hidden = true;
  find("page").hidden = false;
  draw();
  showPhoto();
  find("page").dataset.ready = "true";
}

openRegions().catch(error => {
  document.getElementById("wait").textContent = "This page can not be shown here: " + error.message;
  console.error(error);
});
