// A form that was opened in its place is put away again by its "leave it" link, without asking the server, and the reader is
// back at what opened it. Without this script the link leads back to the page.
(() => {
  "use strict";

  document.addEventListener("click", (event) => {
    const link = event.target.closest("[data-close]");
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    const opener = document.getElementById(link.dataset.close);
    link.closest("form").remove();
    if (opener) opener.focus();
  });

  // A form opened in its place takes the reader along, to its first field, or to its list of errors (errors.js).
  document.addEventListener("htmx:load", (event) => {
    const form = event.detail.elt;
    if (!form.matches || !form.matches("form.in-place") || form.querySelector(".errors")) return;
    const field = form.querySelector("input:not([type=hidden]), select, textarea");
    if (field) field.focus();
  });
})();
