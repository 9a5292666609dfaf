// Asked inside the Floor's page by floor_shapes.py: what its controls measure, and how words stand out.

globalThis.shapes = {
  take(letters, hand) {
    document.documentElement.style.fontSize = letters === 100 ? "" : `${letters}%`;
    document.body.dataset.keys = hand === "left" ? "start" : "end";
  },

  measure(target, reach, often, hand) {
    const open = [...document.querySelectorAll("dialog[open]")].at(-1) ?? document;
    const { clientWidth, scrollWidth } = document.documentElement;
    const controls = [...open.querySelectorAll("button, a[href], input:not([type=hidden]), select, summary")]
      .filter((each) => shown(each) && !each.matches(".skip"));
    const found = scrollWidth > clientWidth ? [`scrolls sideways by ${scrollWidth - clientWidth}`] : [];
    for (const each of controls) {
      const { width, height, left, right } = each.getBoundingClientRect();
      if (width < target - 0.5 || height < target - 0.5) found.push(`small: ${named(each)} ${Math.round(width)}x${Math.round(height)}`);
      if (left < -0.5 || right > clientWidth + 0.5) found.push(`beyond the edge: ${named(each)}`);
    }
    const boxes = controls.map((each) => [each, seen(each)]).filter(([, box]) => box.right - box.left > 2 && box.bottom - box.top > 2);
    for (const [index, [one, a]] of boxes.entries()) {
      for (const [other, b] of boxes.slice(index + 1)) {
        if (one.contains(other) || other.contains(one)) continue;
        const across = Math.min(a.right, b.right) - Math.max(a.left, b.left);
        const down = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
        if (across > 1 && down > 1) found.push(`one over the other: ${named(one)} / ${named(other)}`);
      }
    }
    for (const each of open.querySelectorAll("button, .key > span, summary, .act")) {
      if (shown(each) && each.scrollWidth > each.clientWidth + 1) found.push(`words do not fit: ${each.textContent.trim().slice(0, 40)}`);
    }
    for (const each of often ? open.querySelectorAll(often) : []) {
      if (!shown(each)) continue;
      const box = each.getBoundingClientRect();
      const away = (hand === "left" ? box.left : innerWidth - box.right) + target;
      if (away > reach) found.push(`out of the thumb's reach: ${named(each)} at ${Math.round(away)}`);
      if (box.top < 0 || box.bottom > innerHeight + 0.5) found.push(`out of sight: ${named(each)}`);
    }
    return found;
  },

  // The contrast (WCAG 2.2, relative luminance) of every word that is shown, against the ground that is painted behind it.
  faint(least) {
    const open = [...document.querySelectorAll("dialog[open]")].at(-1) ?? document.body;
    const walker = document.createTreeWalker(open, NodeFilter.SHOW_TEXT);
    const found = new Set();
    for (let text = walker.nextNode(); text; text = walker.nextNode()) {
      const element = text.parentElement;
      if (!text.data.trim() || !shown(element) || element.closest("script, noscript, template, .unseen, .skip, option")) continue;
      const ratio = contrast(rgb(getComputedStyle(element).color), ground(element));
      if (ratio < least) found.add(`${ratio.toFixed(2)}: ${text.data.trim().slice(0, 40)}`);
    }
    return [...found];
  },
};

const shown = (element) => element.checkVisibility({ visibilityProperty: true });
const named = (element) => (element.getAttribute("aria-label") ?? element.labels?.[0]?.textContent ?? element.textContent).trim().slice(0, 40);

// The part of a box that no scrolling box around it cuts off.
function seen(element) {
  let { left, top, right, bottom } = element.getBoundingClientRect();
  for (let up = element.parentElement; up; up = up.parentElement) {
    const { overflowX, overflowY } = getComputedStyle(up);
    if (overflowX === "visible" && overflowY === "visible") continue;
    const box = up.getBoundingClientRect();
    [left, top] = [Math.max(left, box.left), Math.max(top, box.top)];
    [right, bottom] = [Math.min(right, box.right), Math.min(bottom, box.bottom)];
  }
  return { left, top, right, bottom };
}

// A colour as the browser paints it: red, green, blue, opacity.
function rgb(colour) {
  const canvas = new OffscreenCanvas(1, 1).getContext("2d", { willReadFrequently: true });
  canvas.fillStyle = colour;
  canvas.fillRect(0, 0, 1, 1);
  const [red, green, blue, alpha] = canvas.getImageData(0, 0, 1, 1).data;
  return [red, green, blue, alpha / 255];
}

function ground(element) {
  for (let up = element; up; up = up.parentElement) {
    const painted = rgb(getComputedStyle(up).backgroundColor);
    if (painted[3] > 0.99) return painted;
  }
  return rgb(getComputedStyle(document.documentElement).backgroundColor);
}

function contrast(one, other) {
  const light = ([red, green, blue]) => {
    const [r, g, b] = [red, green, blue].map((part) => (part / 255 <= 0.04045 ? part / 255 / 12.92 : ((part / 255 + 0.055) / 1.055) ** 2.4));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const [dark, bright] = [light(one), light(other)].sort((a, b) => a - b);
  return (bright + 0.05) / (dark + 0.05);
}
