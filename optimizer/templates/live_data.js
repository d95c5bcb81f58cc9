// What the page was given, and the curves of what it shows: the pivot, and the baseline beside it.
const given = JSON.parse(document.getElementById("payload").textContent);
const columns = new Map(given.columns.map((column) => [column.name, column]));
const HERE = 0;
const BASELINE = given.baseline ? 1 : -1;
const drawn = { here: null, baseline: null }; // curves by field: here at one steering position, of the baseline at each

function valueOf(row, name) {
  const value = (row === BASELINE ? given.baseline : state.values)[name];
  return value === undefined ? null : value;
}

function kept(field, steer, row, place) {
  const curves = row === BASELINE ? drawn.baseline && drawn.baseline[steer] : drawn.here;
  const value = curves ? curves[field][place] : null;
  return value === null ? NaN : value;
}
