// A page that stays open (the Floor for an hour, a handover sheet) learns what the server's watch has to say.
// Being asked by a page keeps no session alive: the server knows it as a poll.
const EVERY = 15_000;

export function watchServer() {
  const here = document.querySelector("[data-watch]");
  if (!here || !here.dataset.address) return;
  let said = here.textContent.trim();

  async function ask() {
    if (document.hidden) return;
    try {
      const answer = await fetch(here.dataset.address, { headers: { Accept: "text/html" }, redirect: "error" });
      if (!answer.ok) return;
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const fresh = page.querySelector("[data-watch]");
      if (!fresh || fresh.textContent.trim() === said) return;
      said = fresh.textContent.trim();
      here.replaceChildren(...fresh.childNodes);
    } catch {
      // no signal, or the server is away: the next turn asks again
    }
  }

  setInterval(ask, EVERY);
  document.addEventListener("visibilitychange", ask);
}
