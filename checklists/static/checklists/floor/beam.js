// The share of load as a beam: what the prosthesis carries from its own side, a post where the two meet, and over it the range
// that the protocol asks for. Left is the person's left.

import { h } from "./dom.js";

const SVG = "http://www.w3.org/2000/svg";
const WIDTH = 400;

function shape(name, attributes) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  return element;
}

// `mirrored`: the prosthesis stands on the right. The figures beside it say the same, so the drawing is not read out.
export function beam({ low, high }, mirrored) {
  const at = (share) => ((mirrored ? 100 - share : share) * WIDTH) / 100;
  const across = (from, to) => ({ x: Math.min(at(from), at(to)), width: Math.abs(at(to) - at(from)) });
  const drawing = shape("svg", { viewBox: `0 0 ${WIDTH} 60`, class: "beam", "aria-hidden": "true", focusable: "false" });
  const mine = shape("rect", { class: "beam-mine", y: 20, height: 24, ...across(0, 0) });
  const post = shape("path", { class: "beam-post", d: "M0 14V50" });
  drawing.append(shape("rect", { class: "beam-all", x: 0, y: 20, width: WIDTH, height: 24 }), mine);
  if (low !== null || high !== null) {
    const band = across(low ?? 0, high ?? 100);
    drawing.append(shape("path", { class: "beam-range", d: `M${band.x} 16V6H${band.x + band.width}V16` }));
  }
  for (const tick of [0, 25, 50, 75, 100]) drawing.append(shape("path", { class: "beam-tick", d: `M${at(tick)} 46V${tick % 50 ? 52 : 58}` }));
  drawing.append(post);

  return {
    element: h("div", { class: "beam-box" }, drawing),
    show(share) {
      const { x, width } = across(0, share ?? 0);
      mine.setAttribute("x", x);
      mine.setAttribute("width", width);
      post.setAttribute("transform", `translate(${at(share ?? 0)} 0)`);
      post.setAttribute("visibility", share === undefined ? "hidden" : "visible");
    },
  };
}
