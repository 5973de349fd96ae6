// What a browser can do beyond plain forms: print a page, and show a password while it is typed.

import { gettext } from "./words.js";

for (const button of document.querySelectorAll("[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}

for (const field of document.querySelectorAll("input[type=password]")) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "link show";
  const say = () => {
    button.textContent = field.type === "password" ? gettext("Show what I type") : gettext("Hide what I type");
  };
  button.addEventListener("click", () => {
    field.type = field.type === "password" ? "text" : "password";
    say();
  });
  say();
  field.after(button);
}
