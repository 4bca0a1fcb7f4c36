// Puts a minus and a plus button beside each number field that asks for them with data-stepper. Without this script the
// field is a plain number field and loses nothing. The buttons and their words come from <template id="stepper-parts">
// in the page (templates/components/stepper_parts.html), so that they are translated with it.
(() => {
  "use strict";

  function nameOf(input) {
    const label = input.labels && input.labels[0];
    return label ? label.textContent.trim() : "";
  }

  function step(input, direction) {
    if (input.value === "") {
      // The first press shows where to start: the planned number when the page gives one.
      input.value = input.dataset.start || input.min || "0";
    } else if (direction > 0) {
      input.stepUp();
    } else {
      input.stepDown();
    }
    input.dispatchEvent(new Event("input", { bubbles: true }));
    input.dispatchEvent(new Event("change", { bubbles: true }));
  }

  function enhance(input, parts) {
    if (input.closest(".stepper")) return;
    const group = document.createElement("span");
    group.className = "stepper";
    input.before(group);
    const less = parts.querySelector(".step-less").cloneNode(true);
    const more = parts.querySelector(".step-more").cloneNode(true);
    const said = parts.querySelector("output").cloneNode(true);
    group.append(less, input, more, said);
    for (const [button, direction] of [[less, -1], [more, 1]]) {
      button.querySelector(".step-name").textContent = nameOf(input);
      button.addEventListener("click", () => {
        step(input, direction);
        said.textContent = input.value;
      });
    }
  }

  function enhanceAll(root) {
    const template = document.getElementById("stepper-parts");
    if (!template) return;
    for (const input of root.querySelectorAll("input[type=number][data-stepper]")) {
      enhance(input, template.content);
    }
  }

  document.addEventListener("DOMContentLoaded", () => enhanceAll(document));
  document.addEventListener("htmx:load", (event) => enhanceAll(event.detail.elt));
})();
