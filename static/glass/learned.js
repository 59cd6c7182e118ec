// Models learnt from open measurements: the twin of server/physics/learned.py for one glass. x: coordinates in mol%.

function bellsOf(model, x) {
  const scale = (row) => row.map((value, i) => value / model.lengths[i]);
  const z = scale(x);
  return model.centres.map((centre) => scale(centre).reduce((sum, c, i) => sum + (z[i] - c) ** 2, 0));
}

function polynomial(model, x) {
  const z = x.map((value, i) => (value - model.middle[i]) / model.scale);
  return model.polynomial.map((term) => term.reduce((value, i) => value * z[i], 1));
}

const dot = (a, b) => a.reduce((sum, value, i) => sum + value * b[i], 0);

/** {found: the learnt quantities, far: distance to the nearest centre in the model's lengths}. */
export function outputs(model, x) {
  const squares = bellsOf(model, x);
  const bells = squares.map((square) => Math.exp(-0.5 * square));
  const terms = polynomial(model, x);
  return {
    found: model.outputs.map((output) => dot(terms, output.terms) + dot(bells, output.bells)),
    far: Math.sqrt(Math.min(...squares)),
  };
}

// How fast the learnt quantities change with each coordinate, per mol%: [output][coordinate].
export function slopes(model, x) {
  const bells = bellsOf(model, x).map((square) => Math.exp(-0.5 * square));
  const z = x.map((value, i) => (value - model.middle[i]) / model.scale);
  return model.outputs.map((output) => x.map((value, j) => {
    const pull = bells.reduce((sum, bell, c) => sum + output.bells[c] * bell * (model.centres[c][j] - value), 0) / model.lengths[j] ** 2;
    return pull + dot(polynomialSlope(model, z, j), output.terms);
  }));
}

function polynomialSlope(model, z, j) {
  return model.polynomial.map((term) => term.reduce((sum, factor, k) =>
    (factor === j ? sum + term.reduce((value, i, at) => (at === k ? value : value * z[i]), 1) / model.scale : sum), 0));
}

function isokomWeights(model, level) {
  const u = 1 / (level - model.interpolation_a);
  const own = model.levels.map((x) => 1 / (x - model.interpolation_a));
  return own.map((here, j) => {
    const [p, q] = own.filter((_, k) => k !== j);
    return ((u - p) * (u - q)) / ((here - p) * (here - q));
  });
}

export function isokomsOf(model, found, levels) {
  const [, toMiddle, toHottest] = found;
  return toMiddle > 0 && toHottest > 0 ? isokomShifts(model, found, levels) : levels.map(() => NaN);
}

// what the learnt quantities, or changes of them, make of the isokoms: they are linear in them
export function isokomShifts(model, [coldest, toMiddle, toHottest], levels) {
  const own = [coldest + toMiddle + toHottest, coldest + toMiddle, coldest];
  return levels.map((level) => dot(isokomWeights(model, level), own));
}
