/* In a group of words to tap, 1 to 9 press the first to the ninth and the arrows walk along them. */
(() => {
  "use strict";
  document.addEventListener("keydown", (event) => {
    const group = event.target instanceof Element ? event.target.closest("[data-keys]") : null;
    if (!group || event.ctrlKey || event.metaKey || event.altKey) return;
    const words = [...group.querySelectorAll("button")];
    const here = words.indexOf(document.activeElement);
    const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    const word = step ? words[(here + step + words.length) % words.length] : words[Number(event.key) - 1];
    if (!word) return;
    event.preventDefault();
    if (step) word.focus(); else word.click();
  });
})();
