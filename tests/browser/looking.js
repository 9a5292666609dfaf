// What the tests ask of a page from inside it. Each question answers with lines, one a finding; none is good.
(() => {
  const seen = (element) => element.checkVisibility({ opacityProperty: true, visibilityProperty: true });
  const short = (element) => {
    const name = element.id ? `#${element.id}` : element.className ? `.${[...element.classList].join(".")}` : "";
    return `${element.localName}${name} "${(element.textContent ?? "").trim().slice(0, 30)}"`;
  };
  const scrolls = (style) => ["auto", "scroll"].includes(style.overflowX);
  // hidden from eyes on purpose, for a screen reader: one pixel, cut away
  const unseen = (element) => element.closest(".unseen, .skip:not(:focus), svg") !== null;

  // 1.4.10: nothing to scroll sideways for; what is a table of figures may scroll in a frame of its own
  const sideways = () => {
    const root = document.documentElement, room = root.clientWidth;
    if (root.scrollWidth <= room) return [];
    const inFrame = (element) => {
      for (let up = element.parentElement; up; up = up.parentElement) if (scrolls(getComputedStyle(up))) return true;
      return false;
    };
    const wide = [...document.body.querySelectorAll("*")].filter((e) => seen(e) && !unseen(e) && e.getBoundingClientRect().right > room + 1 && !inFrame(e));
    return [`${root.scrollWidth} of ${room} px: ${wide.slice(-3).map(short).join(" | ")}`];
  };

  // 1.4.4, 1.4.12: no text is cut off by a box that it stands in and that cannot be scrolled
  const hides = (style) => ["hidden", "clip"].includes(style.overflowX) || ["hidden", "clip"].includes(style.overflowY);
  const written = (element) => {
    const range = document.createRange();
    range.selectNodeContents(element);
    return range.getBoundingClientRect();
  };
  const cutBy = (box, text) => {
    const edge = box.getBoundingClientRect();
    return text.right > edge.right + 2 || text.bottom > edge.bottom + 2 || text.left < edge.left - 2 || text.top < edge.top - 2;
  };
  const clipped = () => [...document.body.querySelectorAll("*")]
    .filter((e) => seen(e) && !unseen(e) && [...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim()))
    .filter((e) => {
      const text = written(e);
      for (let box = e; box && box !== document.body; box = box.parentElement) {
        const style = getComputedStyle(box);
        if (style.clipPath !== "none" || scrolls(style) || ["auto", "scroll"].includes(style.overflowY)) return false;
        if (hides(style) && cutBy(box, text)) return true;
      }
      return false;
    }).map(short);

  // 2.4.7, 2.4.11, 2.4.3: wherever the keyboard stands one sees it, and nothing lies over it
  const takesFocus = "a[href], button:not(:disabled), input:not([type=hidden]):not(:disabled), select, textarea, summary, [tabindex]";
  const marks = (element) => {
    const worn = [element, element.nextElementSibling, element.parentElement, element.querySelector("rect")]; // a drawing's outline
    return worn.filter(Boolean).map((e) => getComputedStyle(e))
      .map((s) => `${s.outlineStyle} ${s.outlineWidth} ${s.boxShadow} ${s.borderColor} ${s.backgroundColor} ${s.stroke}`).join();
  };
  const covered = (element) => {
    const box = element.getBoundingClientRect();
    const points = [[.5, .5], [.1, .2], [.9, .8], [.1, .8], [.9, .2]];
    return points.every(([x, y]) => {
      const top = document.elementFromPoint(box.left + box.width * x, box.top + box.height * y);
      const own = element.closest("label, .key") ?? element;
      return !top || !(own.contains(top) || top.contains(element));
    });
  };
  const focus = () => {
    const found = [], before = document.activeElement, here = location.href;
    for (const element of document.querySelectorAll(takesFocus)) {
      if (!element.checkVisibility({ visibilityProperty: true }) || element.tabIndex < 0) continue;
      if (element.tabIndex > 0) found.push(`tabindex over 0: ${short(element)}`);
      document.activeElement?.blur?.();
      const bare = marks(element);
      element.focus({ focusVisible: true });
      if (document.activeElement !== element) continue; // behind a dialog
      if (marks(element) === bare) found.push(`not seen: ${short(element)}`);
      const box = element.getBoundingClientRect();
      if (box.width && covered(element)) found.push(`obscured: ${short(element)}`);
    }
    if (location.href !== here) found.push("standing on something leads away"); // 3.2.1
    before?.focus?.();
    window.scrollTo(0, 0);
    return found;
  };

  // 2.4.2, 2.4.4: a title of its own; links that say the same lead to the same
  const titled = () => (document.title.split(" · ")[0].trim() ? [] : ["no title of its own"]);
  const linked = () => {
    const found = [], heard = new Map();
    for (const link of document.querySelectorAll("main a[href]")) {
      if (!link.checkVisibility() || link.closest("svg")) continue; // a drawing repeats what the list beside it says
      const words = (link.getAttribute("aria-label") ?? link.textContent).trim().replace(/\s+/g, " ");
      const place = (link.closest("li, tr, article, dd") ?? link.closest("p, section"))?.textContent.trim().replace(/\s+/g, " "); // its context
      const key = `${words} | ${place}`, where = link.pathname + link.search;
      if (heard.has(key) && heard.get(key) !== where) found.push(`two ways called "${words}"`);
      heard.set(key, where);
    }
    return found;
  };

  // whoever asks for less motion gets none: no animation runs, no transition takes time
  const moving = () => [...document.querySelectorAll("body, body *")].flatMap((e) => {
    const style = getComputedStyle(e), time = (said) => said.split(",").some((one) => parseFloat(one) > 0.01);
    return time(style.transitionDuration) || (style.animationName !== "none" && time(style.animationDuration)) ? [short(e)] : [];
  });

  // 1.4.12: the four measures of the standard; a sheet of ours would stop at the page's policy, an adopted one does not
  const spacing = new CSSStyleSheet(), larger = new CSSStyleSheet();
  spacing.replaceSync("* { line-height: 1.5 !important; letter-spacing: .12em !important; word-spacing: .16em !important; } p { margin-block-end: 2em !important; }");
  larger.replaceSync("html { font-size: 200% !important; }");
  const own = document.adoptedStyleSheets;
  const wear = (sheet) => { document.adoptedStyleSheets = sheet ? [...own, sheet] : own; };

  // 3.3.1: a form that was refused says so in words, at the field, and a screen reader is led from the field to the words
  // (but for one that asks the device for a passkey before it is sent: test_passkeys.py)
  const wanting = () => [...document.querySelectorAll("main form[method=post]:not([data-new-passkey])")].find((one) => !one.checkValidity());
  const canBeRefused = () => (wanting() ? ["yes"] : []);
  const sendEmpty = () => {
    const form = wanting();
    form.noValidate = true;
    form.requestSubmit();
  };
  const unexplained = () => {
    const found = document.querySelector("main [role=alert]") ? [] : ["nothing says that it was not taken"];
    for (const field of document.querySelectorAll("main [aria-invalid=true]")) {
      const ids = [field, field.closest("fieldset")].map((e) => e?.getAttribute("aria-describedby") ?? "").join(" ").split(" ");
      const said = ids.some((id) => document.getElementById(id)?.textContent.trim());
      if (!said) found.push(`no words for ${short(field)} ${field.name}`);
    }
    return found;
  };

  const opened = () => { for (const one of document.querySelectorAll("main details, .watch details, .kept details")) one.open = true; };
  globalThis.looking = { sideways, clipped, focus, moving, titled, linked, opened, canBeRefused, sendEmpty, unexplained, spaced: () => wear(spacing), larger: () => wear(larger), plain: () => wear(null) };
})();
