// The picture carries its code behind the #, which no server log and no proxy gets to see.

function take() {
  const code = decodeURIComponent(location.hash.slice(1));
  if (!code) return;
  document.getElementById("f-code").value = code;
  document.getElementById("typed").hidden = true;
  document.getElementById("scanned").hidden = false;
  // What was said of the code before is not said of this one.
  const fault = document.getElementById("fault");
  if (fault) fault.hidden = true;
  document.getElementById("f-name").focus();
  // It is good for one device only; the address bar and the history need not keep it.
  history.replaceState(null, "", location.pathname);
}

take();
// The next picture, scanned while this page is open, changes nothing but what follows the #.
window.addEventListener("hashchange", take);
