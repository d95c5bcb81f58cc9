// The figures of the page, and lines and ticks in them.
let figuresDocument = null;
const parts = new Map(); // by name: to look one up goes through all of them

function model(name) {
  if (!parts.has(name)) parts.set(name, figuresDocument.get_model_by_name(name));
  return parts.get(name);
}

// What moves is drawn on a layer of its own, which does not keep it inside the frame by itself.
function keepInside(name) {
  for (const part of Bokeh.index.get_by_id(model(name).id).renderer_views.values()) {
    if (part.model.level === "overlay") Object.defineProperty(part, "needs_clip", { value: true });
  }
}

function addLine(lines, xs, ys, colour, dash, width) {
  lines.xs.push(xs);
  lines.ys.push(ys);
  lines.colour.push(colour);
  lines.dash.push(dash);
  lines.width.push(width);
}

// In inches the ticks stand at halves, quarters, ... and are written as the tape writes them, where the axis shows them.
// Fractions are wide, so fewer of them stand side by side.
function readTicks(plot, axis, quantity, low, high) {
  const inches = unit.denominator > 0 && quantity === "length";
  axis.ticker.setv({
    ...(inches ? { base: 2, mantissas: [1], min_interval: unit.step } : { base: 10, mantissas: [1, 2, 5], min_interval: 0 }),
    desired_num_ticks: inches && axis === plot.below[0] ? 4 : 6,
  });
  const labels = new Map();
  const grain = Math.max(unit.step, 2 ** Math.ceil(Math.log2((high - low) / 64)));
  for (let n = Math.ceil(low / grain); inches && n <= high / grain; n++)
    if (!Number.isInteger(n * grain)) labels.set(n * grain, tape(n * grain));
  axis.major_label_overrides = labels;
}
