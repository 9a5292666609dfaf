// While this page stands open and news comes in, it says so. It does not reload by itself: somebody may be writing an answer.
document.addEventListener("clinic:alerts", () => {
  document.querySelector("[data-came]").hidden = false;
});
