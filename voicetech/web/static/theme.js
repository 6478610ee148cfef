// Light or dark: what the computer says, until somebody chooses here.

const KEPT = "voicetech-look";
const root = document.documentElement;
const choice = document.getElementById("theme");

const kept = () => {
  try { return localStorage.getItem(KEPT); } catch { return null; }
};
const keep = (look) => {
  try { localStorage.setItem(KEPT, look); } catch { /* It holds for this page only. */ }
};
const wear = (look) => {
  if (look === "dark" || look === "light") root.dataset.look = look;
  else delete root.dataset.look;
};

wear(kept());
choice.value = root.dataset.look ?? "";
choice.addEventListener("change", () => {
  wear(choice.value);
  keep(choice.value);
});
