// Asks go to Python one by one; of the moves of a hand only the latest waits, so that nothing ever piles up.
const talk = { number: 0, open: null, move: null, others: [] };
const tellers = {};

function ask(what) {
  if (what.do === "move") talk.move = what;
  else {
    talk.others.push(what);
    byId("said").textContent = "";
  }
  send();
}

function send() {
  if (talk.open !== null || document.body.classList.contains("lost")) return;
  const next = talk.move && !talk.others.length ? talk.move : talk.others.shift();
  if (!next) return;
  if (next === talk.move) talk.move = null;
  talk.number += 1;
  talk.open = talk.number;
  showBusy();
  model("ask").data = { text: [JSON.stringify({ ...next, n: talk.number })] };
}

// Busy until Python has answered and everything is measured.
function showBusy() {
  document.body.dataset.busy = String(talk.open !== null || !state.exact);
}

function heard() {
  const text = model("told").data.text[0];
  if (!text) return;
  const what = JSON.parse(text);
  tellers[what.kind](what);
  if (what.answers === talk.open || what.refused) {
    talk.open = null;
    send();
  }
  showBusy();
}

// The server is gone: what stands is the last it said.
function lost() {
  document.body.classList.add("lost");
  byId("lost").hidden = false;
  byId("lost").textContent =
    "pivotfront has stopped or cannot be reached, so nothing here moves any more; the figures are the last it worked out. " +
    `Reload this page, or start again in a terminal (pivotfront explore ${given.file}) and open the new address.`;
  document.querySelectorAll("button, select, #card input, #write input, #reached input").forEach((part) => {
    part.disabled = true;
  });
}
