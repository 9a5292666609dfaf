// A page that stays open (the Floor for an hour, a handover sheet) learns what the server's watch has to say.
// Being asked by a page keeps no session alive: the server knows it as a poll.
const EVERY = 15_000;

// The browser itself makes the page of the answer: no text becomes markup here (the policy forbids it).
function asPage(address) {
  return new Promise((settle, fail) => {
    const asked = new XMLHttpRequest();
    asked.open("GET", address);
    asked.responseType = "document";
    asked.setRequestHeader("Accept", "text/html");
    asked.onload = () => settle(asked.status === 200 ? asked.response : null);
    asked.onerror = fail;
    asked.send();
  });
}

export function watchServer() {
  const here = document.querySelector("[data-watch]");
  if (!here || !here.dataset.address) return;
  let said = here.textContent.trim();

  async function ask() {
    if (document.hidden) return;
    try {
      const page = await asPage(here.dataset.address);
      const fresh = page?.querySelector("[data-watch]");
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
