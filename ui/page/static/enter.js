// Posts the code that stands behind # in the address, or that was typed.

const told = document.querySelector(".enter-told");
const field = document.querySelector("input");

async function enter(token) {
  told.textContent = "";
  let answer;
  try {
    answer = await fetch("/enter", {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ token }),
    });
  } catch {
    told.textContent = "The page does not answer. Is it still running?";
    return;
  }
  if (answer.ok) {
    location.replace("/");
    return;
  }
  const body = await answer.json().catch(() => ({}));
  told.textContent = body.message || "That did not work. Scan the code again.";
  field.focus();
}

document.querySelector("form").addEventListener("submit", (event) => {
  event.preventDefault();
  enter(field.value);
});

const token = decodeURIComponent(location.hash.slice(1));
if (token) {
  // It must not stay in the history or be copied along with the address.
  history.replaceState(null, "", "/enter");
  enter(token);
}
