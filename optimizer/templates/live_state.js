// What the page shows at the moment, as Python has told it.
const state = {
  point: { y: 0, z: 0, hole: 0 },
  values: {}, // by column; empty while nothing is known
  held: "static_camber",
  exact: false,
  broken: null, // words of broken limits; null while they are not known
  compared: false, // whether rows of the front could be held against it
  better: null, // the nearest row of the front that betters the pivot in everything
  travel: 0,
  steer: given.curves.straight,
  moving: false, // axes of curves grow meanwhile, and do not shrink
  beside: false, // whether the baseline is drawn
};
let objectives = []; // aims and limits of everything that something is asked of
let targets = {}; // aims and limits of everything that is measured
let measured = [];
let shades = []; // what the surroundings can be shaded by

function shownRows() {
  const rows = [{ row: HERE, look: given.looks[0] }];
  return state.beside && drawn.baseline ? [...rows, { row: BASELINE, look: given.looks[1] }] : rows;
}

const nameOf = (row) => (row === BASELINE ? "baseline" : "this pivot");
