// Says in words that the browser cannot run the page, or has not got all of it. A script of its own, in the oldest form
// of the language: a browser reads nothing of a script with one thing in it that it does not know.

/** Shows an element by its id, where the page has it. */
function tell(id: string): void {
  var told = document.getElementById(id);
  if (told !== null) told.hidden = false;
}

window.onerror = function () {
  tell("too-old");
};
if (!("noModule" in document.createElement("script"))) tell("too-old"); // it takes no modules, and says nothing of it

// Without its style sheet a page is words without a map: told above them, once it has come or failed. Not every browser
// lets this script wait for it, so that its error may be over before, or its rules not be there yet.
window.onload = function () {
  var whole = document.getElementById("not-whole");
  if (whole === null || getComputedStyle(whole).position === "fixed") return;
  document.body.insertBefore(whole, document.body.firstChild);
  whole.hidden = false;
};

// A script that did not come, or a part of it: that is told where scripts stand, and nowhere else.
document.addEventListener("error", function (e) {
  if ((e.target as Element).tagName === "SCRIPT") tell("not-whole");
}, true);
var again = document.getElementById("load-again");
if (again !== null) {
  again.onclick = function () {
    location.reload();
  };
}
