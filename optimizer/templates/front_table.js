// The list of all rows: the same as the plots in figures, and the way to them without a mouse.
const sorting = { name: "id", falling: false };
const lines = new Map();

function buildTable() {
  const heads = given.table.map((name) => columns.get(name));
  const head = element(
    "tr",
    {},
    headCell("id", "row"),
    element("th", { scope: "col" }, "mark"),
    ...heads.map((column) => headCell(column.name, titled(column))),
  );
  const body = element("tbody");
  for (let row = 0; row < count; row++) {
    const line = tableLine(row, heads);
    lines.set(row, line);
    body.append(line);
  }
  byId("table").append(element("thead", {}, head), body);
  body.addEventListener("click", clicked);
  body.addEventListener("change", (event) => {
    if (event.target.type === "checkbox") toggleMark(rowOf(event.target), event.target.checked);
  });
  body.addEventListener("keydown", pressed);
  byId("save").addEventListener("click", save);
  byId("unmark").addEventListener("click", () => setMarked([]));
  on("wishes", later(sortTable));
  on("wishes", showSave);
  on("shown", showLines);
  on("marks", showMarks);
  sortTable();
}

function headCell(name, words) {
  const button = element("button", { type: "button" }, words);
  const cell = element("th", { scope: "col", "data-name": name }, button);
  button.addEventListener("click", () => {
    const better = (columns.get(name) || {}).better;
    Object.assign(
      sorting,
      sorting.name === name ? { falling: !sorting.falling } : { name, falling: better === "more" },
    );
    sortTable();
  });
  return cell;
}

function tableLine(row, heads) {
  const name = element("th", { scope: "row" }, element("button", { type: "button", tabindex: -1 }, String(row + 1)));
  const box = element(
    "td",
    {},
    element("input", { type: "checkbox", tabindex: -1, "aria-label": `Mark row ${row + 1}` }),
  );
  const cells = heads.map((column) => {
    const value = valueOf(row, column.name);
    return element(
      "td",
      { class: column.quantity === "text" ? "words" : null, title: exact(column, value) },
      textOf(column, value),
    );
  });
  return element("tr", { "data-row": row }, name, box, ...cells);
}

const rowOf = (node) => Number(node.closest("tr").dataset.row);

function later(work) {
  let waiting = 0;
  return () => {
    clearTimeout(waiting);
    waiting = setTimeout(work, 120);
  };
}

// Rows that a wish hides go to the end, in grey.
function sortTable() {
  const { name, falling } = sorting;
  const key = name === "id" ? (row) => row : (row) => given.rows[name][row];
  const compare = (a, b) =>
    key(a) === key(b)
      ? a - b
      : key(a) === null
        ? 1
        : key(b) === null
          ? -1
          : (key(a) < key(b) ? -1 : 1) * (falling ? -1 : 1);
  state.order = [...Array(count).keys()].sort(
    (a, b) => Number(state.meets[b]) - Number(state.meets[a]) || compare(a, b),
  );
  byId("table").tBodies[0].append(...state.order.map((row) => lines.get(row)));
  document.querySelectorAll("#table th[data-name]").forEach((cell) => {
    if (cell.dataset.name === name) cell.setAttribute("aria-sort", falling ? "descending" : "ascending");
    else cell.removeAttribute("aria-sort");
    cell.firstChild.textContent =
      cell.firstChild.textContent.replace(/ [\u25b2\u25bc]$/, "") +
      (cell.dataset.name === name ? (falling ? " \u25bc" : " \u25b2") : "");
  });
  showLines();
}

function showLines() {
  const signs = new Map(shownRows().map(({ row, look }) => [row, look.sign]));
  const held = state.picked >= 0 && state.picked < count ? state.picked : state.order[0];
  for (const [row, line] of lines) {
    const hidden = !state.meets[row];
    line.className = row === state.picked ? "picked" : signs.has(row) ? "pinned" : hidden ? "hidden" : "";
    const button = line.cells[0].firstChild;
    button.textContent = [row + 1, signs.get(row), hidden ? "\u00d7" : "", kindOf(row) ? "\u2605" : ""]
      .filter(Boolean)
      .join(" ");
    button.tabIndex = row === held ? 0 : -1;
    line.cells[1].firstChild.disabled = hidden;
    if (row === state.picked) line.setAttribute("aria-current", "true");
    else line.removeAttribute("aria-current");
  }
}

function showMarks() {
  const now = new Set(marked().filter((row) => state.meets[row]));
  if (now.size !== marked().length) setMarked([...now]);
  for (const [row, line] of lines) line.cells[1].firstChild.checked = now.has(row);
  showSave();
}

function toggleMark(row, wanted) {
  setMarked(wanted ? [...marked(), row] : marked().filter((other) => other !== row));
}

function clicked(event) {
  if (event.target.closest("input")) return;
  const line = event.target.closest("tr");
  if (line) pick(rowOf(line));
}

function pressed(event) {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const row = rowOf(event.target);
  const at = state.order.indexOf(row);
  const moves = { ArrowDown: at + 1, ArrowUp: at - 1, Home: 0, End: count - 1 };
  if (event.key in moves) {
    const next = state.order[Math.min(Math.max(moves[event.key], 0), count - 1)];
    lines.get(next).cells[0].firstChild.focus();
    lines.get(row).cells[0].firstChild.tabIndex = -1;
    lines.get(next).cells[0].firstChild.tabIndex = 0;
  } else if (event.key === "p" || event.key === "P") togglePin(row);
  else if ((event.key === "m" || event.key === "M") && state.meets[row]) toggleMark(row, !marked().includes(row));
  else return;
  event.preventDefault();
}

const rowsToSave = () =>
  marked().length ? marked() : state.order.filter((row) => state.meets[row]).sort((a, b) => a - b);

function showSave() {
  const many = marked().length;
  const left = state.meets.filter(Boolean).length;
  byId("save").textContent = many ? `Save the ${many} marked (CSV)` : `Save the ${left} left (CSV)`;
  byId("save").disabled = !many && !left;
  byId("unmark").disabled = !many;
}

// The very lines of front.csv.
function save() {
  const text = [given.csv[0], ...rowsToSave().map((row) => given.csv[row + 1]), ""].join("\n");
  const link = element("a", {
    href: URL.createObjectURL(new Blob([text], { type: "text/csv" })),
    download: "front-rows.csv",
  });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
}
