// What is asked of a page in the language that nobody speaks. Each question gives lines; none is good.
globalThis.pseudo = {
  /** What reaches beyond the window and cannot be scrolled to within its own frame. */
  wide() {
    const most = document.documentElement.clientWidth;
    if (document.documentElement.scrollWidth <= most + 1) return [];
    const inOwnFrame = (one) => {
      for (let up = one.parentElement; up; up = up.parentElement) {
        if (up !== document.documentElement && up !== document.body && getComputedStyle(up).overflowX !== "visible") return true;
      }
      return false;
    };
    return [...document.body.querySelectorAll("*")].filter((one) => {
      const box = one.getBoundingClientRect();
      return box.width && (box.right > most + 1 || box.left < -1) && !inOwnFrame(one) && !one.closest(".unseen, .skip");
    }).slice(0, 4).map((one) => `${one.tagName}.${one.className}: ${one.textContent.trim().slice(0, 50)}`);
  },
  /** Text of which a part is cut off where nobody can scroll to it. */
  cut() {
    return [...document.body.querySelectorAll("*")].filter((one) => {
      if (!one.checkVisibility() || one.closest(".unseen, .skip, svg") || !one.textContent.trim() || one.clientWidth < 2) return false;
      const style = getComputedStyle(one);
      return ["hidden", "clip"].includes(style.overflowX) && one.scrollWidth > one.clientWidth + 1;
    }).map((one) => `${one.tagName}.${one.className}: ${one.textContent.trim().slice(0, 50)}`);
  },
  /** Both questions in both directions of writing, at the size that the window has. */
  laidOut() {
    const found = {};
    for (const direction of ["ltr", "rtl"]) {
      document.documentElement.dir = direction;
      for (const question of ["wide", "cut"]) found[`${question} ${direction}`] = this[question]().map((line) => `${innerWidth}: ${line}`);
    }
    return found;
  },
  /** Every text that is seen or spoken, but for what is marked to be in another language, and code. */
  texts() {
    const found = [], english = (one) => one.closest("[lang]") !== document.documentElement || one.closest("code, script, style, noscript, textarea");
    const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walk.nextNode()) {
      const one = walk.currentNode.parentElement;
      if (!english(one) && one.checkVisibility()) found.push(walk.currentNode.data.trim());
    }
    for (const name of ["aria-label", "title", "placeholder", "data-head"]) {
      for (const one of document.body.querySelectorAll(`[${name}]`)) if (!english(one)) found.push(one.getAttribute(name));
    }
    return [document.title, ...found].filter((text) => /[A-Za-z]{3,}/.test(text));
  },
};
