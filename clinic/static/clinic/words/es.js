// Made by `manage.py words` from the djangojs.po of every app: not written by hand.
globalThis.words = { language: "es", plural: (n) => Number((n != 1)), texts: {
 "Nobody has used this page for a while. You will be signed out in about {n} minute.": [
  "",
  ""
 ],
 "This and {n} after it": [
  "",
  ""
 ],
 "{n} mark is not sent and cannot be sealed: it is lost when you leave now. Leave all the same?": [
  "",
  ""
 ],
 "{n} mark is on its way again. What the server has already it does not take twice.": [
  "",
  ""
 ],
 "{n} mark of {name} was added.": [
  "",
  ""
 ],
 "{n} mark that was sent from this device is still on it.": [
  "",
  ""
 ],
 "{n} mark waits for you": [
  "",
  ""
 ],
 "{n} mark waits for you: see Today.": [
  "",
  ""
 ],
 "{n} of a colleague waits here sealed, to be passed on.": [
  "",
  ""
 ],
 "{n} of a colleague waits sealed to be passed on": [
  "",
  ""
 ],
 "{n} of yours waits on this device.": [
  "",
  ""
 ],
 "{n} tap; it records the check.": [
  "",
  ""
 ]
} };
