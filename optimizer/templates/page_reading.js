// Curves read at any travel, and the tyre's outline; `kept` gives a field of a candidate at one of the kept travels.
// One field of one candidate at every travel.
function curveOf(field, steer, row) {
  return given.curves.travel.map((_, place) => kept(field, steer, row, place));
}

// One field of one candidate at any travel: the cubic through the four travels kept around it, or a straight line
// where one of those is missing.
function readAt(field, steer, row, travel) {
  const nodes = given.curves.travel;
  const last = nodes.length - 1;
  let place = 0;
  while (place < last - 1 && travel > nodes[place + 1]) place++;
  const from = Math.min(Math.max(place - 1, 0), last - 3);
  const four = [from, from + 1, from + 2, from + 3];
  const values = four.map((node) => kept(field, steer, row, node));
  if (values.every(Number.isFinite))
    return through(
      four.map((node) => nodes[node]),
      values,
      travel,
    );
  const two = [place, place + 1];
  return through(
    two.map((node) => nodes[node]),
    two.map((node) => kept(field, steer, row, node)),
    travel,
  );
}

// Lagrange's polynomial through points; on one of them exactly its value, whatever the others are.
function through(xs, ys, x) {
  const on = xs.indexOf(x);
  if (on >= 0) return ys[on];
  return ys.reduce(
    (sum, y, i) => sum + xs.reduce((part, other, j) => (i === j ? part : (part * (x - other)) / (xs[i] - other)), y),
    0,
  );
}

// The tyre in the front view at its camber and toe: where its silhouette touches a line square to each direction.
function tyreOutline(y, z, camber, toe) {
  const { radius, width, shoulder_radius: shoulder } = given.place.tyre;
  const [c, t] = [(camber * Math.PI) / 180, (toe * Math.PI) / 180];
  const spin = [Math.sin(t) * Math.cos(c), Math.cos(t) * Math.cos(c), -Math.sin(c)];
  const size = Math.hypot(spin[1], spin[2]);
  const [alongY, alongZ] = [spin[1] / size, spin[2] / size];
  const flat = (width / 2 - shoulder) * size;
  const thin = (radius - shoulder) * Math.abs(spin[0]);
  const tall = radius - shoulder;
  const [ys, zs] = [[], []];
  for (let degree = 0; degree <= 360; degree += 3) {
    const turn = ((degree + 0.5) * Math.PI) / 180;
    const [cos, sin] = [Math.cos(turn), Math.sin(turn)];
    const reach = Math.hypot(thin * cos, tall * sin);
    const along = Math.sign(cos) * flat + (thin * thin * cos) / reach + shoulder * cos;
    const across = (tall * tall * sin) / reach + shoulder * sin;
    ys.push(y + along * alongY - across * alongZ);
    zs.push(z + along * alongZ + across * alongY);
  }
  return [ys, zs];
}
