// Numbers as the builder reads and types them.
const unit = given.unit;

function element(tag, attributes, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes || {})) {
    if (value === true) made.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) made.setAttribute(name, value);
  }
  made.append(...children);
  return made;
}

const byId = (id) => document.getElementById(id);

function wholeSteps(value, step) {
  return Math.sign(value) * Math.floor(Math.abs(value / step) + 0.5) + 0;
}

// A length as the tape shows it, without its unit: "365", "14 3/8", "-1/16".
function tape(value) {
  const steps = wholeSteps(value, unit.step);
  if (!unit.denominator) return (steps * unit.step + 0).toFixed(unit.decimals);
  const sign = steps < 0 ? "-" : "";
  let top = Math.round(Math.abs(steps) * unit.step * unit.denominator);
  let bottom = unit.denominator;
  const whole = Math.floor(top / bottom);
  top -= whole * bottom;
  while (top && top % 2 === 0) [top, bottom] = [top / 2, bottom / 2];
  return sign + [whole || !top ? String(whole) : "", top ? `${top}/${bottom}` : ""].filter(Boolean).join(" ");
}

// A length that was computed: in inches as the tape shows it, else to the digits read on screen.
function lengthText(value) {
  return unit.denominator ? tape(value) : fixed(value, unit.digits);
}

function fixed(value, digits) {
  const text = value.toFixed(digits);
  return Number(text) === 0 ? (0).toFixed(digits) : text;
}

function textOf(column, value) {
  if (value === null || value === undefined || (typeof value === "number" && !Number.isFinite(value))) return "-";
  if (column.quantity === "text") return String(value);
  if (column.quantity !== "length") return fixed(value, column.digits);
  return column.tape ? tape(value) : lengthText(value);
}

function sayValue(column, value) {
  const text = textOf(column, value);
  return text === "-" || !column.symbol ? text : `${text} ${column.symbol}`;
}

const sayLength = (value) => `${lengthText(value)} ${unit.symbol}`;
const sayAngle = (value) => (Number.isFinite(value) ? `${fixed(value, 2)} deg` : "-");
const titled = (column) => (column.symbol ? `${column.title} (${column.symbol})` : column.title);

// A number or, in inches, a fraction such as 14 3/8; NaN where it is neither.
function readEntry(text) {
  const found = text
    .trim()
    .replace(/\s*(mm|in|"|deg)$/, "")
    .replace(",", ".")
    .replace("\u2212", "-");
  if (/^[+-]?(\d+\.?\d*|\.\d+)$/.test(found)) return Number(found);
  const parts = /^([+-]?)(?:(\d+)(?:\s+|-))?(\d+)\s*\/\s*(\d+)$/.exec(found);
  if (!parts || !unit.denominator || Number(parts[4]) === 0) return NaN;
  const size = Number(parts[2] || 0) + Number(parts[3]) / Number(parts[4]);
  return parts[1] === "-" ? -size : size;
}
