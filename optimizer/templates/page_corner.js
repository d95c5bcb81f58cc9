// The front view: the corner of what is shown, at the travel and steering position of the moment.

let closer = false; // whether the front view shows the pivots alone

function startCorner() {
  const plot = model("view");
  for (const side of ["inner_width", "inner_height"]) plot.properties[side].change.connect(showPlace);
  byId("closer").addEventListener("click", () => {
    closer = !closer;
    byId("closer").setAttribute("aria-pressed", String(closer));
    showPlace();
    tell("closer");
  });
  keepInside("view");
  on("shown", drawCorners);
  on("pose", drawCorners);
  showPlace();
  drawCorners();
  buildKey();
}

// The stretch of the frame to show, at the same scale both ways.
function showPlace() {
  const plot = model("view");
  const [width, height] = [plot.inner_width, plot.inner_height];
  if (!(width > 0 && height > 0)) return;
  const [left, right, low, high] = closer ? pivotBounds() : given.place.bounds;
  const scale = Math.max((right - left) / width, (high - low) / height);
  const [y, z] = [(left + right) / 2, (low + high) / 2];
  for (const [range, axis, middle, extent] of [
    [plot.x_range, plot.below[0], y, width],
    [plot.y_range, plot.left[0], z, height],
  ]) {
    const [start, end] = [middle - (scale * extent) / 2, middle + (scale * extent) / 2];
    range.setv({ start, end });
    readTicks(plot, axis, "length", start, end);
  }
}

function poseOf(row) {
  const at = (field) => readAt(field, state.steer, row, state.travel);
  const point = (name) => [at(`${name}_y`), at(`${name}_z`)];
  return {
    lower: point("lower"),
    upper: point("upper"),
    steering: point("steering"),
    joint: point("joint"),
    wheel: point("wheel"),
    camber: at("camber"),
    toe: at("toe"),
  };
}

function drawCorners() {
  const lines = { xs: [], ys: [], colour: [], dash: [], width: [] };
  const joints = { x: [], y: [], colour: [], marker: [] };
  for (const { row, look } of [...shownRows()].reverse()) drawCorner(lines, joints, row, look);
  model("corner_lines").data = lines;
  model("corner_joints").data = joints;
}

function drawCorner(lines, joints, row, look) {
  const pose = poseOf(row);
  const pivot = [valueOf(row, "pivot_y"), valueOf(row, "pivot_z")];
  if (!Number.isFinite(pose.camber)) return;
  const bar = (from, to, width) => addLine(lines, [from[0], to[0]], [from[1], to[1]], look.colour, look.dash, width);
  bar(given.place.lower_inner, pose.lower, 3.4);
  bar(pivot, pose.upper, 3.4);
  bar(pose.lower, pose.upper, 2);
  bar(pose.joint, pose.steering, 1.4);
  const [ys, zs] = tyreOutline(...pose.wheel, pose.camber, pose.toe);
  addLine(lines, ys, zs, look.colour, look.dash, 1.8);
  for (const [y, z] of [given.place.lower_inner, pivot, pose.lower, pose.upper, pose.joint, pose.steering]) {
    joints.x.push(y);
    joints.y.push(z);
    joints.colour.push(look.colour);
    joints.marker.push(look.marker);
  }
}

function buildPose() {
  const travels = given.curves.travel;
  const [droop, bump] = [travels[0], travels[travels.length - 1]];
  const grain = unit.denominator ? unit.step : Math.max(unit.step, 10 ** -unit.digits);
  const slider = byId("travel");
  Object.assign(slider, {
    min: Math.ceil(droop / grain - 1e-9),
    max: Math.floor(bump / grain + 1e-9),
    step: 1,
    value: 0,
  });
  slider.addEventListener("input", () => {
    const [least, most] = [Number(slider.min), Number(slider.max)];
    const steps = Number(slider.value);
    setTravel(steps === least ? droop : steps === most ? bump : steps * grain);
  });
  byId("travel-text").addEventListener("change", () => {
    const value = readEntry(byId("travel-text").value);
    if (Number.isFinite(value)) setTravel(value);
    byId("travel-text").setAttribute("aria-invalid", String(!Number.isFinite(value)));
  });
  const positions = given.curves.positions;
  byId("steer-line").hidden = positions.length < 2;
  Object.assign(byId("steer"), { min: 0, max: positions.length - 1, step: 1, value: state.steer });
  byId("steer").addEventListener("input", () => {
    state.steer = Number(byId("steer").value);
    tell("pose");
  });
  on("pose", () => showPose(grain, droop, bump));
}

function showPose(grain, droop, bump) {
  const word = state.travel > 0 ? "bump" : state.travel < 0 ? "droop" : "ride";
  const full = state.travel === droop || state.travel === bump;
  byId("travel").value = Math.round(state.travel / grain);
  byId("travel").setAttribute("aria-valuetext", `${sayLength(state.travel)}, ${full ? "full " : ""}${word}`);
  byId("travel-text").value = lengthText(state.travel);
  byId("travel-text").removeAttribute("aria-invalid");
  byId("travel-word").textContent = `${unit.symbol} ${full ? "full " : ""}${word}`;
  byId("steer-word").textContent = given.curves.positions[state.steer];
  byId("steer").setAttribute("aria-valuetext", given.curves.positions[state.steer]);
}
