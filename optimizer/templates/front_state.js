// What the reader has chosen; every part of the page listens for what it shows.
const objectives = given.wishes.map((wish) => ({ ...wish, column: columns.get(wish.name) }));
const wishes = objectives.filter((wish) => wish.traded).map(startWish);
const state = {
  meets: new Array(count).fill(true), // rows that meet every wish
  missed: [], // of each wish, the rows that miss it
  picked: -1,
  pins: [],
  travel: 0,
  steer: given.curves.straight,
  order: [...Array(count).keys()], // rows as the list shows them
};
const PINS = given.looks.length - 1;

function startWish(wish) {
  const values = given.rows[wish.name].filter((value) => value !== null);
  const ends = [...values, wish.aim, wish.limit].filter((value) => value !== null);
  const [low, high] = ends.length ? [Math.min(...ends), Math.max(...ends)] : [0, 1];
  const less = wish.column.better === "less";
  const worst = less ? high : low;
  const start = wish.limit === null ? worst : wish.limit;
  return { ...wish, low, high: high > low ? high : low + 1, less, start, bound: start };
}

// What rounding leaves must not hide a row that stands on the bound.
function misses(wish, value) {
  const slack = 1e-9 * (wish.high - wish.low);
  if (value === null) return false;
  return wish.less ? value > wish.bound + slack : value < wish.bound - slack;
}

function judge() {
  state.missed = wishes.map((wish) => given.rows[wish.name].map((value) => misses(wish, value)));
  state.meets = state.meets.map((_, row) => !state.missed.some((missed) => missed[row]));
}

function setBound(wish, bound) {
  wish.bound = bound;
  judge();
  tell("wishes");
}

function pick(row) {
  state.picked = row;
  tell("shown");
}

function togglePin(row) {
  if (state.pins.includes(row)) state.pins = state.pins.filter((pinned) => pinned !== row);
  else state.pins = [...state.pins.slice(-(PINS - 1)), row].slice(-PINS);
  tell("shown");
}

// The picked candidate and the pinned ones, each with its look; a pin of what is picked is not drawn twice.
function shownRows() {
  const picked = state.picked >= 0 ? [{ row: state.picked, look: given.looks[0] }] : [];
  const pinned = state.pins.map((row, rank) => ({ row, look: given.looks[rank + 1] }));
  return picked.concat(pinned.filter(({ row }) => row !== state.picked));
}

const nameOf = (row) => (row === BASELINE ? "baseline" : `row ${row + 1}`);
const Name = (row) => (row === BASELINE ? "Baseline" : `Row ${row + 1}`);
const kindOf = (row) => (given.shortlist.find((item) => item.row === row) || { kind: "" }).kind;
