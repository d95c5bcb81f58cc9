// The picked candidate: what it is, what to type for it, and beside it whatever is pinned.
function buildCard() {
  byId("before").addEventListener("click", () => step(-1));
  byId("after").addEventListener("click", () => step(1));
  byId("pin").addEventListener("click", () => togglePin(state.picked));
  byId("pin-baseline").addEventListener("click", () => togglePin(BASELINE));
  byId("let-go").addEventListener("click", () => {
    state.pins = [];
    pick(-1);
  });
  byId("copy").addEventListener("click", copyCommand);
  byId("first-list").append(...given.shortlist.map(firstButton));
  byId("pin-baseline").hidden = BASELINE < 0;
  on("shown", showCard);
  on("pose", () => showReadings());
}

function firstButton(item) {
  const button = element(
    "button",
    { type: "button", "data-row": item.row, title: item.why },
    element("b", {}, String(item.row + 1)),
    item.kind,
  );
  button.addEventListener("click", () => pick(item.row));
  return button;
}

// The next row of the list that meets every wish.
function step(direction) {
  const rows = state.order.filter((row) => state.meets[row]);
  if (!rows.length) return;
  const at = rows.indexOf(state.picked);
  pick(at < 0 ? rows[0] : rows[(at + direction + rows.length) % rows.length]);
}

// The directory this file lies in, as a shell takes it.
function directory() {
  const parts = decodeURIComponent(location.pathname).split("/");
  parts.pop();
  if (location.protocol !== "file:") return quoted(parts[parts.length - 1] || "front");
  const windows = /^\/[A-Za-z]:$/.test(parts.slice(0, 2).join("/"));
  if (windows) return `"${parts.join("\\").slice(1)}"`;
  return quoted(parts.join("/") || "/");
}

function quoted(path) {
  return /^[\w@%+=:,./-]+$/.test(path) ? path : `'${path.replaceAll("'", "'\\''")}'`;
}

async function copyCommand() {
  const field = byId("command");
  let done = false;
  try {
    await navigator.clipboard.writeText(field.value);
    done = true;
  } catch {
    field.focus();
    field.select();
    done = document.execCommand("copy");
  }
  byId("copied").textContent = done ? "copied" : "press Ctrl+C";
}

function showCard() {
  const [row, kind] = [state.picked, kindOf(state.picked)];
  const there = row >= 0;
  byId("card-head").textContent = there
    ? `${given.looks[0].sign} ${Name(row)}${kind ? `: ${kind}` : ""}`
    : "Nothing picked yet";
  byId("card-text").textContent = there
    ? sayBuilt(row)
    : "Tap a dot in a plot, choose one of the first few, or a row of the list.";
  for (const id of ["pin", "let-go"]) byId(id).disabled = !there && !state.pins.length;
  byId("pin").disabled = !there || row === BASELINE;
  byId("pin").setAttribute("aria-pressed", String(state.pins.includes(row)));
  byId("pin-baseline").setAttribute("aria-pressed", String(state.pins.includes(BASELINE)));
  byId("command-line").hidden = !there || row === BASELINE;
  byId("command").value = there ? `pivotfront pick ${directory()} --id ${row + 1}` : "";
  byId("copied").textContent = "";
  document
    .querySelectorAll("#first-list button")
    .forEach((button) => button.setAttribute("aria-pressed", String(Number(button.dataset.row) === row)));
  showCompare();
}

function sayBuilt(row) {
  const say = (name) => sayValue(columns.get(name), valueOf(row, name));
  const hidden = row < count && !state.meets[row] ? " A wish hides it." : "";
  return `Pivot y ${say("pivot_y")}, z ${say("pivot_z")}, arm ${say("arm_length")}, static camber ${say("static_camber_deg")}.${hidden}`;
}

let readings = [];

function showCompare() {
  const shown = shownRows();
  readings = [];
  byId("compare").replaceChildren();
  byId("beside").classList.toggle("empty", !shown.length);
  if (!shown.length) return;
  const heads = shown.map(({ row, look }) =>
    element(
      "th",
      { scope: "col", style: `color:${look.colour}` },
      `${look.sign} ${nameOf(row)} `,
      lineSample(look),
      unpinButton(row),
    ),
  );
  const head = element(
    "tr",
    {},
    element("th", { scope: "col" }, ""),
    ...heads,
    element("th", { scope: "col", title: "\u2713 where it is reached" }, "aim \u2713"),
    element("th", { scope: "col" }, "limit"),
  );
  const body = [
    ...objectives.map((wish) => compareRow(wish.column, shown, wish)),
    ...READINGS.map((reading) => readingRow(reading, shown)),
  ];
  const names = given.columns
    .map((column) => column.name)
    .filter((name) => !objectiveOf(name) && given.rows[name].some((value) => value !== null));
  body.push(...names.map((name) => compareRow(columns.get(name), shown, null)));
  byId("compare").append(element("table", {}, element("thead", {}, head), element("tbody", {}, ...body)));
  showReadings();
}

function lineSample(look) {
  const dashes = { solid: "", dashed: "7 4", dotdash: "2 3 7 3", dotted: "2 3" }[look.dash];
  const space = "http://www.w3.org/2000/svg";
  const [drawing, line] = ["svg", "line"].map((tag) => document.createElementNS(space, tag));
  for (const [name, value] of Object.entries({ width: 34, height: 8, "aria-hidden": "true" }))
    drawing.setAttribute(name, value);
  for (const [name, value] of Object.entries({
    x1: 0,
    x2: 34,
    y1: 4,
    y2: 4,
    stroke: look.colour,
    "stroke-width": 3,
    "stroke-dasharray": dashes,
  }))
    line.setAttribute(name, value);
  drawing.append(line);
  return drawing;
}

function unpinButton(row) {
  if (row === state.picked) return "";
  const button = element("button", { type: "button", "aria-label": `Unpin ${nameOf(row)}` }, "\u2715");
  button.addEventListener("click", () => togglePin(row));
  return button;
}

function compareRow(column, shown, wish) {
  const words = wish ? `${titled(column)}, ${column.better} is better` : titled(column);
  const cells = shown.map(({ row }) => {
    const value = valueOf(row, column.name);
    const reached =
      wish && wish.aim !== null && value !== null && (column.better === "less" ? value <= wish.aim : value >= wish.aim);
    return element("td", { class: reached ? "good" : null, title: exact(column, value) }, textOf(column, value));
  });
  const targets = wish
    ? [wish.aim, wish.limit].map((value) => element("td", {}, textOf(column, value)))
    : [element("td"), element("td")];
  return element("tr", {}, element("th", { scope: "row" }, words), ...cells, ...targets);
}

const exact = (column, value) =>
  column.quantity === "length" && value !== null ? `${value.toFixed(3)} ${column.symbol}` : null;

// At the travel of the moment.
const READINGS = [
  ["Camber now (deg)", (at) => sayPlain(at("camber"))],
  ["Toe now (deg)", (at) => sayPlain(at("toe"))],
  [
    `Contact centre sideways from ride now (${unit.symbol})`,
    (at, ride) => (Number.isFinite(at("contact_y")) ? lengthText(at("contact_y") - ride("contact_y")) : "locked"),
  ],
  ["Outer rod end now (deg)", (at) => sayPlain(at("outer_rod_end")), "outer_rod_end"],
  ["Inner rod end now (deg)", (at) => sayPlain(at("inner_rod_end")), "inner_rod_end"],
  [`Gap to bodywork now (${unit.symbol})`, (at) => (Number.isFinite(at("gap")) ? lengthText(at("gap")) : "-")],
];

const sayPlain = (value) => (Number.isFinite(value) ? fixed(value, 2) : "locked");

function readingRow([words, say, end], shown) {
  const cells = shown.map(({ row }) => {
    const cell = element("td");
    readings.push({ cell, row, say });
    return cell;
  });
  const largest = end ? fixed(given.place.largest[end], 1) : "";
  return element(
    "tr",
    { class: "now" },
    element("th", { scope: "row" }, words),
    ...cells,
    element("td"),
    element("td", {}, largest),
  );
}

function showReadings() {
  for (const { cell, row, say } of readings) {
    cell.textContent = say(
      (field) => readAt(field, state.steer, row, state.travel),
      (field) => kept(field, state.steer, row, RIDE),
    );
  }
  byId("now").textContent = state.picked >= 0 ? sayNow(state.picked) : "";
}

function sayNow(row) {
  const at = (field) => readAt(field, state.steer, row, state.travel);
  if (!Number.isFinite(at("camber"))) return `${Name(row)} locks before it gets here.`;
  const ends = ["outer_rod_end", "inner_rod_end"].map((end) => {
    const past = at(end) > given.place.largest[end] + 0.005;
    return `${fixed(at(end), 1)} of ${fixed(given.place.largest[end], 1)} deg${past ? " (too far)" : ""}`;
  });
  const gap = Number.isFinite(at("gap")) ? `, gap to bodywork ${sayLength(at("gap"))}` : "";
  return `${Name(row)}: camber ${sayAngle(at("camber"))}, toe ${sayAngle(at("toe"))}${gap}. Rod ends: outer ${ends[0]}, inner ${ends[1]}.`;
}
