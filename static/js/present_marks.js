// Marks over a picture, drawn twice so that they show on light and dark alike.
// The browser knows the namespace of drawings; reading it is shorter than spelling it.
const SPACE = document.createRange().createContextualFragment("<svg></svg>").firstChild.namespaceURI;
const LONG_SIDE = 640; // strokes and figures are sized for a picture of this length
const HEAD = 26;
const END = 16;

function make(name, values, words) {
  const node = document.createElementNS(SPACE, name);
  for (const [key, value] of Object.entries(values)) node.setAttribute(key, value);
  if (words) node.textContent = words;
  return node;
}

const f = (value) => value.toFixed(1);

/** Return a mark's outline as the data of a path, from its two points. */
function pathOf(shape, x1, y1, x2, y2) {
  if (shape === "ring") {
    const [rx, ry] = [Math.max(6, Math.abs(x2 - x1) / 2), Math.max(6, Math.abs(y2 - y1) / 2)];
    const [cx, cy] = [(x1 + x2) / 2, (y1 + y2) / 2];
    return `M${f(cx - rx)} ${f(cy)}a${f(rx)} ${f(ry)} 0 1 0 ${f(rx * 2)} 0a${f(rx)} ${f(ry)} 0 1 0 ${f(-rx * 2)} 0`;
  }
  const line = `M${f(x1)} ${f(y1)}L${f(x2)} ${f(y2)}`;
  const angle = Math.atan2(y2 - y1, x2 - x1);
  const reach = (x, y, turn, size) => `${f(x + size * Math.cos(angle + turn))} ${f(y + size * Math.sin(angle + turn))}`;
  if (shape === "arrow") {
    return `${line}M${reach(x2, y2, 2.6, HEAD)}L${f(x2)} ${f(y2)}L${reach(x2, y2, -2.6, HEAD)}`;
  }
  if (shape === "measure") {
    const stroke = (x, y) => `M${reach(x, y, Math.PI / 2, END)}L${reach(x, y, -Math.PI / 2, END)}`;
    return line + stroke(x1, y1) + stroke(x2, y2);
  }
  return line;
}

/** Return the drawing of the first `count` marks for a picture of a width and height. */
export function drawMarks(marks, count, width, height) {
  const scale = LONG_SIDE / Math.max(width, height);
  const [w, h] = [width * scale, height * scale];
  const svg = make("svg", { viewBox: `0 0 ${f(w)} ${f(h)}`, "aria-hidden": "true" });
  marks.slice(0, count).forEach((mark, index) => {
    const [x1, y1, x2, y2] = [mark.x1 * w, mark.y1 * h, mark.x2 * w, mark.y2 * h].map((v) => v / 100);
    const d = pathOf(mark.shape, x1, y1, x2, y2);
    const isRing = mark.shape === "ring";
    const beside = isRing ? Math.min(x1, x2) - 22 : x1 + (x1 <= x2 ? -24 : 24);
    const x = Math.min(w - 20, Math.max(20, beside));
    const y = Math.min(h - 20, Math.max(20, isRing ? (y1 + y2) / 2 : y1));
    svg.append(
      make("path", { class: "mk-out", d }),
      make("path", { class: "mk-in", d }),
      make("circle", { class: "dot", cx: f(x), cy: f(y), r: 18 }),
      make("text", { x: f(x), y: f(y + 7) }, String(index + 1)),
    );
  });
  return svg;
}
