// Opens the session, puts the figures into their places and starts every part.
tellers.here = (what) => {
  state.point = what.point;
  state.values = what.values;
  for (const name of ["held", "exact", "broken", "compared", "better", "steer"]) state[name] = what[name];
  drawn.here = what.curves;
  byId("undo").disabled = !what.undo;
  byId("snap").checked = what.snap;
  byId("command").value = what.command || "Save the scenario first: its aims or limits have been moved.";
  tell("here");
  tell("shown");
};
tellers.asked = (what) => {
  targets = what.targets;
  objectives = what.wishes.map((wish) => ({ ...wish, column: columns.get(wish.name) }));
  const before = [measured, shades].join();
  measured = what.measured;
  shades = what.shades;
  if ([measured, shades].join() !== before) {
    buildTable();
    byId("shade").replaceChildren(
      element("option", { value: "" }, "nothing"),
      ...shades.map((name) => element("option", { value: name }, columns.get(name).title)),
    );
  }
  showTargets();
  byId("save").disabled = !what.changed;
};
tellers.baseline = (what) => {
  drawn.baseline = what.curves;
};
tellers.map = showMap;
tellers.progress = showProgress;
tellers.said = showSaid;

async function start() {
  const { token, roots } = JSON.parse(byId("session").textContent);
  const places = Object.fromEntries(Object.entries(roots).map(([id, name]) => [id, byId(name) || byId("sources")]));
  buildPose();
  buildCard();
  await Bokeh.embed.embed_items({}, [{ token, roots: places, root_ids: Object.keys(roots) }], "/");
  figuresDocument = Bokeh.documents[0];
  figuresDocument.on_event("connection_lost", lost);
  model("told").properties.data.change.connect(heard);
  tellers.here = begin(tellers.here);
  ask({ do: "hello" });
}

// The first that Python tells of the pivot brings the figures to life.
function begin(here) {
  let begun = false;
  return (what) => {
    here(what);
    if (begun) return;
    begun = true;
    for (const show of [showEntries, showVerdict, showNumbers, showBetter, showEvery]) on("here", show);
    startView();
    startCorner();
    startCurves();
    let steer = state.steer;
    on("pose", () => {
      if (state.steer !== steer) ask({ do: "steer", index: state.steer });
      steer = state.steer;
    });
    ["here", "pose", "shown"].forEach(tell);
    document.body.dataset.ready = "true";
  };
}

start();
