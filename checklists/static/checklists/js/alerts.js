// While this page stands open and news comes in, it says so, in a place that is kept free for it. It does not reload by itself:
// somebody may be writing an answer.
document.addEventListener("clinic:alerts", () => {
  document.querySelector("[data-came]").toggleAttribute("data-new", true);
});

// Whoever says what was done sees the field, the button under it, and may write at once.
for (const said of document.querySelectorAll("details.answer")) {
  said.addEventListener("toggle", () => {
    if (!said.open) return;
    said.querySelector("textarea").focus({ preventScroll: true });
    said.scrollIntoView({ block: "nearest" });
  });
}
