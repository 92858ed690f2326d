// Replaces each static drawing by a live one of the same rows; the page is whole without it.
const { parts, drawings } = JSON.parse(document.getElementById("drawings").textContent);
const options = {
  actions: false,
  ast: true,
  renderer: "svg",
  defaultStyle: false,
  tooltip: { disableDefaultStyle: true, theme: "plain" },
};

// What several drawings hold is in the page once; each drawing gets a copy of its own.
function whole(value) {
  if (Array.isArray(value)) return value.map(whole);
  if (value === null || typeof value !== "object") return value;
  if ("$part" in value) return whole(parts[value.$part]);
  return Object.fromEntries(Object.entries(value).map(([key, item]) => [key, whole(item)]));
}

async function draw(place, both) {
  const live = document.createElement("div");
  live.className = "live";
  place.append(live);
  let shown = null;
  async function fit() {
    const wanted = place.clientWidth < 640 ? "narrow" : "wide";
    if (wanted === shown) return;
    shown = wanted;
    await vegaEmbed(live, whole(both[wanted]), options);
    const svg = live.querySelector("svg");
    svg.setAttribute("aria-hidden", "true");
    svg.setAttribute("focusable", "false");
    place.classList.add("is-live");
  }
  await fit();
  new ResizeObserver(fit).observe(place);
}

// The static drawings are painted first; then the live ones are made, one at a time.
requestAnimationFrame(() =>
  setTimeout(async () => {
    for (const place of document.querySelectorAll("[data-drawing]")) {
      await draw(place, drawings[place.dataset.drawing]);
    }
  }),
);

// Tables print whether or not they were opened, in browsers too whose style sheets cannot say so.
const closed = [];
addEventListener("beforeprint", () => {
  for (const item of document.querySelectorAll("details:not([open])")) {
    item.open = true;
    closed.push(item);
  }
});
addEventListener("afterprint", () => {
  for (const item of closed.splice(0)) item.open = false;
});
