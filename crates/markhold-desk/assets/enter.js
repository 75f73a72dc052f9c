// The entrance: says what was wrong with a code, and tells one that came with the link.
// What stands behind # never leaves the browser by itself.

const why = document.getElementById("why");

function look() {
  const told = decodeURIComponent(location.hash.slice(1));
  if (told) history.replaceState(null, "", "/enter");
  if (told === "wrong") {
    why.textContent = "That is not the code of the moment. Look at the computer again: it may show another one now.";
  } else if (told === "pause") {
    why.textContent = "Too many wrong codes from here. Wait a minute; then take the code that is shown.";
  } else if (/^[A-Z2-9]{8}$/.test(told)) {
    document.getElementById("code").value = told;
    document.forms[0].submit();
  }
}

window.addEventListener("hashchange", look);
look();
