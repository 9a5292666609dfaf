// Facts in words, for the list of this session.

const NOT_GOOD = "not good";

function joined(parts) {
  return parts.filter(Boolean).join(" · ");
}

export function makeWords(config) {
  const skills = Object.fromEntries(config.skills.map((skill) => [skill.key, skill]));
  const w = config.words;

  function hand(support) {
    if (config.side === "both" || !config.side) return "";
    const other = config.side === "left" ? "right" : "left";
    if (support === "contralateral_rail") return `${other} hand`;
    return support === "ipsilateral_rail" ? `${config.side} hand` : "";
  }

  const knee = (entry) => (entry.knee ? `${entry.knee} knee` : "");
  const deviation = (key) => config.deviations.find((d) => d.key === key)?.name ?? key;
  const number = ([key, value]) => {
    const measure = config.measures.find((m) => m.key === key);
    return `${measure?.name ?? key} ${Math.round(value * 100) / 100}${measure?.suffix ?? ""}`;
  };

  function check(entry) {
    const order = (config.checks[entry.name] ?? []).filter((step) => step in entry.steps);
    const bad = order.filter((step) => !entry.steps[step]).map((step) => w.steps[step] ?? step);
    const name = w.checks[entry.name] ?? entry.name;
    const steps = order.map((step) => w.steps[step] ?? step).join(", ");
    return bad.length
      ? { head: `${name}: ${bad.join(", ")} ${NOT_GOOD}`, tone: "unsafe", detail: knee(entry) }
      : { head: `${name}: good`, detail: joined([knee(entry), steps]) };
  }

  const kinds = {
    attempt: (e) => ({
      head: skills[e.skill]?.name ?? e.skill,
      result: e.result,
      detail: joined([
        w.support[e.support] ?? e.support, hand(e.support), w.help[e.help] ?? e.help,
        (e.deviations ?? []).map(deviation).join(", "), Object.entries(e.measures ?? {}).map(number).join(", "),
        e.despite ? `against advice: ${e.despite}` : "",
      ]),
    }),
    check,
    mode_set: (e) => ({
      head: `Set to ${w.mode[e.mode]}`,
      detail: joined([knee(e), e.support === "none" ? "seated" : w.support[e.support]]),
    }),
    mode_checked: (e) => ({ head: `${w.Mode[e.mode]} ${e.ok ? "proven" : "checked, and not so"}`, detail: knee(e) }),
    session_opened: () => ({ head: "Session opened" }),
    session_closed: () => ({ head: "Session closed" }),
    fall: (e) => ({ head: "Fall", tone: "unsafe", detail: joined([`injury: ${e.injury}`, skills[e.skill]?.name, e.circumstances]) }),
    near_miss: (e) => ({ head: "Near miss", tone: "stopped", detail: joined([skills[e.skill]?.name, e.circumstances]) }),
    setting_changed: (e) => ({ head: `${w.setting[e.setting]} changed`, detail: joined([knee(e), e.from && `from ${e.from}`, e.to && `to ${e.to}`]) }),
    sign_off: (e) => ({ head: `Signed off: ${skills[e.skill]?.name ?? e.skill}` }),
    sign_off_withdrawn: (e) => ({ head: `Sign-off withdrawn: ${skills[e.skill]?.name ?? e.skill}` }),
    review: (e) => ({ head: "Review", detail: e.outcome ? e.outcome.replace("_", " ") : "" }),
    episode_opened: () => ({ head: "Episode opened" }),
    episode_closed: () => ({ head: "Episode closed" }),
  };

  return { fact: (entry) => kinds[entry.kind]?.(entry) ?? { head: entry.kind.replaceAll("_", " ") }, hand, skills };
}
