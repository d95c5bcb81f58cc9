// Camber, toe, contact path and rod-end angles of what is shown, with their limits and targets.
const KINDS = ["camber", "toe", "contact", "rod_ends"];
const travels = given.curves.travel;
const RIDE = travels.indexOf(0);

function startCurves() {
  KINDS.forEach((kind) => keepInside(`curve_${kind}`));
  on("shown", drawCurves);
  on("pose", drawDots);
  let drawn = state.steer;
  on("pose", () => {
    if (drawn !== state.steer) {
      drawn = state.steer;
      drawCurves();
    }
  });
  drawCurves();
}

// Pairs of what lies across and what goes up, of one candidate.
function pairsOf(kind, row, curve) {
  if (kind === "rod_ends") return ["outer_rod_end", "inner_rod_end"].map((end) => [travels, curve(end, row)]);
  if (kind !== "contact") return [[travels, curve(kind, row)]];
  const [y, z] = [curve("contact_y", row), curve("contact_z", row)];
  return [[y.map((value) => value - y[RIDE]), z.map((value) => value - z[RIDE])]];
}

function drawCurves() {
  const shown = shownRows();
  byId("curves").classList.toggle("empty", !shown.length);
  byId("curves-head").textContent = shown.length
    ? `Through travel, ${given.curves.positions[state.steer]}`
    : "Through travel: pick a candidate";
  const curve = (field, row) => curveOf(field, state.steer, row);
  for (const kind of KINDS) {
    const lines = { xs: [], ys: [], colour: [], dash: [], width: [] };
    for (const { row, look } of [...shown].reverse()) {
      pairsOf(kind, row, curve).forEach(([xs, ys], n) => addLine(lines, xs, ys, look.colour, look.dash, n ? 1.4 : 2.8));
    }
    model(`lines_${kind}`).data = lines;
    const bands = drawBands(kind, shown);
    fitRanges(kind, [lines, bands]);
  }
  drawDots();
}

function drawDots() {
  const at = (field, row) => [readAt(field, state.steer, row, state.travel)];
  for (const kind of KINDS) {
    const dots = { x: [], y: [], colour: [], marker: [] };
    for (const { row, look } of [...shownRows()].reverse()) {
      for (const [, ys] of kind === "contact" ? [] : pairsOf(kind, row, at)) addDot(dots, state.travel, ys[0], look);
      if (kind === "contact") {
        const ride = ["contact_y", "contact_z"].map((field) => kept(field, state.steer, row, RIDE));
        addDot(dots, at("contact_y", row)[0] - ride[0], at("contact_z", row)[0] - ride[1], look);
      }
    }
    model(`dots_${kind}`).data = dots;
  }
}

function addDot(dots, x, y, look) {
  if (!Number.isFinite(x) || !Number.isFinite(y)) return;
  dots.x.push(x);
  dots.y.push(y);
  dots.colour.push(look.colour);
  dots.marker.push(look.marker);
}

// What a curve's extent from end to end may be, laid about the middle of the picked one's.
const EXTENTS = { toe: "bump_steer", contact: "scrub" };

function drawBands(kind, shown) {
  const lines = { xs: [], ys: [], colour: [], dash: [], width: [] };
  const words = [WHAT[kind]];
  const straight = state.steer === given.curves.straight;
  if (kind === "rod_ends") addLargest(lines, words);
  else if (kind === "camber") words.push("orange: target");
  else if (shown.length && straight) addExtents(kind, shown[0].row, lines, words);
  model(`bands_${kind}`).data = lines;
  byId(`say_${kind}`).textContent = words.join("; ");
  return lines;
}

function fitRanges(kind, drawn) {
  const plot = model(`curve_${kind}`);
  const [targetX, targetY] = kind === "camber" ? given.place.camber_curve : [[], []];
  const gather = (name, more) =>
    drawn
      .flatMap((lines) => lines[name].flat())
      .concat(more)
      .filter(Number.isFinite);
  const edges = kind === "contact" ? [] : [travels[0], travels[travels.length - 1]];
  const sides = [
    [plot.x_range, plot.below[0], "length", gather("xs", targetX).concat(edges)],
    [plot.y_range, plot.left[0], kind === "contact" ? "length" : "angle", gather("ys", targetY)],
  ];
  for (const [range, axis, quantity, values] of sides) {
    if (!values.length) continue;
    const [low, high] = [Math.min(...values), Math.max(...values)];
    if (state.moving && low >= range.start && high <= range.end) continue; // axes that hold still are easier to read
    const edge = 0.06 * (high - low) || 1;
    range.setv({ start: low - edge, end: high + edge });
    readTicks(plot, axis, quantity, low - edge, high + edge);
  }
}

const WHAT = {
  camber: "Camber",
  toe: "Toe",
  contact: "Contact path",
  rod_ends: "Rod ends, outer thick",
};

function addLargest(lines, words) {
  const ends = [travels[0], travels[travels.length - 1]];
  const { outer_rod_end: outer, inner_rod_end: inner } = given.place.largest;
  addLine(lines, ends, [outer, outer], "#000000", "solid", 2.4);
  addLine(lines, ends, [inner, inner], "#000000", "dashed", 1.2);
  words.push("black: largest angles");
}

function addExtents(kind, row, lines, words) {
  const wish = objectives.find((each) => each.objective === EXTENTS[kind]);
  if (!wish) return;
  const field = kind === "toe" ? "toe" : "contact_y";
  const curve = curveOf(field, state.steer, row).filter(Number.isFinite);
  const middle =
    (Math.min(...curve) + Math.max(...curve)) / 2 - (kind === "toe" ? 0 : kept(field, state.steer, row, RIDE));
  const height = curveOf("contact_z", state.steer, row)
    .map((value) => value - kept("contact_z", state.steer, row, RIDE))
    .filter(Number.isFinite);
  const along = kind === "toe" ? [travels[0], travels[travels.length - 1]] : [Math.min(...height), Math.max(...height)];
  const extent = Math.max(...curve) - Math.min(...curve);
  for (const [name, colour, dash] of [
    ["aim", "#006b4f", "dashed"],
    ["limit", "#000000", "solid"],
  ]) {
    const value = wish[name];
    if (value === null) continue;
    const near = value < 3 * extent || name === "aim";
    if (near) words.push(dash === "solid" ? "black: limit" : "green: aim");
    for (const at of near ? [middle - value / 2, middle + value / 2] : []) {
      addLine(lines, kind === "toe" ? along : [at, at], kind === "toe" ? [at, at] : along, colour, dash, 1.4);
    }
  }
}
