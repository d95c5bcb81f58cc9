// Every row as a dot in the front view and in both trade-off plots: one source, so that a mark in one shows in all.
const PLOTS = { view: "view", trade_a: "a", trade_b: "b" };
const axes = { a: {}, b: {} };
const colouring = { name: null };
const REACH = 26; // px around a dot that a tap still means it

function buildPlots() {
  const choices = given.columns.filter((column) => column.quantity !== "text" && given.table.includes(column.name));
  const traded = wishes.map((wish) => wish.column);
  const [first, second, third, fourth] = [...traded, ...choices.filter((column) => !traded.includes(column))];
  const others =
    traded.length > 2 ? [third, traded.length > 3 ? fourth : first] : [columns.get("pivot_y"), columns.get("pivot_z")];
  const start = { a: [first, second], b: others };
  for (const which of ["a", "b"]) {
    ["across", "up"].forEach((side, n) => {
      const chooser = byId(`${which}-${side}`);
      chooser.append(...choices.map((column) => element("option", { value: column.name }, column.title)));
      chooser.value = start[which][n].name;
      axes[which][side] = chooser.value;
      chooser.addEventListener("change", () => {
        axes[which][side] = chooser.value;
        showAll(which);
        placeRows();
      });
    });
  }
  const chooser = byId("colour");
  chooser.append(
    element("option", { value: "" }, "nothing"),
    ...choices.map((column) => element("option", { value: column.name }, column.title)),
  );
  chooser.value = colouring.name = traded.length ? traded[0].name : "";
  chooser.addEventListener("change", () => {
    colouring.name = chooser.value;
    placeRows();
  });
}

function startPlots() {
  for (const [name, where] of Object.entries(PLOTS)) {
    const plot = model(name);
    plot.on_event("tap", (event) => tapped(plot, where, event));
    plot.on_event("doubletap", () => (where === "view" ? showPlace() : showAll(where)));
  }
  model("rows").selected.properties.indices.change.connect(() => tell("marks"));
  on("wishes", showMeets);
  on("wishes", dropHiddenMarks);
  on("closer", placeRows);
  on("shown", showRings);
  rideTyre = { ...model("ride_tyre").data };
  on("shown", showRideTyre);
  ["a", "b"].forEach(showAll);
  ["trade_a", "trade_b"].forEach(keepInside);
  placeRows();
}

// Where row 1 has its tyre at ride, while no corner is drawn.
let rideTyre = null;

function showRideTyre() {
  model("ride_tyre").data = shownRows().length ? { x: [], y: [] } : rideTyre;
}

const marked = () => model("rows").selected.indices;

function setMarked(rows) {
  model("rows").selected.indices = [...new Set(rows)].sort((a, b) => a - b);
}

function dropHiddenMarks() {
  const kept = marked().filter((row) => state.meets[row]);
  if (kept.length !== marked().length) setMarked(kept);
}

function showMeets() {
  const rows = [...Array(count).keys()];
  model("left").indices = rows.filter((row) => state.meets[row]);
  model("hidden").indices = rows.filter((row) => !state.meets[row]);
}

// Darker and larger is better, or more where neither is.
function shareOf(row) {
  const column = columns.get(colouring.name);
  if (!column) return 0.5;
  const values = given.rows[column.name].filter((value) => value !== null);
  const [low, high] = [Math.min(...values), Math.max(...values)];
  const value = valueOf(row, column.name);
  if (value === null || !(high > low)) return 0.5;
  const share = (value - low) / (high - low);
  return column.better === "less" ? 1 - share : share;
}

const shade = (share) => given.shades[Math.round(share * (given.shades.length - 1))];
const dotSize = (share) => 5 + 4 * share;

function placeRows() {
  const rows = [...Array(count).keys()];
  const shares = rows.map(shareOf);
  model("rows").data = {
    id: rows.map((row) => row + 1),
    fill: shares.map(shade),
    size: shares.map(dotSize),
    view_size: shares.map((share) => (closer ? 1.3 : 0.6) * dotSize(share)),
    ...dotsIn("view", "pivot_y", "pivot_z"),
    ...dotsIn("a", axes.a.across, axes.a.up),
    ...dotsIn("b", axes.b.across, axes.b.up),
  };
  showRings();
  showColourKey();
}

const nan = (value) => (value === null ? NaN : value);

function dotsIn(where, across, up) {
  const rows = [...Array(count).keys()];
  const said = (row, name) =>
    `${columns.get(name).title.toLowerCase()} ${sayValue(columns.get(name), valueOf(row, name))}`;
  return {
    [`${where}_x`]: rows.map((row) => nan(valueOf(row, across))),
    [`${where}_y`]: rows.map((row) => nan(valueOf(row, up))),
    [`${where}_tip`]: rows.map((row) => `${Name(row)}: ${said(row, across)}, ${said(row, up)}`),
  };
}

function showColourKey() {
  const column = columns.get(colouring.name);
  byId("colour-key").replaceChildren();
  if (!column) return;
  const values = given.rows[column.name].filter((value) => value !== null);
  const ends = [Math.min(...values), Math.max(...values)].map((value) => sayValue(column, value));
  if (column.better === "less") ends.reverse();
  const dots = [0, 0.33, 0.67, 1].map((share) => {
    const size = `${dotSize(share) + 2}px`;
    return element("span", {
      style: `width:${size};height:${size};border-radius:50%;border:1px solid #000;background:${shade(share)}`,
    });
  });
  byId("colour-key").append(ends[0], ...dots, ends[1]);
}

function showRings() {
  const shown = shownRows();
  model("shown").data = {
    colour: shown.map(({ look }) => look.colour),
    marker: shown.map(({ look }) => look.marker),
    ...ringsIn("view", shown, "pivot_y", "pivot_z", closer),
    ...ringsIn("a", shown, axes.a.across, axes.a.up, true),
    ...ringsIn("b", shown, axes.b.across, axes.b.up, true),
  };
}

// In the whole front view the corner itself is drawn: small rings without a name leave it to be seen.
function ringsIn(where, shown, across, up, named) {
  const { start, end } = model(where === "view" ? "view" : `trade_${where}`).x_range;
  const xs = shown.map(({ row }) => nan(valueOf(row, across)));
  const last = xs.map((x) => x > start + 0.75 * (end - start)); // its name would be cut off on the right
  return {
    [`${where}_x`]: xs,
    [`${where}_y`]: shown.map(({ row }) => nan(valueOf(row, up))),
    [`${where}_size`]: shown.map(() => (named ? 16 : 11)),
    [`${where}_label`]: shown.map(({ row }) => (!named ? "" : row === BASELINE ? "baseline" : String(row + 1))),
    [`${where}_align`]: last.map((left) => (left ? "right" : "left")),
    [`${where}_shift`]: last.map((left) => (left ? -10 : 10)),
  };
}

// The nearest dot means the tap, one that meets every wish before one that does not.
function tapped(plot, where, event) {
  const data = model("rows").data;
  const across = plot.inner_width / (plot.x_range.end - plot.x_range.start);
  const up = plot.inner_height / (plot.y_range.end - plot.y_range.start);
  const nearest = [true, false].map((wanted) => {
    let [best, least] = [-1, REACH];
    for (let row = 0; row < count; row++) {
      if (state.meets[row] !== wanted) continue;
      const far = Math.hypot((data[`${where}_x`][row] - event.x) * across, (data[`${where}_y`][row] - event.y) * up);
      if (far < least) [best, least] = [row, far];
    }
    return best;
  });
  const row = nearest[0] >= 0 ? nearest[0] : nearest[1];
  if (row >= 0) pick(row);
}

// All rows, with aims and limits where they lie near: a far one must not squeeze the rows to a dot.
function showAll(which) {
  const plot = model(`trade_${which}`);
  for (const [side, range, axis] of [
    ["across", plot.x_range, plot.below[0]],
    ["up", plot.y_range, plot.left[0]],
  ]) {
    const column = columns.get(axes[which][side]);
    const values = given.rows[column.name].filter((value) => value !== null);
    let [low, high] = values.length ? [Math.min(...values), Math.max(...values)] : [0, 1];
    const reach = 0.6 * (high - low);
    for (const value of targetsOf(column.name)) {
      if (value >= low - reach && value <= high + reach) [low, high] = [Math.min(low, value), Math.max(high, value)];
    }
    const edge = 0.1 * (high - low) || 1;
    range.setv({ start: low - edge, end: high + edge });
    axis.axis_label = axisWords(plot, side, column);
    readTicks(plot, axis, column.quantity, low - edge, high + edge);
  }
  drawTargets(which);
}

const LETTER = 5.3; // px, of the words of an axis, which may stand out beyond it a little

// On two lines where one would be cut off.
function axisWords(plot, side, column) {
  if (!column.better) return titled(column);
  const words = [titled(column), `${ARROWS[side][column.better]} better`];
  const long = side === "up" && LETTER * words.join(", ").length > plot.inner_height + 10;
  return words.join(long ? "\n" : ", ");
}

const ARROWS = { across: { less: "\u2190", more: "\u2192" }, up: { less: "\u2193", more: "\u2191" } };
const objectiveOf = (name) => objectives.find((each) => each.name === name);

function targetsOf(name) {
  const found = objectiveOf(name);
  return found ? [found.aim, found.limit].filter((value) => value !== null) : [];
}

function drawTargets(which) {
  const lines = { xs: [], ys: [], colour: [], dash: [], width: [] };
  const far = 1e6;
  for (const side of ["across", "up"]) {
    const found = objectiveOf(axes[which][side]);
    if (!found) continue;
    for (const [value, colour, dash] of [
      [found.aim, "#006b4f", "dashed"],
      [found.limit, "#000000", "solid"],
    ]) {
      if (value === null) continue;
      const along = [-far, far];
      const still = [value, value];
      addLine(lines, side === "across" ? still : along, side === "across" ? along : still, colour, dash, 1.6);
    }
  }
  model(`targets_${which}`).data = lines;
}

function pivotBounds() {
  const [ys, zs] = [given.rows.pivot_y, given.rows.pivot_z];
  const [left, right, low, high] = [Math.min(...ys), Math.max(...ys), Math.min(...zs), Math.max(...zs)];
  const edge = 0.15 * Math.max(right - left, high - low, 8 * unit.step);
  return [left - edge, right + edge, low - edge, high + edge];
}

function buildKey() {
  const lines = [
    "Black line: ground at ride. Long grey dashes: vehicle centre plane.",
    given.place.has_bodywork ? "Thick purple dashes: bodywork." : "",
    "Dashed box: range searched.",
    given.place.has_region ? "Green outline: where a bracket can be welded." : "",
    given.place.has_keep_out ? "Hatched disc: keep-out." : "",
    "Round dots: pivots that meet every wish; grey crosses: hidden by one; thick hexagons: marked.",
    "In the other plots, dashed green: aim; solid black: limit.",
    "Dragging marks rows, Ctrl and the wheel zoom, a double click shows all again.",
    "Beside toe and contact path: how far they may reach from end to end, laid about the picked one's middle.",
    "Thick: arms. Thinner: kingpin, tyre, tie rod. Dotted grey: tyre of row 1 at ride, while nothing is picked.",
  ];
  byId("view-key").replaceChildren(...lines.filter(Boolean).map((line) => element("div", {}, line)));
}
