// A slider for each traded objective, over a strip of where the rows lie.
const STEPS = 400;
const THUMB = 8; // px from the slider's end to the middle of its thumb there

function buildWishes() {
  for (const wish of wishes) {
    const id = `wish-${wish.name}`;
    const words = `${wish.column.title}, ${wish.less ? "at most" : "at least"}`;
    wish.slider = element("input", { type: "range", id, min: 0, max: STEPS, step: 1 });
    wish.entry = element("input", {
      type: "text",
      class: "entry",
      id: `${id}-text`,
      "aria-label": `${words}, ${wish.column.symbol}`,
    });
    wish.strip = element("canvas", { "aria-hidden": "true" });
    wish.say = element("span");
    const marks = element("span", {}, wordsOfTargets(wish));
    const label = element("label", { for: id, title: wish.column.meaning }, wish.column.title);
    const head = element(
      "div",
      { class: "wish-head" },
      label,
      element("small", {}, wish.less ? "at most" : "at least"),
      wish.entry,
      wish.column.symbol,
    );
    const below = element("div", { class: "wish-say" }, marks, wish.say);
    byId("wish-list").append(element("div", { class: "wish" }, head, wish.strip, wish.slider, below));
    wish.slider.addEventListener("input", () => setBound(wish, boundAt(wish, Number(wish.slider.value))));
    wish.entry.addEventListener("change", () => typeBound(wish));
    new ResizeObserver(() => drawStrip(wish)).observe(wish.strip);
  }
  byId("wishes-back").addEventListener("click", () => {
    wishes.forEach((wish) => {
      wish.bound = wish.start;
    });
    judge();
    tell("wishes");
  });
  on("wishes", showWishes);
  on("shown", () => wishes.forEach(drawStrip));
}

function wordsOfTargets(wish) {
  const aim = wish.aim === null ? "no aim" : `aim ${textOf(wish.column, wish.aim)}`;
  return wish.limit === null ? aim : `${aim}, limit ${textOf(wish.column, wish.limit)}`;
}

// The ends are exact; between them the bound is what the reader sees of it.
function boundAt(wish, step) {
  const value = wish.low + ((wish.high - wish.low) * step) / STEPS;
  if (step === placeOf(wish, wish.start)) return wish.start;
  if (wish.aim !== null && step === placeOf(wish, wish.aim)) return wish.aim;
  if (step === 0 || step === STEPS) return value;
  const grain = wish.column.quantity === "length" && unit.denominator ? unit.step : 10 ** -wish.column.digits;
  return (wish.high - wish.low) / grain > 20 ? wholeSteps(value, grain) * grain : value;
}

const placeOf = (wish, value) => Math.round((STEPS * (value - wish.low)) / (wish.high - wish.low));

function typeBound(wish) {
  const value = readEntry(wish.entry.value);
  wish.entry.setAttribute("aria-invalid", String(!Number.isFinite(value)));
  if (Number.isFinite(value)) setBound(wish, value);
  else wish.say.textContent = unit.denominator ? "write a number or 1 3/8" : "write a number";
}

function showWishes() {
  const left = state.meets.filter(Boolean).length;
  const hides = state.missed.map((missed) => missed.filter(Boolean).length);
  const costly = hides.indexOf(Math.max(...hides));
  const most = wishes[costly];
  const why =
    !hides.length || hides[costly] === 0
      ? "No wish hides a row yet."
      : `Costs most: ${most.column.title.toLowerCase()} ${most.less ? "at most" : "at least"} ${sayValue(most.column, most.bound)} hides ${hides[costly]} by itself.`;
  byId("count").replaceChildren(`${left} of ${count} rows meet every wish`, element("small", {}, why));
  wishes.forEach((wish, number) => {
    const alone = state.missed[number].filter(
      (miss, row) => miss && state.missed.every((other, n) => n === number || !other[row]),
    ).length;
    wish.say.textContent = hides[number] ? `hides ${hides[number]}, ${alone} alone` : "hides none";
    wish.slider.value = Math.min(Math.max(placeOf(wish, wish.bound), 0), STEPS);
    wish.slider.setAttribute("aria-valuetext", `${sayValue(wish.column, wish.bound)}, ${wish.say.textContent}`);
    wish.entry.value = textOf(wish.column, wish.bound);
    wish.entry.removeAttribute("aria-invalid");
    wish.number = number;
    drawStrip(wish);
  });
}

function drawStrip(wish) {
  const [width, height] = [wish.strip.clientWidth, wish.strip.clientHeight];
  if (!width || wish.number === undefined) return;
  const ratio = window.devicePixelRatio || 1;
  [wish.strip.width, wish.strip.height] = [width * ratio, height * ratio];
  const pen = wish.strip.getContext("2d");
  pen.scale(ratio, ratio);
  const across = (value) => THUMB + ((width - 2 * THUMB) * (value - wish.low)) / (wish.high - wish.low);
  const edge = Math.min(Math.max(across(wish.bound), 0), width);
  pen.fillStyle = "#e9e9e9";
  if (wish.less) pen.fillRect(edge, 0, width - edge, height);
  else pen.fillRect(0, 0, edge, height);
  const bar = (value, colour, top, bottom, thick) => {
    pen.fillStyle = colour;
    pen.fillRect(across(value) - thick / 2, top, thick, bottom - top);
  };
  const values = given.rows[wish.name];
  values.forEach((value, row) => {
    if (value !== null && !state.meets[row]) bar(value, "#a8a8a8", height - 6, height, 1);
  });
  values.forEach((value, row) => {
    if (value !== null && state.meets[row]) bar(value, "#26506e", height - 14, height, 1);
  });
  if (wish.limit !== null) bar(wish.limit, "#000000", 0, height, 2);
  if (wish.aim !== null) drawAim(pen, across(wish.aim), height);
  for (const { row, look } of shownRows()) {
    const value = valueOf(row, wish.name);
    if (value !== null) drawSign(pen, look, Math.min(Math.max(across(value), 4), width - 4));
  }
}

function drawAim(pen, x, height) {
  pen.strokeStyle = "#006b4f";
  pen.lineWidth = 2;
  pen.setLineDash([4, 3]);
  pen.beginPath();
  pen.moveTo(x, 0);
  pen.lineTo(x, height);
  pen.stroke();
  pen.setLineDash([]);
}

function drawSign(pen, look, x) {
  pen.font = "11px system-ui, sans-serif";
  pen.textAlign = "center";
  pen.fillStyle = look.colour;
  pen.fillText(look.sign, x, 9);
}
