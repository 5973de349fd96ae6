// What a browser can do beyond plain forms: print a page, and show a password while it is typed.

for (const button of document.querySelectorAll("[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}

for (const field of document.querySelectorAll("input[type=password]")) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "link show";
  const say = () => {
    button.textContent = field.type === "password" ? "Show what I type" : "Hide what I type";
  };
  button.addEventListener("click", () => {
    field.type = field.type === "password" ? "text" : "password";
    say();
  });
  say();
  field.after(button);
}

// A page that shows work in progress looks again by itself, as long as nobody has begun to do something on it.
const waiting = document.querySelector("[data-again]");
if (waiting) {
  setTimeout(() => location.reload(), 1000 * Number(waiting.dataset.again));
}
