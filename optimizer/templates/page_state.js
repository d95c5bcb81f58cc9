// Parts of the page tell each other what has changed.
const listeners = {};
const on = (what, listener) => (listeners[what] ??= []).push(listener);
const tell = (what) => (listeners[what] || []).forEach((listener) => listener());

function setTravel(travel) {
  const travels = given.curves.travel;
  state.travel = Math.min(Math.max(travel, travels[0]), travels[travels.length - 1]);
  tell("pose");
}
