// Sets the look before anything is painted: a white flash at night blinds for minutes.
try {
  document.documentElement.dataset.look = localStorage.getItem("look") ?? "day";
} catch {
  document.documentElement.dataset.look = "day";
}
