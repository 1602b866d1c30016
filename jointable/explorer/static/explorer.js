// Everything works without this file. With it, answers come without a new page, and a schedule that was
// typed stays in this browser. Nothing is sent anywhere but to the page's own address.
"use strict";

(() => {
  const longest = 4000;
  let shown = location.pathname + location.search;

  function query(form) {
    const pairs = new URLSearchParams();
    for (const [name, value] of new FormData(form)) {
      if (typeof value === "string" && value.trim()) pairs.append(name, value);
    }
    return pairs.toString();
  }

  async function swap(response) {
    const page = new DOMParser().parseFromString(await response.text(), "text/html");
    const fresh = page.querySelector("#answer") || page.querySelector("main");
    const old = document.querySelector("#answer");
    if (!fresh || !old) return false;
    old.innerHTML = fresh.innerHTML;
    document.title = page.title;
    return true;
  }

  function live(form) {
    const answer = document.querySelector("#answer");
    const spoken = form.elements.language ? form.elements.language.value : "";
    let asked = 0;
    async function ask(event) {
      // In another language the form reads otherwise too: that is a new page.
      if (form.elements.language && form.elements.language.value !== spoken) return;
      const text = query(form);
      const address = form.action + (text ? "?" + text : "");
      if (decodeURIComponent(text.replace(/\+/g, " ")).length > longest) {
        // Too long for an address: the browser sends the form itself.
        if ("long" in form.dataset) form.method = "post";
        return;
      }
      event.preventDefault();
      const turn = ++asked;
      answer.setAttribute("aria-busy", "true");
      try {
        const response = await fetch(address, { headers: { accept: "text/html" } });
        if (turn !== asked) return;
        if (!(await swap(response))) location.assign(address);
        else {
          history.pushState(null, "", address);
          shown = location.pathname + location.search;
        }
      } catch {
        location.assign(address);
      } finally {
        if (turn === asked) answer.removeAttribute("aria-busy");
      }
      if (matchMedia("(max-width: 56rem)").matches) answer.scrollIntoView();
    }
    form.addEventListener("submit", ask);
    form.addEventListener("change", (event) => {
      if (event.target.matches("select, input[type=checkbox]")) form.requestSubmit();
    });
  }

  function keep(form) {
    const field = form.elements[form.dataset.keep];
    const name = "jointable." + form.dataset.keep;
    try {
      if (!field.value.trim()) field.value = localStorage.getItem(name) || "";
      form.addEventListener("submit", () => localStorage.setItem(name, field.value));
    } catch {
      // A browser that keeps nothing.
    }
    const file = form.elements.file;
    if (file) {
      file.addEventListener("change", async () => {
        if (!file.files.length || file.files[0].size > 1048576) return;
        field.value = await file.files[0].text();
        file.value = "";
      });
    }
  }

  for (const form of document.querySelectorAll("form[data-live]")) live(form);
  for (const form of document.querySelectorAll("form[data-keep]")) keep(form);
  for (const box of document.querySelectorAll("textarea")) {
    // Control and Enter send the form, as in other editors.
    box.addEventListener("keydown", (event) => {
      if (event.key === "Enter" && (event.ctrlKey || event.metaKey) && box.form) box.form.requestSubmit();
    });
  }
  addEventListener("popstate", () => {
    // A step within the page, to a heading, is no other answer.
    if (location.pathname + location.search !== shown) location.reload();
  });
})();
