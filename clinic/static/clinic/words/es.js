// Made by `manage.py words` from the djangojs.po of every app: not written by hand.
globalThis.words = { language: "es", plural: (n) => Number((n != 1)), texts: {
 "Cancel": "Cancelar",
 "Change": "Modificar",
 "Done": "Hecho",
 "From this tablet, as of {time}: the server is not in reach.": "De esta tableta, a las {time}: no hay conexión con el servidor.",
 "No connection": "Sin conexión",
 "Now": "Ahora",
 "Prosthesis": "Prótesis",
 "Second identifier": "Segundo identificador",
 "Stay signed in": "Seguir con la sesión abierta",
 "Strike out": "Tachar",
 "What": "Qué",
 "Why": "Motivo",
 "assistant": "auxiliar",
 "clinic lead": "responsable clínico",
 "knee": "rodilla",
 "prosthetist": "ortoprotesista",
 "records officer": "responsable de documentación",
 "therapist": "terapeuta",
 "yielding": "flexión amortiguada",
 "{several} and {last}": "{several} y {last}"
}, counted: {
 "Nobody has used this page for a while. You will be signed out in about {n} minute.": [
  "Nadie ha usado esta página desde hace un rato. Su sesión se cerrará en {n} minuto, más o menos.",
  "Nadie ha usado esta página desde hace un rato. Su sesión se cerrará en {n} minutos, más o menos."
 ],
 "This and {n} after it": [
  "",
  ""
 ],
 "{n} mark is not sent and cannot be sealed: it is lost when you leave now. Leave all the same?": [
  "{n} anotación no está enviada y no se puede sellar: se pierde si sale ahora. ¿Salir de todos modos?",
  "{n} anotaciones no están enviadas y no se pueden sellar: se pierden si sale ahora. ¿Salir de todos modos?"
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
