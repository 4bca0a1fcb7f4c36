// Moves the reader to the list of errors when a form comes back with one, and says so when a part of a page could not be
// fetched or saved. Without this script the list is at the top of the page all the same.
(() => {
  "use strict";

  function focusErrors(root) {
    const list = root.matches && root.matches(".errors") ? root : root.querySelector(".errors");
    if (list) list.focus();
  }

  function showTrouble() {
    const trouble = document.getElementById("trouble");
    if (trouble) trouble.hidden = false;
  }

  function hideTrouble() {
    const trouble = document.getElementById("trouble");
    if (trouble) trouble.hidden = true;
  }

  document.addEventListener("DOMContentLoaded", () => focusErrors(document));
  document.addEventListener("htmx:load", (event) => {
    if (event.detail.elt !== document.body) focusErrors(event.detail.elt);
  });
  document.addEventListener("htmx:beforeRequest", hideTrouble);
  for (const name of ["htmx:sendError", "htmx:timeout", "htmx:responseError"]) {
    document.addEventListener(name, showTrouble);
  }
})();
