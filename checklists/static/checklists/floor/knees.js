// What the record says of a knee's mode, carried on over facts that the server has not judged yet.
// The rules are domain.md's: a setting and a check are two facts, and only a check that passed after the last setting proves.

const SHOWS = {
  start_of_session: { mode: "walking", steps: ["mode"], lone: true },
  end_of_session: { mode: "walking", steps: ["mode"], lone: true },
  lock_out: { mode: "walking", steps: ["released", "bends"] },
  free_swing_off: { mode: "walking", steps: ["off", "loaded"] },
  lock_in: { mode: "locked", steps: ["straight", "caught", "loaded"] },
  free_swing_on: { mode: "free_swing", steps: ["on"], lone: true },
};

// The mode event in a fact: { mode, proof } or null. `lone` checks say nothing when their one step was not done.
export function modeEvent(entry) {
  if (entry.kind === "mode_set") return { mode: entry.mode, proof: "set" };
  if (entry.kind === "mode_checked") return { mode: entry.mode, proof: entry.ok ? "proven" : "failed" };
  if (entry.kind === "setting_changed" && entry.setting === "knee") return { mode: null, proof: null };
  const shows = entry.kind === "check" ? SHOWS[entry.name] : undefined;
  if (!shows) return null;
  const seen = shows.steps.map((step) => entry.steps[step]);
  if (seen.includes(false)) return { mode: shows.mode, proof: "failed" };
  if (seen.every(Boolean)) return { mode: shows.mode, proof: "proven" };
  return shows.lone ? null : { mode: shows.mode, proof: "set" };
}

const PER_KNEE = new Set(["lock_in", "lock_out", "free_swing_on", "free_swing_off"]);

// With two prostheses what names no knee proves neither; a per-knee check without a false step stands in neither record.
function readFor(knee, entry, event) {
  if (knee.knee === null || entry.knee) return entry.knee && knee.knee && entry.knee !== knee.knee ? null : event;
  if (entry.kind === "check" && PER_KNEE.has(entry.name)) return event.proof === "failed" ? event : null;
  if (entry.kind === "mode_checked" && entry.ok) return { ...event, proof: "set" };
  return event;
}

export function carriedOn(knees, entries) {
  return entries.reduce((now, entry) => {
    const event = modeEvent(entry);
    if (!event) return now;
    return now.map((knee) => {
      const read = readFor(knee, entry, event);
      return read ? { ...knee, ...read, at: entry.at, before: knee.mode, local: true } : knee;
    });
  }, knees);
}
