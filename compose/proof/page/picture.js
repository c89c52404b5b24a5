// A tuple of levels to pixels, as package compose/picture does it, in whole numbers. What one column alone decides is made
// once for each of its levels and kept as a picture that is opaque there and clear elsewhere; what several decide
// together, where feathers overlap, is made for each of their levels. A frame is then a few pictures drawn over the last.

const lightOne = 255 * 65536;

// makeCurve takes codes to light and back. least[c] is the least light that comes out as code c.
function makeCurve(linear, least) {
  const nearest = new Uint8Array((lightOne >> 10) + 1);
  for (let i = 0, code = 0; i < nearest.length; i++) {
    while (code < 255 && i * 1024 >= least[code + 1]) code++;
    nearest[i] = code;
  }
  const code = light => {
    let c = nearest[light >> 10];
    while (c < 255 && light >= least[c + 1]) c++;
    return c;
  };
  return { linear: Float64Array.from(linear), code };
}

// photoPixels decodes a photo to its codes, without a colour profile in the way.
async function photoPixels(base64, width, height) {
  const blob = new Blob([bytesOf(base64)], { type: "image/jpeg" });
  const bitmap = await createImageBitmap(blob, { colorSpaceConversion: "none", premultiplyAlpha: "none" });
  const context = sheet(width, height);
  context.drawImage(bitmap, 0, 0);
  bitmap.close();
  return context.getImageData(0, 0, width, height).data;
}

function sheet(width, height) {
  const canvas = document.createElement("canvas");
  canvas.width = width;
  canvas.height = height;
  return canvas.getContext("2d", { willReadFrequently: true });
}

// readsBack is whether the browser gives pixels back as they were put: some change them against being recognised.
function readsBack() {
  const context = sheet(16, 16);
  const data = context.createImageData(16, 16);
  for (let i = 0; i < data.data.length; i++) data.data[i] = i % 4 === 3 ? 255 : i * 37 % 251;
  context.putImageData(data, 0, 0);
  return context.getImageData(0, 0, 16, 16).data.every((v, i) => v === data.data[i]);
}

// readMasks takes masks apart: 16-bit values, each as its difference from the one on its left, high bytes first.
function readMasks(rects, buffer) {
  const bytes = new Uint8Array(buffer);
  let at = 0;
  return rects.map(r => {
    const size = r.width * r.height;
    const alpha = new Uint16Array(size);
    for (let i = 0; i < size; i++) {
      const step = bytes[at + i] << 8 | bytes[at + size + i];
      alpha[i] = step + (i % r.width > 0 ? alpha[i - 1] : 0);
    }
    at += 2 * size;
    return { ...r, alpha };
  });
}

function makePicture(canvas, photos, base, masks, curve) {
  const width = canvas.width;
  const context = canvas.getContext("2d", { alpha: false });
  const plate = context.createImageData(width, canvas.height);
  plate.data.set(base);
  const { alone, seams } = shareOut(masks, width, canvas.height);

  // lay lays a column's photo over what is there, at one pixel and colour.
  const lay = (under, at, level, alpha) => {
    const low = Math.trunc(level / levelOne);
    const part = level % levelOne;
    let light = curve.linear[photos[low][at]];
    if (part > 0) light += Math.trunc((curve.linear[photos[low + 1][at]] - light) * part / levelOne);
    const share = alpha + (alpha >> 15);
    return under + Math.floor(((light - under) * share + 32768) / 65536);
  };

  // tile is the picture of some pixels at levels of some columns.
  const tile = (box, pixels, columns, levels) => {
    const own = sheet(box.width, box.height);
    const image = own.createImageData(box.width, box.height);
    for (const pixel of pixels) {
      const x = pixel % width;
      const y = (pixel - x) / width;
      const to = 4 * ((y - box.y) * box.width + x - box.x);
      for (let colour = 0; colour < 3; colour++) {
        let light = curve.linear[base[4 * pixel + colour]];
        for (let i = 0; i < columns.length; i++) {
          const m = masks[columns[i]];
          light = lay(light, 4 * pixel + colour, levels[i], m.alpha[(y - m.y) * m.width + x - m.x]);
        }
        image.data[to + colour] = curve.code(light);
      }
      image.data[to + 3] = 255;
    }
    own.putImageData(image, 0, 0);
    return own.canvas;
  };

  const kept = 256e6; // bytes of pictures, shared by all parts
  const parts = [...alone, ...seams].map((part, _, all) => {
    const most = Math.max(8, Math.floor(kept / all.length / (4 * part.box.width * part.box.height)));
    return { ...part, most, made: new Map(), shown: "" };
  });
  const picture = (part, levels) => {
    const key = levels.join();
    let made = part.made.get(key);
    if (!made) {
      if (part.made.size >= part.most) part.made.delete(part.made.keys().next().value);
      made = tile(part.box, part.pixels, part.columns, levels);
      part.made.set(key, made);
    }
    return made;
  };

  context.putImageData(plate, 0, 0);
  return {
    // show draws what differs from the frame before.
    show(levels) {
      for (const part of parts) {
        const own = part.columns.map(c => levels[c]);
        const key = own.join();
        if (key === part.shown) continue;
        part.shown = key;
        context.drawImage(picture(part, own), part.box.x, part.box.y);
      }
    },
    // prepare makes the pictures of whole levels, a few at a time, so that playing does not wait for them.
    async prepare(top) {
      for (const part of parts) {
        if (part.columns.length > 1) continue;
        for (let level = 0; level <= top; level++) {
          picture(part, [level * levelOne]);
          await new Promise(done => setTimeout(done));
        }
      }
    },
  };
}

// shareOut tells which pixels each column decides alone, and which several decide together.
function shareOut(masks, width, height) {
  const owner = new Int16Array(width * height).fill(-1);
  const together = new Map();
  masks.forEach((m, c) => {
    for (let i = 0; i < m.alpha.length; i++) {
      if (m.alpha[i] === 0) continue;
      const pixel = (m.y + Math.floor(i / m.width)) * width + m.x + i % m.width;
      if (owner[pixel] === -1) owner[pixel] = c;
      else {
        if (owner[pixel] >= 0) together.set(pixel, [owner[pixel]]);
        owner[pixel] = -2;
        together.get(pixel).push(c);
      }
    }
  });
  const pixelsOf = masks.map(() => []);
  owner.forEach((c, pixel) => { if (c >= 0) pixelsOf[c].push(pixel); });
  const sets = new Map();
  for (const [pixel, columns] of together) {
    const key = columns.join();
    if (!sets.has(key)) sets.set(key, { columns, pixels: [] });
    sets.get(key).pixels.push(pixel);
  }
  const boxed = part => {
    let [left, top, right, bottom] = [width, height, 0, 0];
    for (const pixel of part.pixels) {
      const x = pixel % width;
      const y = (pixel - x) / width;
      left = Math.min(left, x);
      right = Math.max(right, x + 1);
      top = Math.min(top, y);
      bottom = Math.max(bottom, y + 1);
    }
    return { ...part, box: { x: left, y: top, width: right - left, height: bottom - top } };
  };
  const alone = pixelsOf.map((pixels, c) => ({ columns: [c], pixels })).filter(p => p.pixels.length > 0).map(boxed);
  return { alone, seams: [...sets.values()].map(boxed) };
}
