// Says in words that the browser cannot run the page. A script of its own, in the oldest form
// of the language: a browser reads nothing of a script with one thing in it that it does not know.

window.onerror = function () {
  var told = document.getElementById("too-old");
  if (told !== null) told.hidden = false;
};
if (!("noModule" in document.createElement("script"))) window.onerror(""); // it takes no modules, and says nothing of it
