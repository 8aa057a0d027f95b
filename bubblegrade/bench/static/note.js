/** A note is added to a casting of the log. */

import { hear } from "/static/heard.js";
import { send } from "/static/send.js";

const form = document.getElementById("note");
const fault = document.getElementById("fault");

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const { text, cause } = form.elements;
  fault.replaceChildren();
  hear("");
  try {
    const fresh = await send(form.dataset.url, { words: { text: text.value, cause: cause.checked ? "yes" : "" } });
    document.getElementById("answer").innerHTML = fresh.answer;
    form.reset();
    hear("The note is in the log.");
  } catch (error) {
    const line = document.createElement("p");
    line.className = "alarm";
    line.textContent = error.message;
    fault.append(line);
  }
});
