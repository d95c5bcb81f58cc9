// The front view: the pivot follows the hand, by as much as the hand moves, wherever it takes hold.
let hand = null; // where it took hold, and where the pivot was
let hands = 0;

// The pointer's own events, at every move: the figure's pan would not begin under a hand that starts slowly.
function startView() {
  const view = Bokeh.index.get_by_id(model("view").id);
  const area = view.canvas_view.events_el;
  const placeOf = (event) => {
    const box = area.getBoundingClientRect();
    const [x, y] = [event.clientX - box.x, event.clientY - box.y];
    return { x: view.frame.x_scale.invert(x), y: view.frame.y_scale.invert(y), inside: view.frame.bbox.contains(x, y) };
  };
  area.addEventListener("pointerdown", (event) => {
    const at = placeOf(event);
    if (event.button !== 0 || !event.isPrimary || !at.inside) return;
    area.setPointerCapture(event.pointerId);
    hands += 1;
    hand = { ...at, from: { ...state.point } };
    state.moving = true;
    byId("view").classList.add("held");
  });
  area.addEventListener("pointermove", (event) => hand && event.isPrimary && moved(placeOf(event), false));
  area.addEventListener("pointerup", (event) => hand && event.isPrimary && letGo(placeOf(event)));
  area.addEventListener("pointercancel", (event) => hand && event.isPrimary && letGo(null));
  model("view").on_event("doubletap", () => showPlace());
  byId("view").addEventListener("keydown", nudged);
  on("here", drawPivot);
}

function letGo(at) {
  if (at && hand.moved) moved(at, true);
  hand = null;
  state.moving = false;
  byId("view").classList.remove("held");
}

function moved(at, last) {
  const [y, z] = [hand.from.y + at.x - hand.x, hand.from.z + at.y - hand.y];
  if (!Number.isFinite(y) || !Number.isFinite(z) || (at.x === hand.x && at.y === hand.y && !hand.moved)) return;
  hand.moved = true;
  ask({ do: "move", hand: hands, y, z, last });
}

function nudged(event) {
  const steps = event.shiftKey ? 10 : 1;
  const moves = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
  if (!(event.key in moves) || event.ctrlKey || event.altKey || event.metaKey) return;
  const [y, z] = moves[event.key];
  event.preventDefault();
  if (talk.others.length < 2) ask({ do: "nudge", y: y * steps, z: z * steps });
}

function drawPivot() {
  const { y, z } = state.point;
  model("pivot").data = { x: [y], y: [z] };
  const to = state.better;
  model("arrow").data = to
    ? { x_start: [y], y_start: [z], x_end: [to.y], y_end: [to.z] }
    : { x_start: [], y_start: [], x_end: [], y_end: [] };
}

// The range searched, and the pivot should it lie outside.
function pivotBounds() {
  const [left, right, low, high] = given.place.ranges;
  const { y, z } = state.point;
  const ends = [Math.min(left, y), Math.max(right, y), Math.min(low, z), Math.max(high, z)];
  const edge = 0.06 * Math.max(ends[1] - ends[0], ends[3] - ends[2], 8 * unit.step);
  return [ends[0] - edge, ends[1] + edge, ends[2] - edge, ends[3] + edge];
}

function buildKey() {
  const lines = [
    "Red ring: the pivot. Drag anywhere in the picture, and it moves by as much. Arrow keys move it by a mark of the tape, with Shift by ten.",
    "Shades: the objective chosen beside, darker is better. Hatched and pale: a limit is broken there. Both for the static camber or arm length held.",
    given.front ? "White dots: rows of the front. Arrow: the nearest that betters the pivot in everything." : "",
    "Dashed box: range searched.",
    given.place.has_region ? "Green outline: where a bracket can be welded." : "",
    given.place.has_keep_out ? "Hatched disc: keep-out." : "",
    "Black line: ground at ride. Long grey dashes: vehicle centre plane.",
    given.place.has_bodywork ? "Thick purple dashes: bodywork." : "",
    "Thick: arms. Thinner: kingpin, tyre, tie rod. Dashed red: the baseline.",
    "Ctrl and the wheel zoom, a double click shows all again.",
  ];
  byId("view-key").replaceChildren(...lines.filter(Boolean).map((line) => element("div", {}, line)));
}
