// How a run of a session begins: the draft of its torch trial, or the address of its measured test.
const TEST_PAGES = { fuse: "/bench/fuse", strip: "/bench/strip", pull: "/bench/pull", thread: "/bench/thread" };

/** The setup of a run's trial, as the draft of the run page takes it. checked: what the person has looked at. */
export function setupOfRun({ id, plan, conditions }, index, mass_g, checked) {
  const run = plan.runs[index];
  const glass = plan.glasses[run.glass];
  const distance = conditions.distance_cm === null ? "" : `${conditions.distance_cm} cm`;
  const torch = [conditions.torch, conditions.nozzle, conditions.fuel, conditions.cylinder, distance, conditions.holder].filter(Boolean).join(", ");
  return {
    glass_key: glass.key,
    glass_name: glass.name,
    piece: glass.piece,
    consent: glass.consent,
    keeper: null,
    mass_g,
    preheat_c: plan.preheat_c,
    torch: torch.slice(0, 500),
    operator: conditions.operator || null,
    ...(glass.piece_id ? { piece_id: glass.piece_id } : {}),
    session: id,
    run: index,
    code: run.code,
    ...(checked.length ? { checked } : {}),
  };
}

/** Where a run's measured test is set up, or goes on. */
export function testAddress({ id, plan }, run, mass_g) {
  const page = TEST_PAGES[plan.test];
  return run.state === "running" ? `${page}?m=${run.test.id}` : `${page}?${new URLSearchParams({ s: id, r: run.index, mass: mass_g })}`;
}

/** Where a run's test can be looked at. */
export function lookAddress({ domain, id, body }) {
  return domain === "trial" ? `/bench/run?t=${id}` : `${TEST_PAGES[body.test]}?m=${id}`;
}

/** What a test uses up of pieces: [{piece_id, mass_g}]. */
export function usesOf({ body }) {
  const all = body.glasses ?? [body];
  return all.filter(({ piece_id, mass_g }) => piece_id && mass_g);
}
