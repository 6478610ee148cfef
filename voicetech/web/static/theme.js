// Light or dark: what the computer says, until somebody chooses here.

const KEPT = "voicetech-look";
const root = document.documentElement;
const darkByDefault = matchMedia("(prefers-color-scheme: dark)");

const kept = () => {
  try { return localStorage.getItem(KEPT); } catch { return null; }
};
const keep = (look) => {
  try { localStorage.setItem(KEPT, look); } catch { /* It holds for this page only. */ }
};
const isDark = () => (root.dataset.look ?? (darkByDefault.matches ? "dark" : "light")) === "dark";

const chosen = kept();
if (chosen === "dark" || chosen === "light") root.dataset.look = chosen;

const button = document.getElementById("theme");
const name = () => { button.textContent = isDark() ? "Light page" : "Dark page"; };
button.addEventListener("click", () => {
  root.dataset.look = isDark() ? "light" : "dark";
  keep(root.dataset.look);
  name();
});
darkByDefault.addEventListener("change", name);
name();
