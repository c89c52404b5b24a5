// What was changed, as lines of the column file, and the file with those lines in it. Only lines that are plainly
// `key = value` within a [[column]] are touched.

// tomlNumber writes a number so that the column file reads the same one back.
function tomlNumber(key, v) {
  const text = String(v);
  const whole = key === "hold" || key === "top" || key === "bottom";
  return whole || /[.e]/.test(text) ? text : text + ".0";
}

// tomlText writes a text in quotes; JSON's escapes are TOML's too, but for one.
function tomlText(text) {
  return JSON.stringify(text).replace(/\u007f/g, "\\u007F");
}

// changedKeys are the keys of a column whose values differ, with their text.
function changedKeys(was, is) {
  const lines = [];
  if (was.low !== is.low || was.high !== is.high) lines.push(["band", "[" + is.low + ", " + is.high + "]"]);
  for (const key of ["gain", "floor", "curve", "attack", "release", "hold", "top"]) {
    if (was[key] !== is[key]) lines.push([key, tomlNumber(key, is[key])]);
  }
  return lines;
}

// changedText is all changed lines, each column's behind its name.
function changedText(columns) {
  const parts = [];
  for (const c of columns) {
    const keys = changedKeys(c.was, c.is);
    if (keys.length === 0) continue;
    parts.push(["[[column]]", "name = " + tomlText(c.name), ...keys.map(([key, value]) => key + " = " + value)].join("\n") + "\n");
  }
  return parts.join("\n");
}

// changedFile is the column file's text with the changes in it, or null where a line to change is not a plain one.
// columns also have line, the number of their [[column]] line from 1, and keys, the lines of their own keys.
function changedFile(text, columns) {
  const lines = text.split("\n");
  const inserts = [];
  for (const c of columns) {
    const added = [];
    for (const [key, value] of changedKeys(c.was, c.is)) {
      const number = c.keys[key];
      if (!number) {
        added.push(key + " = " + value);
        continue;
      }
      const plain = /^(\s*[a-z]+\s*=\s*)(\[[^\]\[#"]*\]|[-+0-9_.eE]+|0x[0-9A-Fa-f_]+)(\s*(?:#.*)?\r?)$/.exec(lines[number - 1]);
      if (!plain || plain[1].trim().split(/\s|=/)[0] !== key) return null;
      lines[number - 1] = plain[1] + value + plain[3];
    }
    if (added.length === 0) continue;
    const after = c.keys.name || c.line;
    if (!/^\s*(\[\[\s*column\s*\]\]|name\s*=\s*("[^"\\]*"|'[^']*'))\s*(#.*)?\r?$/.test(lines[after - 1] || "")) return null;
    const ending = lines[after - 1].endsWith("\r") ? "\r" : "";
    inserts.push({ after, lines: added.map(line => line + ending) });
  }
  inserts.sort((a, b) => b.after - a.after);
  for (const i of inserts) lines.splice(i.after, 0, ...i.lines);
  return lines.join("\n");
}
