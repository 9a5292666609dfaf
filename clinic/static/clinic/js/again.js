// The server or its database is gone: look again every few seconds, and show the page when it is back. Nothing is sent but the question.
const EVERY = 3000;

async function look() {
  try {
    const answer = await fetch(location.href, { method: "HEAD", redirect: "manual", cache: "no-store" });
    if (answer.status !== 503) return location.reload();
  } catch {
    // the server itself is away: the next turn asks again
  }
  setTimeout(look, EVERY);
}

setTimeout(look, EVERY);
