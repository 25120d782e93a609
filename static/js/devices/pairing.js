// The picture carries its code behind the #, which no server log and no proxy gets to see.

const code = decodeURIComponent(location.hash.slice(1));
if (code) {
  const field = document.getElementById("f-code");
  field.value = code;
  document.getElementById("typed").hidden = true;
  document.getElementById("scanned").hidden = false;
  document.getElementById("f-name").focus();
  // It is good for one device only; the address bar and the history need not keep it.
  history.replaceState(null, "", location.pathname);
}
