"use strict";
// The page works without this. It only saves a wait and a double tap.

(function () {
  const planning = document.getElementById("planning");
  if (planning) {
    const look = async function () {
      try {
        const answer = await fetch("/status", { cache: "no-store", redirect: "error" });
        if (answer.ok) {
          const state = await answer.json();
          if (!state.busy && !(planning.dataset.whole && state.behind)) {
            location.reload();
            return;
          }
        }
      } catch {
        // The server can't be reached just now: look again.
      }
      setTimeout(look, 400);
    };
    setTimeout(look, 400);
  }

  const trial = document.getElementById("trial-told");
  if (trial) {
    const follow = async function () {
      try {
        const answer = await fetch(trial.dataset.status, { cache: "no-store", redirect: "error" });
        if (answer.ok) {
          const state = await answer.json();
          if (!state.busy) {
            location.reload();
            return;
          }
          trial.textContent = state.told;
        }
      } catch {
        // The server can't be reached just now: look again.
      }
      setTimeout(follow, 500);
    };
    setTimeout(follow, 500);
  }

  document.addEventListener("submit", function (event) {
    const form = event.target;
    if (form.dataset.sent) {
      event.preventDefault();
      return;
    }
    form.dataset.sent = "yes";
  });
  window.addEventListener("pageshow", function () {
    for (const form of document.forms) {
      delete form.dataset.sent;
    }
  });

  const here = document.getElementById("here");
  if (here && navigator.geolocation && window.isSecureContext) {
    here.hidden = false;
    here.addEventListener("click", function () {
      const told = document.getElementById("here-told");
      told.textContent = "Asking this device…";
      navigator.geolocation.getCurrentPosition(
        function (found) {
          const place = found.coords;
          document.getElementById("place").value =
            place.latitude.toFixed(3) + ", " + place.longitude.toFixed(3);
          told.textContent = "Taken from this device.";
        },
        function () {
          told.textContent = "This device does not tell where it is. Write the place yourself.";
        },
        { timeout: 20000 },
      );
    });
  }

  const other = document.getElementById("other_day");
  if (other) {
    other.addEventListener("input", function () {
      const choice = document.getElementById("day_other");
      if (choice && other.value) {
        choice.checked = true;
      }
    });
  }
})();
