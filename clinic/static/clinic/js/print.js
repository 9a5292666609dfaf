// A key that prints the page.
document.querySelector("[data-print]")?.addEventListener("click", () => print());
