// Draws the reading that was typed on the distribution of the aids it is compared with.
const TICKS = [0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500];
const WIDTH = 560;
const EDGE = 12;
const MIDDLE = 44;

function drawn(name, attributes, text) {
  const element = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  if (text !== undefined) element.textContent = text;
  return element;
}

// Without a number to show there is no picture: the words of the answer say why.
function readingPicture(cell, value, below) {
  const ends = ["p10_ul", "p25_ul", "median_ul", "p75_ul", "p90_ul"].map((name) => cell[name]);
  const known = [...ends.filter((end) => end > 0), ...(below || !(value > 0) ? [] : [value])];
  if (!ends.some((end) => end > 0)) return null;
  const low = Math.max(...TICKS.filter((tick) => tick < Math.min(...known)), TICKS[0]);
  const high = Math.min(...TICKS.filter((tick) => tick > Math.max(...known)), TICKS[TICKS.length - 1]);
  const at = (ul) => {
    const part = (Math.log(Math.max(ul, low)) - Math.log(low)) / (Math.log(high) - Math.log(low));
    return EDGE + (WIDTH - 2 * EDGE) * Math.min(part, 1);
  };
  const svg = drawn("svg", { viewBox: `0 0 ${WIDTH} 96`, width: WIDTH, height: 96, "aria-hidden": "true", focusable: "false", class: "reading" });
  for (const tick of TICKS.filter((one) => one >= low && one <= high)) {
    svg.append(drawn("path", { d: `M${at(tick)},24V68`, stroke: "var(--grid)" }));
    svg.append(drawn("text", { x: at(tick), y: 82, "text-anchor": "middle", fill: "var(--ink)", "data-tick": tick }, String(tick)));
  }
  svg.append(drawn("text", { x: WIDTH / 2, y: 95, "text-anchor": "middle", fill: "var(--muted)" }, "µL per aid (log scale)"));
  const line = (from, to, width) =>
    from > 0 && to > 0 && svg.append(drawn("path", { d: `M${at(from)},${MIDDLE}H${at(to)}`, stroke: "var(--blue)", "stroke-width": width }));
  line(ends[0], ends[4], 1.5);
  line(ends[1], ends[3], 7);
  if (ends[2] > 0) svg.append(drawn("circle", { cx: at(ends[2]), cy: MIDDLE, r: 5, fill: "var(--paper)", stroke: "var(--blue)", "stroke-width": 2 }));
  const x = below ? EDGE : at(value);
  const side = x > WIDTH - 130 ? "end" : x < 130 ? "start" : "middle";
  svg.append(drawn("path", { d: `M${x},16V70`, stroke: "var(--ink)", "stroke-width": 2.5, "data-reading": below ? "below" : value }));
  svg.append(drawn("text", { x, y: 12, "text-anchor": side, fill: "var(--ink)", "font-weight": 600 }, below ? "your reading: below detection" : `your reading: ${value} µL`));
  return svg;
}
