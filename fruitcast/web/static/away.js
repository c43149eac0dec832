"use strict";
// On every page: starts the worker behind the pages, says what waits on this phone, and readies
// the forms of kept pages. Over plain HTTP browsers allow none of it, and the page is as it was.

const phone = (function () {
  const DAY = 24 * 3600 * 1000;
  const CLOCKS_AGREE = 120 * 1000;
  const body = document.body;
  const { yard, zone, plan } = body.dataset;
  const kept = body.dataset.kept === "yes";
  const opened = Date.now();
  const works = window.isSecureContext && "serviceWorker" in navigator && "indexedDB" in window;

  async function tell(wanted) {
    const { active } = await navigator.serviceWorker.ready;
    active.postMessage({ do: wanted });
  }

  function dayIn(moment) {
    return new Intl.DateTimeFormat("en-CA", {
      timeZone: zone || undefined,
      year: "numeric",
      month: "2-digit",
      day: "2-digit",
    }).format(moment);
  }

  // The day as the page writes it: 'Mon 3 May'.
  function dayWords(day) {
    const at = new Date(`${day}T12:00:00Z`);
    const say = (what) => at.toLocaleDateString("en-GB", { timeZone: "UTC", ...what });
    return `${say({ weekday: "short" })} ${say({ day: "numeric" })} ${say({ month: "short" }).slice(0, 3)}`;
  }

  function timeWords(moment) {
    const at = new Date(moment);
    const time = at.toLocaleTimeString("en-GB", {
      timeZone: zone || undefined,
      hour: "2-digit",
      minute: "2-digit",
    });
    return `${dayWords(dayIn(at))}, ${time}`;
  }

  // By how much this phone's clock is wrong, if that is much: what it says is put right.
  let wrong = 0;
  const clock = works
    ? waiting.fact("wrong").then(function (by) {
        wrong = Math.abs(by ?? 0) > CLOCKS_AGREE ? by : 0;
      })
    : null;

  async function now() {
    await clock;
    return Date.now() + wrong;
  }

  // When a record was made.
  const madeWords = (moment) => timeWords(moment + wrong);

  async function planWords() {
    if (!plan) {
      return "No plan yet";
    }
    const days = Math.round((Date.parse(dayIn(await now())) - Date.parse(plan)) / DAY);
    if (days <= 0) {
      return "Plan of today";
    }
    const weekday = new Date(`${plan}T12:00:00Z`).toLocaleDateString("en-GB", {
      timeZone: "UTC",
      weekday: "long",
    });
    return days < 7 ? `Plan of ${weekday}` : `Plan of ${dayWords(plan)}, ${days} days old`;
  }

  function records(count) {
    return `${count} ${count === 1 ? "record" : "records"}`;
  }

  async function show() {
    const aside = document.getElementById("away");
    const count = (await waiting.all()).length;
    aside.replaceChildren();
    aside.hidden = !kept && (!count || Boolean(document.getElementById("queue")));
    if (aside.hidden) {
      return;
    }
    const line = document.createElement("p");
    aside.append(line);
    const reach = (kept && (await waiting.fact("reach"))) || {};
    const back = reach.is === "in" && reach.at > opened;
    if (kept) {
      const bold = document.createElement("strong");
      bold.textContent = back ? "The yard is in reach again. " : "No signal. ";
      const missing = count ? `; ${records(count)} not in it yet` : "";
      const at = await waiting.fact("kept");
      line.append(bold, `${await planWords()}${missing}.`);
      line.append(at ? ` Kept ${timeWords(at)}. ` : " ");
    } else {
      line.append(`${records(count)} on this phone ${count === 1 ? "is" : "are"} not in the yard yet. `);
    }
    for (const [words, href] of [
      ...(count && yard ? [["Look at what waits", "/kept"]] : []),
      ...(kept ? [[back ? "Show it as it is now" : "Try again", location.pathname + location.search]] : []),
    ]) {
      const link = document.createElement("a");
      link.href = href;
      link.textContent = words;
      line.append(link, " ");
    }
  }

  // A kept page was made on an earlier day: what it calls today and tomorrow is put right.
  async function redate() {
    const today = dayWords(dayIn(await now()));
    const tomorrow = dayWords(dayIn((await now()) + DAY));
    for (const heading of document.querySelectorAll(".day h2")) {
      const bare = heading.textContent.replace(/^(Today|Tomorrow), /, "");
      const near = bare.startsWith(today) ? "Today, " : bare.startsWith(tomorrow) ? "Tomorrow, " : "";
      heading.textContent = near + bare;
    }
    document.querySelector(".top .date").textContent = `${today} ${dayIn(await now()).slice(0, 4)}`;
  }

  // What leads to pages that are not kept is taken away.
  async function unlink() {
    const keys = await (await caches.open("fruitcast-pages")).keys();
    const there = new Set(keys.map((each) => new URL(each.url).pathname));
    for (const link of document.querySelectorAll("main a[href^='/']")) {
      const { pathname } = new URL(link.href);
      if (there.has(pathname) || /^\/(record\/asked\/|signin)/.test(pathname)) {
        continue;
      }
      const around = link.closest("li, p");
      if (around && around.textContent.trim() === link.textContent.trim()) {
        around.remove();
      } else if (link.classList.contains("button")) {
        link.remove();
      } else {
        link.replaceWith(link.textContent);
      }
    }
  }

  // A form that is kept, or in which a record that waits is mended.

  function hide(form, name, value) {
    let field = form.querySelector(`input[type="hidden"][name="${name}"]`);
    if (!field) {
      field = document.createElement("input");
      field.type = "hidden";
      field.name = name;
      form.append(field);
    }
    field.value = value;
  }

  function fill(form, given) {
    for (const field of form.elements) {
      if (!field.name || field.type === "hidden" || !given.has(field.name)) {
        continue;
      }
      if (field.type === "radio" || field.type === "checkbox") {
        field.checked = given.getAll(field.name).includes(field.value);
      } else {
        field.value = given.get(field.name);
        const folded = field.closest("details");
        if (folded && field.value && field.tagName === "INPUT") {
          folded.open = true;
        }
      }
    }
  }

  async function days(form) {
    const today = Date.parse(dayIn(await now()));
    for (const field of form.querySelectorAll("input[data-ago]")) {
      const day = new Date(today - field.dataset.ago * DAY).toISOString().slice(0, 10);
      const words = field.dataset.ago === "0" ? "Today" : "Yesterday";
      field.value = day;
      field.nextElementSibling.textContent = `${words}, ${dayWords(day)}`;
    }
    const other = form.querySelector('input[name="other_day"]');
    if (other) {
      other.max = new Date(today).toISOString().slice(0, 10);
    }
  }

  // What a record says, before the yard has read it: 'Picked: A, 2 lb 6 oz, Mon 3 May'.
  function summary(form) {
    const parts = [];
    for (const field of form.elements) {
      const label = field.labels && field.labels[0] ? field.labels[0].textContent.trim() : "";
      if (field.type === "radio" || field.type === "checkbox") {
        if (field.checked && field.value !== "other") {
          parts.push(label.replace(/^(Today|Yesterday), /, ""));
        }
      } else if (field.tagName === "SELECT") {
        if (field.value && field.offsetParent && (field.name !== "cause" || form.elements.lost.value)) {
          parts.push(field.value);
        }
      } else if (["text", "date", "textarea"].includes(field.type) && field.value.trim()) {
        const unit = field.closest(".pair");
        const value = field.value.trim();
        const bare = ["words", "note", "other_day"].includes(field.name);
        parts.push(unit ? `${value} ${label}` : bare ? value : `${label.toLowerCase()} ${value}`);
      }
    }
    const understood = [...document.querySelectorAll("p.understood")].map((each) => each.textContent);
    const title = document.querySelector("h1").textContent.trim();
    return understood.length ? understood.join(" ") : `${title}: ${parts.join(", ")}`;
  }

  async function ready() {
    const form = [...document.forms].find((each) =>
      /^\/record\/(?!lines)/.test(each.getAttribute("action")),
    );
    if (!form) {
      return;
    }
    const query = new URLSearchParams(location.search);
    const mended = query.has("mend") ? await waiting.get(query.get("mend")) : null;
    hide(form, "yard", yard ?? "");
    if (kept || mended) {
      hide(form, "kept", "yes");
      await days(form);
      hide(form, "uuid", crypto.randomUUID());
    }
    if (mended) {
      const given = new URLSearchParams(mended.fields);
      const offered = [...form.querySelectorAll("input[data-ago]")].map((each) => each.value);
      if (given.has("day") && !given.get("other_day") && !offered.includes(given.get("day"))) {
        given.set("other_day", given.get("day"));
        given.set("day", "other");
      }
      hide(form, "mend", mended.uuid);
      fill(form, given);
    } else if (kept) {
      const today = form.querySelector('input[data-ago="0"]');
      if (today) {
        today.checked = true;
      }
      fill(form, query);
    }
    form.addEventListener("submit", () => hide(form, "told", summary(form)));
  }

  function leave(event) {
    const going = event.target.getAttribute("action") || "";
    if (!going.startsWith("/signout") || event.target.dataset.asked) {
      return;
    }
    event.preventDefault();
    waiting.all().then(function (queue) {
      const words =
        `${records(queue.length)} on this phone ${queue.length === 1 ? "is" : "are"} not in the ` +
        "yard yet. They stay here and go out after the next sign-in. Sign out all the same?";
      if (!queue.length || window.confirm(words)) {
        event.target.dataset.asked = "yes";
        event.target.submit();
      } else {
        delete event.target.dataset.sent;
      }
    });
  }

  if (works) {
    const changed = [show];
    show();
    ready();
    if (kept) {
      redate();
      unlink();
    }
    window.addEventListener("pageshow", function (event) {
      if (event.persisted) {
        ready();
        show();
      }
    });
    document.addEventListener("submit", leave);
    navigator.serviceWorker.addEventListener("message", () => changed.forEach((each) => each()));
    if (yard && !body.dataset.invented) {
      navigator.serviceWorker.register("/worker.js", { updateViaCache: "none" }).catch(() => {});
      tell("look");
      window.addEventListener("online", () => tell("look"));
      document.addEventListener("visibilitychange", function () {
        if (document.visibilityState === "visible") {
          tell("look");
        }
      });
      setInterval(async function () {
        if (document.visibilityState === "visible" && (await waiting.all()).length) {
          tell("send");
        }
      }, 30000);
    }
    const onchange = (work) => changed.push(work);
    return { works, kept, yard, clock, tell, madeWords, records, onchange };
  }
  return { works };
})();
