// The keyboard of the marking page. Without it every press works as well; the sum comes from the server.

const form = document.querySelector("form[data-sum]");
const criteria = [...form.querySelectorAll("fieldset")];
const comment = form.querySelector("textarea");
let now = Math.max(
  0,
  criteria.findIndex((one) => !one.querySelector(":checked")),
);
let asked = 0;

function show(number) {
  now = Math.min(Math.max(number, 0), criteria.length - 1);
  for (const [at, one] of criteria.entries()) one.classList.toggle("now", at === now);
}

async function sum() {
  asked += 1;
  const mine = asked;
  const reply = await fetch(form.dataset.sum, {
    method: "POST",
    body: new URLSearchParams(new FormData(form)),
  });
  if (mine === asked && reply.ok) form.querySelector(".sum").textContent = (await reply.json()).words;
}

function choose(level) {
  const input = criteria[now].querySelectorAll("input")[level];
  if (!input) return;
  input.checked = true;
  show(now + 1);
  sum();
}

const KEYS = {
  ArrowDown: () => show(now + 1),
  ArrowUp: () => show(now - 1),
  Enter: () => form.requestSubmit(),
  c: () => comment.focus(),
  r: () => form.querySelector(".ready > summary")?.click(),
  u: () => form.querySelector("[name=unsafe]")?.click(),
  n: () => document.querySelector("[data-key=n]")?.click(),
  p: () => document.querySelector("[data-key=p]")?.click(),
};

document.addEventListener("keydown", (event) => {
  if (event.target === comment) {
    if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) form.requestSubmit();
    else if (event.key === "Escape") comment.blur();
    return;
  }
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.key === "Enter" && event.target.closest("a, button, summary")) return;
  const act = /^[0-9]$/.test(event.key) ? () => choose(Number(event.key)) : KEYS[event.key];
  if (!act) return;
  event.preventDefault();
  act();
});

for (const [at, one] of criteria.entries()) one.addEventListener("click", () => show(at));
for (const one of form.querySelectorAll(".ready-comment"))
  one.addEventListener("click", () => {
    comment.value = [comment.value.trim(), one.textContent].filter(Boolean).join("\n");
  });
form.addEventListener("change", sum);
form.classList.add("by-keys");
show(now);
sum();
