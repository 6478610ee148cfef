// What is drawn: a reading beside its limits, and the sketch that the program makes.

const SVG = "http://www.w3.org/2000/svg";
const WIDTH = 300;
const EDGE = 8;
const LINE_Y = 22;

const made = (name, attributes, text) => {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  if (text !== undefined) element.textContent = text;
  return element;
};
const across = (share) => EDGE + share * (WIDTH - 2 * EDGE);
const anchor = (share) => (share < 0.15 ? "start" : share > 0.85 ? "end" : "middle");

/**
 * Return the line with its limits and, where there is one, the reading on it.
 * `band` has `low`, `high` and `value` as shares of the line and `beyond`; `low` and `high` are the figures at the ends.
 */
export const bandOf = (band, low, high, value) => {
  const words = [low && `from ${low}`, high && `to ${high}`].filter(Boolean).join(" ");
  const svg = made("svg", { class: "band", viewBox: `0 0 ${WIDTH} 52`, role: "img" });
  svg.append(made("title", {}, `Limits ${words}${value ? `, read ${value}` : ""}`));
  svg.append(made("line", { class: "axis", x1: EDGE, x2: WIDTH - EDGE, y1: LINE_Y, y2: LINE_Y }));
  const from = across(band.low ?? 0);
  const to = across(band.high ?? 1);
  svg.append(made("rect", { class: "within", x: from, y: LINE_Y - 7, width: Math.max(to - from, 2), height: 14 }));
  for (const [share, figure] of [[band.low, low], [band.high, high]]) {
    if (share === null) continue;
    const x = across(share);
    svg.append(made("line", { class: "end", x1: x, x2: x, y1: LINE_Y - 10, y2: LINE_Y + 10 }));
    svg.append(made("text", { x, y: 48, "text-anchor": anchor(share) }, figure));
  }
  if (band.value !== null) {
    const x = across(band.value);
    svg.append(made("path", { class: "read", d: `M${x} ${LINE_Y + 3}l-8 -16h16z` }));
  } else if (band.beyond) {
    const x = band.beyond > 0 ? WIDTH - 2 : 2;
    const back = -12 * band.beyond;
    svg.append(made("path", { class: "read", d: `M${x} ${LINE_Y}l${back} -9v18z` }));
  }
  return svg;
};

/** Return the sketch as a picture of this page, null where it is none that can be shown. */
export const sketchOf = (text) => {
  const read = new DOMParser().parseFromString(text, "image/svg+xml");
  const root = read.documentElement;
  return root.localName === "svg" && !read.querySelector("parsererror") ? document.adoptNode(root) : null;
};
