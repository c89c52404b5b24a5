// The column file's text with other regions and names in it. was are the columns as the file has them, with their lines, a box's as the region's; is are
// the columns now, each with from, the index of what it was, or -1 where it is new.

function regionValue(corners) {
  return "[" + corners.map(c => "[" + c[0] + ", " + c[1] + "]").join(", ") + "]";
}

const tableHeader = /^\s*\[\[?\s*["'A-Za-z][^\]]*\]\]?\s*(#.*)?\r?$/;

// valueEnd is the line, from 0, on which the list that begins on a line ends, or -1; and what stands behind it there.
function valueEnd(lines, first) {
  let depth = 0;
  for (let i = first; i < lines.length; i++) {
    const text = lines[i];
    for (let at = i === first ? text.indexOf("=") + 1 : 0; at < text.length; at++) {
      if (text[at] === "#") break;
      if (text[at] === "[") depth++;
      if (text[at] === "]" && --depth === 0) return { line: i, rest: text.slice(at + 1) };
    }
    if (depth === 0) return null;
  }
  return null;
}

// regionText is what changed, as lines of the column file.
function regionText(was, is) {
  const parts = [];
  for (const c of is) {
    const old = was[c.from];
    if (old && old.name === c.name && regionValue(old.corners) === regionValue(c.corners)) continue;
    parts.push("[[column]]\nname = " + tomlText(c.name) + "\nregion = " + regionValue(c.corners) + "\n");
  }
  was.forEach((old, i) => { if (!is.some(c => c.from === i)) parts.push("# taken out: " + old.name + "\n"); });
  return parts.join("\n");
}

// regionFile is the whole file, or null where a line to change is not a plain one.
function regionFile(text, was, is) {
  const lines = text.split("\n");
  const ending = text.includes("\r\n") ? "\r" : "";
  for (let i = was.length - 1; i >= 0; i--) {
    const old = was[i];
    const now = is.find(c => c.from === i);
    if (!now) {
      const first = old.line - 1;
      if (!tableHeader.test(lines[first] || "")) return null;
      let end = first + 1;
      while (end < lines.length && !tableHeader.test(lines[end])) end++;
      // Remarks above the next table are that table's.
      if (end < lines.length) while (end > first + 1 && /^\s*(#.*)?\r?$/.test(lines[end - 1])) end--;
      lines.splice(first, end - first);
      continue;
    }
    const edits = [];
    if (regionValue(old.corners) !== regionValue(now.corners)) {
      const first = old.keys.region - 1;
      const indent = /^(\s*)(?:region|box)\s*=\s*\[/.exec(lines[first] || "");
      const end = indent && valueEnd(lines, first);
      if (!end || !/^\s*(#.*)?\r?$/.test(end.rest)) return null;
      edits.push([first, end.line - first + 1, indent[1] + "region = " + regionValue(now.corners) + end.rest]);
    }
    if (old.name !== now.name) {
      const first = old.keys.name - 1;
      const plain = /^(\s*name\s*=\s*)(?:"[^"\\]*"|'[^']*')(\s*(?:#.*)?\r?)$/.exec(lines[first] || "");
      if (!plain) return null;
      edits.push([first, 1, plain[1] + tomlText(now.name) + plain[2]]);
    }
    edits.sort((a, b) => b[0] - a[0]);
    for (const [first, count, line] of edits) lines.splice(first, count, line);
  }
  let whole = lines.join("\n");
  for (const c of is) {
    if (c.from >= 0) continue;
    if (whole !== "" && !whole.endsWith("\n")) whole += ending + "\n";
    whole += [ "", "[[column]]", "name = " + tomlText(c.name), "region = " + regionValue(c.corners), ""].join(ending + "\n");
  }
  return whole;
}
