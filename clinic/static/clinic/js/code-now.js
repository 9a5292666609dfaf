// The demo only: the code in the help of its field is the one that is good now, as a telephone would show it.
for (const field of document.querySelectorAll("[data-code-now]")) {
  const help = document.getElementById(field.getAttribute("aria-describedby")?.split(" ")[0]);
  const again = async () => {
    const answer = await fetch("/sign-in/code-now/", { headers: { Accept: "application/json" } });
    if (answer.ok && help) help.textContent = (await answer.json()).said;
  };
  setInterval(() => { if (!document.hidden) again(); }, 10_000);
}
