// Where the pivot is typed and held, whether it is usable, what betters it, and where it is written down.
const FIELDS = { "type-y": "pivot_y", "type-z": "pivot_z", "type-camber": "static_camber_deg", "type-arm": "arm_length" };

function buildCard() {
  document.querySelectorAll(".unit").forEach((part) => {
    part.textContent = unit.symbol;
  });
  for (const id of Object.keys(FIELDS)) {
    byId(id).addEventListener("input", () => {
      typing = true;
    });
    byId(id).addEventListener("change", () => {
      typing = false;
      ask({ do: "type", field: byId(id).dataset.field, text: byId(id).value });
    });
  }
  document.querySelectorAll("input[name=held]").forEach((choice) => {
    choice.addEventListener("change", () => ask({ do: "hold", field: choice.value }));
  });
  byId("hole-line").hidden = given.holes < 2;
  for (let hole = 0; hole < given.holes; hole++) byId("hole").append(element("option", { value: hole }, String(hole + 1)));
  byId("hole").addEventListener("change", () => ask({ do: "hole", index: Number(byId("hole").value) }));
  byId("undo").addEventListener("click", () => ask({ do: "undo" }));
  byId("baseline-tools").hidden = BASELINE < 0;
  byId("to-baseline").addEventListener("click", () => ask({ do: "baseline" }));
  byId("beside-baseline").addEventListener("click", () => {
    state.beside = !state.beside;
    byId("beside-baseline").setAttribute("aria-pressed", String(state.beside));
    tell("shown");
  });
  byId("snap").addEventListener("change", () => ask({ do: "snap", on: byId("snap").checked }));
  byId("snap-word").textContent = `to ${given.step} marks`;
  byId("shade").addEventListener("change", () => ask({ do: "shade", text: byId("shade").value }));
  byId("to-better").addEventListener("click", () => state.better && ask({ do: "row", index: state.better.row }));
  byId("use-name").value = given.names.use;
  byId("save-name").value = given.names.save;
  for (const what of ["use", "save"]) {
    byId(what).addEventListener("click", () => ask({ do: what, text: byId(`${what}-name`).value }));
  }
}

// What is being typed stays; once it is asked for, the number that holds takes its place.
let typing = false;

function showEntries() {
  for (const [id, name] of Object.entries(FIELDS)) {
    const entry = byId(id);
    if (document.activeElement === entry && entry.value !== entry.dataset.shown && typing) continue;
    const value = valueOf(HERE, name);
    const own = { pivot_y: state.point.y, pivot_z: state.point.z }[name];
    const column = columns.get(name);
    entry.value = own !== undefined ? placeText(own) : value === null ? soon : column.quantity === "length" ? placeText(value) : fixed(value, 2);
    entry.dataset.shown = entry.value;
  }
  document.querySelectorAll("input[name=held]").forEach((choice) => {
    choice.checked = choice.value === state.held;
  });
  byId("hole").value = String(state.point.hole);
}

// A place between two marks of the tape is shown as it is, one on a mark as the tape shows it.
function placeText(value) {
  const on = wholeSteps(value, unit.step) * unit.step;
  if (Math.abs(value - on) < 1e-6) return tape(value);
  return fixed(value, unit.denominator ? 3 : 2);
}

function showVerdict() {
  const box = byId("verdict-text");
  const { broken } = state;
  box.className = broken === null ? "wait" : broken.length ? "no" : "yes";
  const mark = (text) => element("span", { class: "mark" }, text);
  if (broken === null) box.replaceChildren(mark(soon), " being measured");
  else if (!broken.length) box.replaceChildren(mark("\u2713 Usable"), `: it keeps every limit${state.exact ? "." : ", as far as the map says."}`);
  else box.replaceChildren(mark("\u2717 Unusable"), element("ul", {}, ...broken.map((words) => element("li", {}, words))));
  byId("exact").textContent = state.exact ? "measured as \u201ctry\u201d does" : "\u2248 between places of the map; measured when the hand pauses";
  byId("use").disabled = !state.exact || broken === null || broken.length > 0;
}

function showBetter() {
  const { better } = state;
  byId("to-better").hidden = !better;
  byId("better-text").textContent = sayBetter(better);
}

function sayBetter(better) {
  if (!given.front) return "No front to compare with: start with --results and the directory of a search.";
  if (!state.compared) return soon;
  if (!better) return "No usable row of the front betters this pivot in everything.";
  const gains = Object.entries(better.gains)
    .filter(([name, gain]) => gain === null || textOf(columns.get(name), gain) !== textOf(columns.get(name), 0))
    .map(([name, gain]) => {
      const column = columns.get(name);
      const words = column.title.toLowerCase();
      return gain === null ? words : `${words} ${sayValue(column, gain)}`;
    });
  const won = gains.length ? `it gains ${gains.join(", ")}` : "by less than is shown here";
  return `Row ${better.row + 1} betters it in everything; ${won}.`;
}

function showMap(what) {
  const column = what.by ? columns.get(what.by) : null;
  byId("map-text").textContent =
    what.usable === null
      ? "The surroundings are being measured."
      : `${Math.round(100 * what.usable)} % of the range is usable with this ${state.held === "arm_length" ? "arm length" : "static camber"}; hatched is not.`;
  const key = byId("shade-key");
  key.replaceChildren();
  if (column && what.worse !== null) {
    const bar = element("i", { "aria-hidden": "true" });
    bar.style.background = `linear-gradient(to right, ${given.shades.join(", ")})`;
    key.append(sayValue(column, what.worse), bar, sayValue(column, what.better));
  }
  byId("shade").value = what.by || "";
}

function showProgress({ share }) {
  byId("map-text").textContent = `The surroundings are being measured: ${Math.round(100 * share)} %.`;
}

function showSaid({ tone, text }) {
  byId("said").textContent = text;
  byId("said").className = tone;
}
