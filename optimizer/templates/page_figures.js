// The figures of the page, and lines and ticks in them.
let figuresDocument = null;
const model = (name) => figuresDocument.get_model_by_name(name);

function addLine(lines, xs, ys, colour, dash, width) {
  lines.xs.push(xs);
  lines.ys.push(ys);
  lines.colour.push(colour);
  lines.dash.push(dash);
  lines.width.push(width);
}

// In inches the ticks stand at halves, quarters, ... and are written as the tape writes them, where the axis shows them.
function readTicks(axis, quantity, low, high) {
  const inches = unit.denominator > 0 && quantity === "length";
  axis.ticker.setv(
    inches ? { base: 2, mantissas: [1], min_interval: unit.step } : { base: 10, mantissas: [1, 2, 5], min_interval: 0 },
  );
  const labels = new Map();
  const grain = Math.max(unit.step, 2 ** Math.ceil(Math.log2((high - low) / 64)));
  for (let n = Math.ceil(low / grain); inches && n <= high / grain; n++)
    if (!Number.isInteger(n * grain)) labels.set(n * grain, tape(n * grain));
  axis.major_label_overrides = labels;
}
