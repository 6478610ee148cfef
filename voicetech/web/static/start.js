// The list of jobs: starts a new one.

import "./theme.js";

const form = document.getElementById("start-form");
const trouble = document.getElementById("start-trouble");
const button = document.getElementById("start");

form?.addEventListener("submit", async (event) => {
  event.preventDefault();
  trouble.textContent = "";
  button.disabled = true;
  try {
    const answer = await fetch("jobs", {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ procedure: new FormData(form).get("procedure") }),
    });
    const told = await answer.json().catch(() => ({}));
    if (answer.ok && told.job) {
      location.href = `job/${encodeURIComponent(told.job)}/`;
      return;
    }
    trouble.textContent = told.error || `The job was not started (${answer.status}). Reload the page and try again.`;
  } catch {
    trouble.textContent =
      "The program does not answer. Type voicetech serve in a terminal and open the address that it prints.";
  }
  button.disabled = false;
});
