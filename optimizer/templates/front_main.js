// Puts the figures into their places and starts every part.
async function start() {
  const json = JSON.parse(byId("figures-json").textContent);
  const roots = Object.fromEntries(json.roots.map((root) => [root.id, byId(root.attributes.name)]));
  buildWishes();
  buildPlots();
  buildPose();
  buildCard();
  judge();
  await Bokeh.embed.embed_items({ front: json }, [{ docid: "front", roots, root_ids: Object.keys(roots) }]);
  figuresDocument = Bokeh.documents[0];
  buildTable();
  startPlots();
  startCorner();
  startCurves();
  ["wishes", "pose", "shown", "marks"].forEach(tell);
  letTouchScroll();
  document.body.dataset.ready = "true";
}

// A finger on a plot still scrolls the page up and down.
function letTouchScroll() {
  for (const name of [...Object.keys(PLOTS), ...KINDS.map((kind) => `curve_${kind}`)]) {
    const view = Bokeh.index.get_by_id(model(name).id);
    if (view && view.canvas_view) view.canvas_view.events_el.style.touchAction = "pan-y";
  }
}

start();
