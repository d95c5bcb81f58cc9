// What the pivot reaches, against baseline, the row that betters it, aims and limits; and all its figures.
const cells = {}; // of the first table, by objective
const soon = "\u2026"; // of what is being measured

function buildTable() {
  const beside = [BASELINE >= 0 ? "baseline" : null, given.front ? "better" : null].filter(Boolean);
  byId("reached").replaceChildren();
  const heads = {
    baseline: "baseline",
    better: element("span", { id: "better-head" }, "betters it"),
  };
  const head = [
    element("th", { scope: "col" }),
    element("th", { scope: "col" }, "now"),
    ...beside.map((name) => element("th", { scope: "col" }, heads[name])),
    ...["aim", "limit"].map((name) => element("th", { scope: "col" }, name)),
  ];
  const rows = measured.map((name) => tableRow(columns.get(name), beside));
  byId("reached").append(
    element("thead", {}, element("tr", {}, ...head)),
    element("tbody", {}, ...rows),
  );
}

function tableRow(column, beside) {
  const made = { here: element("td", { class: "here" }) };
  for (const name of beside) made[name] = element("td");
  if (made.baseline) made.baseline.textContent = textOf(column, given.baseline[column.name]);
  const entries = ["aim", "limit"].map((which) => {
    made[which] = element("input", {
      type: "text",
      class: "entry",
      autocomplete: "off",
      "aria-label": `${column.title}, ${which}, ${column.symbol}`,
      id: `${which}-${column.name}`,
    });
    made[which].addEventListener("change", () =>
      ask({ do: "target", field: column.name, which, text: made[which].value }),
    );
    return element("td", { class: "ask" }, made[which]);
  });
  cells[column.name] = made;
  const words = `${column.title} (${column.symbol}), ${column.better === "less" ? "less" : "more"} is better`;
  const title = element("th", { scope: "row", title: column.meaning }, titled(column));
  title.setAttribute("aria-label", words);
  return element("tr", {}, title, made.here, ...beside.map((name) => made[name]), ...entries);
}

function showTargets() {
  for (const name of measured) {
    for (const which of ["aim", "limit"]) {
      const value = targets[name][which];
      const entry = cells[name][which];
      entry.value = value === null ? "" : textOf(columns.get(name), value);
    }
  }
}

function showNumbers() {
  const better = state.better;
  for (const name of measured) {
    const column = columns.get(name);
    const value = valueOf(HERE, name);
    const { aim, limit } = targets[name];
    const less = column.better === "less";
    const reached = value !== null && aim !== null && (less ? value <= aim : value >= aim);
    const past = value !== null && limit !== null && (less ? value > limit * (1 + 1e-9) : value < limit * (1 - 1e-9));
    const cell = cells[name].here;
    cell.textContent = value === null && !state.exact ? soon : `${state.exact ? "" : "\u2248\u2009"}${textOf(column, value)}`;
    cell.className = ["here", state.exact ? "" : "soon", reached ? "good" : "", past ? "past" : ""].join(" ");
    cell.title = value === null ? "" : `${value} ${column.symbol}`;
    if (cells[name].better)
      cells[name].better.textContent = better && name in better.values ? textOf(column, better.values[name]) : "";
  }
  if (byId("better-head")) byId("better-head").textContent = better ? `row ${better.row + 1}` : "betters it";
}

// Every column, as `try` writes it; far down the page, so it waits until everything is measured.
function showEvery() {
  byId("every").classList.toggle("soon", !state.exact);
  if (!state.exact) return;
  const names = given.columns.map((column) => column.name);
  const rows = names.map((name) => {
    const value = valueOf(HERE, name);
    const cell = element("td", { "data-column": name, "data-value": value }, textOf(columns.get(name), value));
    return element("tr", {}, element("th", { scope: "row" }, titled(columns.get(name))), cell);
  });
  byId("every").replaceChildren(element("tbody", {}, ...rows));
}
