// What the page was given, and the curves that ride along in it.
const given = JSON.parse(document.getElementById("payload").textContent);
const columns = new Map(given.columns.map((column) => [column.name, column]));
const count = given.rows.pivot_y.length;
const BASELINE = given.baseline ? count : -1; // its place behind the rows
const packed = unpack(given.curves);

function unpack(curves) {
  const text = atob(curves.data);
  const bytes = new Uint8Array(text.length);
  for (let i = 0; i < text.length; i++) bytes[i] = text.charCodeAt(i);
  const view = new DataView(bytes.buffer);
  const whole = new Int16Array(bytes.length / 2);
  for (let i = 0; i < whole.length; i++) whole[i] = view.getInt16(2 * i, true);
  const all = curves.positions.length * curves.travel.length;
  return { whole, candidates: whole.length / (curves.fields.length * all) };
}

function valueOf(row, name) {
  const value = row === BASELINE ? given.baseline[name] : given.rows[name][row];
  return value === undefined ? null : value;
}

function kept(field, steer, row, place) {
  const { fields, positions, travel, low, step } = given.curves;
  const at = fields.indexOf(field);
  const first = ((at * positions.length + steer) * packed.candidates + row) * travel.length;
  const whole = packed.whole[first + place];
  return whole === -32768 ? NaN : low[at][steer] + step[at][steer] * (whole + 32767);
}
