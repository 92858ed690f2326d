// What a page adds to itself: one site followed, tables sorted, marks read out. It is whole without.
const all = (query, within = document) => [...within.querySelectorAll(query)];
const plural = (n, word) => `${n} ${word}${n === 1 ? "" : "s"}`;

// One site, kept in the address as #place&site=id and handed on by every link to another page.
const follow = document.querySelector(".follow");
const select = follow?.querySelector("select");
const links = all('a[href*=".html"]').map((link) => [link, link.getAttribute("href")]);

function fromAddress() {
  const [place, ...rest] = decodeURIComponent(location.hash.slice(1)).split("&");
  const site = rest.find((part) => part.startsWith("site="))?.slice(5) ?? "";
  return { place, site };
}

function mark(site) {
  const name = site ? select.selectedOptions[0].textContent : "";
  all(".on").forEach((one) => one.classList.remove("on"));
  if (site) all(`[data-site="${CSS.escape(site)}"]`).forEach((one) => one.classList.add("on"));
  all("tr.rest").forEach((row) => { row.hidden = !row.classList.contains("on"); });
  let marked = 0;
  const figures = all(".figure").filter((one) => one.querySelector(".picture, table"));
  for (const figure of figures) {
    const has = figure.querySelector(".on");
    marked += has ? 1 : 0;
    let note = figure.querySelector(".apart");
    if (!note) {
      note = document.createElement("p");
      note.className = "apart";
      figure.querySelector("h2, h3").after(note);
    }
    note.hidden = !site || Boolean(has);
    note.textContent = figure.querySelector("[data-site]")
      ? `${name} has no row here.` : "This shows all sites together.";
  }
  const rest = figures.length - marked;
  follow.querySelector("[role=status]").textContent = site
    ? `${name} is marked in ${plural(marked, "figure")}; ${rest} cannot mark it.` : "No site is marked.";
  const own = follow.querySelector("a");
  const page = site && select.selectedOptions[0].dataset.page;
  if (own) {
    own.hidden = !page;
    if (page) own.href = `${page}#&site=${encodeURIComponent(site)}`;
  }
  for (const [link, href] of links) {
    const tail = site ? `${href.includes("#") ? "" : "#"}&site=${encodeURIComponent(site)}` : "";
    link.setAttribute("href", href + tail);
  }
}

function arrive() {
  const { place, site } = fromAddress();
  if (select && [...select.options].some((option) => option.value === site)) {
    select.value = site;
    mark(site);
  }
  if (place && location.hash.includes("&")) document.getElementById(place)?.scrollIntoView();
}

if (follow) {
  follow.hidden = false;
  select.addEventListener("change", () => {
    const place = fromAddress().place;
    const site = select.value ? `&site=${encodeURIComponent(select.value)}` : "";
    history.replaceState(null, "", `#${place}${site}`);
    mark(select.value);
  });
}
addEventListener("hashchange", arrive);
arrive();

// Sorting: a button in each head; what is empty stays last, whichever way.
const empty = new Set(["", "–"]);
function value(cell, kind) {
  const text = cell.textContent.trim();
  if (empty.has(text)) return null;
  if (kind === "number") return parseFloat(text.replace(/[\s\u202f]/g, "").replace("\u2212", "-"));
  return kind === "date" ? Date.parse(text) : text.toLowerCase();
}

function sort(table, head) {
  const at = head.cellIndex;
  const down = head.getAttribute("aria-sort") === "ascending";
  const way = down ? -1 : 1;
  const body = table.tBodies[0];
  const rows = [...body.rows].map((row) => [row, value(row.cells[at], head.className)]);
  rows.sort(([, a], [, b]) => {
    if (a === null || b === null) return (a === null) - (b === null);
    return way * (typeof a === "string" ? a.localeCompare(b, "en", { numeric: true }) : a - b);
  });
  body.append(...rows.map(([row]) => row));
  all("th[aria-sort]", table).forEach((one) => one.setAttribute("aria-sort", "none"));
  head.setAttribute("aria-sort", down ? "descending" : "ascending");
}

for (const table of all(".scroll > table:not(.matrix, .grid, .tinies)")) {
  if (table.tBodies[0].rows.length < 2) continue;
  for (const head of all("thead th", table)) {
    const button = document.createElement("button");
    button.append(...head.childNodes);
    head.append(button);
    head.setAttribute("aria-sort", "none");
    button.addEventListener("click", () => sort(table, head));
  }
}

// One tip for all marks: shown for pointer and keyboard, kept under the pointer, dismissed by Esc.
const tip = document.createElement("div");
tip.id = "tip";
tip.hidden = true;
tip.setAttribute("aria-hidden", "true");
document.body.append(tip);
let shown = null;
let dismissed = null;

function show(one) {
  if (one === shown || one === dismissed) return;
  shown = one;
  tip.textContent = one.getAttribute("aria-label") ?? one.dataset.tip ?? one.querySelector(".hidden").textContent;
  tip.hidden = false;
  settle();
}

function settle() {
  if (!shown) return;
  const box = shown.getBoundingClientRect();
  const { offsetWidth: width, offsetHeight: height } = tip;
  const left = Math.min(Math.max(box.left + box.width / 2 - width / 2, 4), innerWidth - width - 4);
  tip.style.left = `${Math.max(left, 4)}px`;
  tip.style.top = `${box.top >= height + 4 ? box.top - height : box.bottom}px`;
}

function hide() {
  tip.hidden = true;
  shown = null;
}

const SPEAKS = "svg [aria-label], [data-tip], .tipped";
document.addEventListener("pointerover", (event) => {
  if (event.target === tip) return;
  const one = event.target.closest(SPEAKS);
  if (one !== dismissed) dismissed = null;
  if (one) show(one);
  else if (!shown?.matches(":focus")) hide();
});
document.addEventListener("focusin", (event) => {
  const one = event.target.closest(SPEAKS);
  if (one) show(one);
  else hide();
});
document.addEventListener("focusout", hide);
addEventListener("scroll", settle, { passive: true, capture: true });
addEventListener("keydown", (event) => {
  if (event.key !== "Escape" || tip.hidden) return;
  dismissed = document.querySelector(`:is(${SPEAKS}):hover`) ?? shown;
  hide();
});

// One stop a drawing; arrows go from mark to mark.
const STEPS = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 };
for (const drawing of all("svg:not([aria-hidden])")) {
  const marks = all("[aria-label]", drawing);
  if (!marks.length) continue;
  let at = 0;
  marks[0].setAttribute("tabindex", "0");
  drawing.addEventListener("keydown", (event) => {
    const last = marks.length - 1;
    const to = event.key === "Home" ? 0 : event.key === "End" ? last : at + (STEPS[event.key] ?? 0);
    if (to === at || to < 0 || to > last) return;
    event.preventDefault();
    marks[at].setAttribute("tabindex", "-1");
    at = to;
    dismissed = null;
    marks[at].setAttribute("tabindex", "0");
    marks[at].focus();
    show(marks[at]);
  });
}

// Folds print as they stand; one button opens them all, to read or to print with every table.
const folds = all("details.fold");
const opener = document.querySelector(".open-all");
if (opener && folds.length) {
  opener.hidden = false;
  opener.addEventListener("click", () => {
    const open = folds.some((fold) => !fold.open);
    folds.forEach((fold) => { fold.open = open; });
    opener.textContent = open ? "Close all notes and tables" : "Open all notes and tables";
  });
}
