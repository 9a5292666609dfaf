// How far the server's work is: asked every two seconds; when it is done, the page is shown anew.
const EVERY = 2000;
const box = document.querySelector("[data-progress]");
const bar = box?.querySelector("progress");
const words = box?.querySelector("[data-progress-words]");

async function look() {
  try {
    const answer = await fetch(box.dataset.progress, { headers: { Accept: "application/json" }, cache: "no-store" });
    if (answer.ok) {
      const now = await answer.json();
      if (now.made) return location.reload();
      bar.max = now.total || 1;
      bar.value = now.done;
      words.textContent = now.words;
    } else if (answer.status !== 503) {
      return location.reload(); // the session has ended, or the work is not ours to see any more: the page says which
    }
  } catch {
    // the server is away: the next turn asks again
  }
  setTimeout(look, EVERY);
}

if (box) setTimeout(look, EVERY);
