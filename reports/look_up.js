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

// Usual is from the 10th to the 90th centile; between the ends of one that is open nobody can tell.
function band(cell, value, below) {
  const { p10_low_ul: least, p10_high_ul: tenth, p90_low_ul: ninetieth, p90_high_ul: most, highest_limit_ul: limit } = cell;
  if (below) {
    if (least === 0) return "Usual";
    return limit !== null && limit <= least ? "Less than usual" : "Usual, or less than usual";
  }
  if (value < least) return "Less than usual";
  if (value > most) return "More than usual";
  const mayBeLess = value < tenth;
  const mayBeMore = value > ninetieth;
  if (mayBeLess && mayBeMore) return "Cannot be told";
  return mayBeLess ? "Usual, or less than usual" : mayBeMore ? "Usual, or more than usual" : "Usual";
}

function place(cell, value, below) {
  const known = CENTILES.filter(([name]) => cell[name] !== null);
  const written = (name) => `${cell[name].toFixed(2)} µL`;
  if (!known.length) return "no centile of this group has a number";
  const [first, firstWords] = known[0];
  if (below) {
    const isUnder = cell.highest_limit_ul !== null && cell.highest_limit_ul <= cell[first];
    return "tied with those below detection" + (isUnder ? `, under the ${firstWords} centile of ${written(first)}` : "");
  }
  const under = known.filter(([name]) => cell[name] <= value);
  if (!under.length) return `under the ${firstWords} centile of ${written(first)}`;
  const [last, lastWords] = under[under.length - 1];
  if (under.length === known.length) return `from the ${lastWords} centile up, which is ${written(last)}`;
  const [next, nextWords] = known[under.length];
  return `between the ${lastWords} and the ${nextWords} centile, ${written(last)} and ${written(next)}`;
}

for (const form of document.querySelectorAll("[data-look-up]")) {
  const { names, rows } = JSON.parse(document.getElementById(`${form.dataset.lookUp}-cells`).textContent);
  const cells = rows.map((row) => Object.fromEntries(names.map((name, at) => [name, row[at]])));
  const picture = form.querySelector(".your-reading");
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
    picture.replaceChildren();
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
    picture.append(readingPicture(cell, value, below.checked) ?? "");
    const wider = selects.filter((s) => s.value && cell[s.name] === null);
    const among = selects.map((s) => words(s.name, cell[s.name])).join(", ");
    const note = wider.length
      ? ` Too few aids for ${wider.map((s) => words(s.name, s.value)).join(", ")}: a wider group was taken.`
      : "";
    answer.textContent =
      `${band(cell, value, below.checked)}: ${place(cell, value, below.checked)}. ` +
      `${cell.wearers} wearers: ${among}.${note}` +
      (cell.without_value ? ` Without a number: ${cell.without_value}.` : "");
  }

  form.addEventListener("input", tell);
  form.addEventListener("submit", (event) => event.preventDefault());
  form.hidden = false;
  // The form answers; the long table behind it waits until it is asked for.
  const numbers = form.parentElement.querySelector(".answered");
  if (numbers) numbers.open = false;
  tell();
}
