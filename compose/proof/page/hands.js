// Keys, pointers, warnings, and the text that is taken away.

// takeKeys gives keys to actions, unless a control that uses them itself has the focus.
function takeKeys(actions) {
  document.addEventListener("keydown", e => {
    if (e.ctrlKey || e.altKey || e.metaKey) return;
    const at = e.target;
    if (at.closest("input[type=number], textarea, select, pre")) return;
    if (at.closest("input[type=range]") && /^(Arrow|Home|End)/.test(e.key)) return;
    if (e.key === " " && at.closest("button, summary, input[type=checkbox]")) return;
    const action = actions[e.key.length === 1 ? e.key.toLowerCase() : e.key];
    if (!action) return;
    e.preventDefault();
    action(e);
  });
}

// pointAtPlots goes to where a plot is pressed, and loops over what is dragged with Shift.
function pointAtPlots(plots, { first, last, go, loopOver }) {
  for (const plot of plots) {
    let from = 0;
    const frameUnder = e => {
      const box = plot.getBoundingClientRect();
      const share = Math.min(Math.max((e.clientX - box.left) / box.width, 0), 1);
      return Math.min(first + Math.floor(share * (last - first + 1)), last);
    };
    plot.addEventListener("pointerdown", e => {
      if (e.button !== 0) return;
      plot.setPointerCapture(e.pointerId);
      from = e.shiftKey ? frameUnder(e) : 0;
      if (!from) go(frameUnder(e));
    });
    plot.addEventListener("pointermove", e => {
      if (!plot.hasPointerCapture(e.pointerId)) return;
      if (!from) go(frameUnder(e));
      else loopOver(Math.min(from, frameUnder(e)), Math.max(from, frameUnder(e)), true);
    });
  }
}

// offerText copies the changed lines, or saves the whole file with them.
function offerText(find, name, text, file) {
  find("copy").addEventListener("click", async () => {
    try {
      await navigator.clipboard.writeText(text());
      find("copied").textContent = "Copied.";
    } catch {
      const range = document.createRange();
      range.selectNodeContents(find("text"));
      getSelection().removeAllRanges();
      getSelection().addRange(range);
      find("copied").textContent = "The lines are selected: copy them by the keyboard.";
    }
  });
  find("download").addEventListener("click", () => {
    const place = URL.createObjectURL(new Blob([file()], { type: "application/toml" }));
    element("a", { href: place, download: name }).click();
    setTimeout(() => URL.revokeObjectURL(place), 10000);
    find("copied").textContent = "Saved as " + name + ".";
  });
}

// makeWarnings lists what the program found, and says in time where the picture flashes. Where less motion is asked for,
// playing stops before it and goes on only when asked again.
function makeWarnings(find, warnings, rate, go) {
  const ahead = Math.round(3 * rate.num / rate.den);
  const calm = matchMedia("(prefers-reduced-motion: reduce)");
  const flashes = warnings.filter(w => w.flash);
  let allowed = null;
  for (const w of warnings) {
    const item = element("li");
    if (w.first > 0) {
      const there = element("button", { type: "button" }, minutes(frameStart(rate, w.first)));
      there.addEventListener("click", () => go(w.first));
      item.append(there);
    }
    item.append(element("span", {}, w.text));
    find("warninglist").append(item);
  }
  find("warnings").hidden = warnings.length === 0;
  const near = (n, before) => flashes.find(w => n >= w.first - before && n <= w.last);
  return {
    // at says what is near frame n.
    at(n, playing) {
      const w = near(n, ahead);
      const notice = find("notice");
      if (w) notice.textContent = (n < w.first ? "Flashing begins at " + minutes(frameStart(rate, w.first)) : "Flashing") + " and ends at " + minutes(frameStart(rate, w.last + 1)) + ".";
      else if (notice.className === "flash") notice.textContent = "";
      notice.className = w ? "flash" : "";
      if (w && calm.matches && !playing && near(n, 1)) notice.textContent += " Play shows it.";
    },
    // stops is whether playing is to stop at frame n.
    stops(n) {
      const w = near(n, 1);
      return calm.matches && w !== undefined && w !== allowed;
    },
    // go allows what is near frame n.
    go(n) { allowed = near(n, 1) || null; },
  };
}
