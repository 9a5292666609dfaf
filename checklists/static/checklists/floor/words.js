// Facts in words, for the list of this session.

import { fill, gettext } from "../../clinic/js/gettext.js";
import { callSkills } from "../words/said.js";

function joined(parts) {
  return parts.filter(Boolean).join(" · ");
}

export function makeWords(config) {
  callSkills(config.skills);
  const skills = Object.fromEntries(config.skills.map((skill) => [skill.key, skill]));
  const w = config.words;

  function hand(support) {
    if (config.side === "both" || !config.side) return "";
    const other = config.side === "left" ? "right" : "left";
    const side = { contralateral_rail: other, ipsilateral_rail: config.side }[support];
    return { left: gettext("left hand"), right: gettext("right hand") }[side] ?? "";
  }

  // A rung in a sentence, with the hand that holds on.
  function rung(support) {
    const said = w.support[support] ?? support;
    return hand(support) ? fill(gettext("{support} ({hand})"), { support: said, hand: hand(support) }) : said;
  }

  const knee = (entry) => ({ left: gettext("left knee"), right: gettext("right knee") })[entry.knee] ?? "";
  const strike = (reason) => config.strike_reasons.find(([kept]) => kept === reason)?.[1] ?? reason;
  const despite = (reason) => config.reasons.find(([kept]) => kept === reason)?.[1] ?? reason;
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
      ? { head: fill(gettext("{check}: {steps} not good"), { check: name, steps: bad.join(", ") }), tone: "unsafe", detail: knee(entry) }
      : { head: fill(gettext("{check}: good"), { check: name }), detail: joined([knee(entry), steps]) };
  }

  const kinds = {
    attempt: (e) => ({
      head: skills[e.skill]?.name ?? e.skill,
      result: e.result,
      detail: joined([
        w.support[e.support] ?? e.support, hand(e.support), w.help[e.help] ?? e.help,
        (e.deviations ?? []).map(deviation).join(", "), Object.entries(e.measures ?? {}).map(number).join(", "),
        e.despite ? fill(gettext("against advice: {reason}"), { reason: despite(e.despite) }) : "",
      ]),
    }),
    check,
    mode_set: (e) => ({
      head: fill(gettext("Set to {mode}"), { mode: w.mode[e.mode] }),
      detail: joined([knee(e), e.support === "none" ? gettext("seated") : w.support[e.support]]),
    }),
    mode_checked: (e) => ({ head: fill(e.ok ? gettext("{mode} proven") : gettext("{mode} checked, and not so"), { mode: w.Mode[e.mode] }), detail: knee(e) }),
    session_opened: () => ({ head: gettext("Session opened") }),
    session_closed: () => ({ head: gettext("Session closed") }),
    fall: (e) => ({ head: gettext("Fall"), tone: "unsafe", detail: joined([fill(gettext("injury: {grade}"), { grade: w.injury[e.injury] ?? e.injury }), skills[e.skill]?.name, e.circumstances]) }),
    near_miss: (e) => ({ head: gettext("Near miss"), tone: "stopped", detail: joined([skills[e.skill]?.name, e.circumstances]) }),
    setting_changed: (e) => ({ head: fill(gettext("{setting} changed"), { setting: w.setting[e.setting] }), detail: joined([knee(e), e.from && fill(gettext("from {value}"), { value: e.from }), e.to && fill(gettext("to {value}"), { value: e.to })]) }),
    sign_off: (e) => ({ head: fill(gettext("Signed off: {skill}"), { skill: skills[e.skill]?.name ?? e.skill }) }),
    sign_off_withdrawn: (e) => ({ head: fill(gettext("Sign-off withdrawn: {skill}"), { skill: skills[e.skill]?.name ?? e.skill }) }),
    review: (e) => ({ head: gettext("Review"), detail: w.outcome[e.outcome] ?? e.outcome ?? "" }),
    episode_opened: () => ({ head: gettext("Episode opened") }),
    episode_closed: () => ({ head: gettext("Episode closed") }),
    correction_requested: () => ({ head: gettext("Correction requested") }),
    correction_answered: () => ({ head: gettext("Correction answered") }),
  };

  return { fact: (entry) => kinds[entry.kind]?.(entry) ?? { head: entry.kind.replaceAll("_", " ") }, deviation, hand, rung, skills, strike };
}
