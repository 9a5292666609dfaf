// A tread of the drawing leads to its line in the list: open the list first, where the browser does not do it by itself.
const list = document.querySelector("[data-reasons]");

function open() {
  const line = location.hash && document.getElementById(decodeURIComponent(location.hash.slice(1)));
  if (!line || !list?.contains(line)) return;
  list.open = true;
  line.scrollIntoView({ block: "center" });
  line.focus({ preventScroll: true });
}

addEventListener("hashchange", open);
open();
