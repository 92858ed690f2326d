// Answers the form "is this reading a lot" from the cells in the page; without it there is the table.
const LEVELS = [
  ["days_since_dry_band", "climate_group", "season"],
  ["days_since_dry_band", "climate_group"],
  ["days_since_dry_band"],
  ["climate_group", "season"],
  ["climate_group"],
  [],
];
const CENTILES = [
  ["p10_ul", "10th"], ["p25_ul", "25th"], ["median_ul", "50th"], ["p75_ul", "75th"],
  ["p90_ul", "90th"],
];

// The finest cell there is for what was chosen, from climate and season to all aids of the kind.
function chosenCell(cells, chosen) {
  for (const level of LEVELS) {
    const wanted = Object.keys(chosen).filter((name) => name === "device_style" || level.includes(name));
    const found = cells.find((cell) =>
      Object.keys(chosen).every((name) => cell[name] === (wanted.includes(name) ? chosen[name] : null)),
    );
    if (found) return found;
  }
  return null;
}

function band(cell, value, below) {
  const { p10_ul: least, p90_ul: most, highest_limit_ul: limit } = cell;
  if (least !== null && below && limit !== null && limit <= least) return "Less than usual";
  if (least !== null && !below && value < least) return "Less than usual";
  const edge = most ?? limit;
  return !below && edge !== null && value > edge ? "More than usual" : "Usual";
}

function place(cell, value, below) {
  const known = CENTILES.filter(([name]) => cell[name] !== null);
  const written = (name) => `${cell[name].toFixed(2)} µL`;
  if (!known.length) return below ? "tied with those below detection" : "above those below detection";
  const [first, firstWords] = known[0];
  if (below) return `tied with those below detection, under the ${firstWords} centile of ${written(first)}`;
  const under = known.filter(([name]) => cell[name] <= value);
  if (!under.length) return `under the ${firstWords} centile of ${written(first)}`;
  const [last, lastWords] = under[under.length - 1];
  if (under.length === known.length) return `from the ${lastWords} centile up, which is ${written(last)}`;
  const [next, nextWords] = known[under.length];
  return `between the ${lastWords} and the ${nextWords} centile, ${written(last)} and ${written(next)}`;
}

for (const form of document.querySelectorAll("[data-look-up]")) {
  const cells = JSON.parse(document.getElementById(`${form.dataset.lookUp}-cells`).textContent);
  const answer = form.querySelector("[role=status]");
  const selects = [...form.querySelectorAll("select")];
  const reading = form.querySelector("input[type=text]");
  const below = form.querySelector("input[type=checkbox]");
  const words = (name, value) =>
    selects.find((s) => s.name === name).querySelector(`option[value="${value ?? ""}"]`).textContent;

  function tell() {
    reading.disabled = below.checked;
    const text = reading.value.trim().replace(",", ".");
    const value = Number(text);
    const valid = below.checked || (text !== "" && Number.isFinite(value) && value >= 0);
    reading.setAttribute("aria-invalid", String(text !== "" && !valid));
    if (!valid) {
      answer.textContent =
        text === "" ? "Give a reading to see its place." : "The reading must be a number, such as 2.4.";
      return;
    }
    const chosen = Object.fromEntries(selects.map((s) => [s.name, s.value || null]));
    const cell = chosenCell(cells, chosen);
    if (!cell) {
      answer.textContent = "There are too few aids of this kind to say.";
      return;
    }
    const wider = selects.filter((s) => s.value && cell[s.name] === null);
    const among = selects.map((s) => words(s.name, cell[s.name])).join(", ");
    const note = wider.length
      ? ` Too few aids for ${wider.map((s) => words(s.name, s.value)).join(", ")}: a wider group was taken.`
      : "";
    answer.textContent =
      `${band(cell, value, below.checked)}: ${place(cell, value, below.checked)}. ` +
      `${cell.wearers} wearers: ${among}.${note}`;
  }

  form.addEventListener("input", tell);
  form.addEventListener("submit", (event) => event.preventDefault());
  form.hidden = false;
  // The form answers; the long table behind it waits until it is asked for.
  form.parentElement.querySelector("details").open = false;
  tell();
}
