"use strict";
// Stands between the page and the network: shows what was kept when the yard is out of reach, and
// sends what was written down meanwhile. The lines before this one name the version and its files.

importScripts(`/static/queue.js?${VERSION}`);

const STATIC = `fruitcast-static-${VERSION}`;
const PAGES = "fruitcast-pages";
const PATIENCE = 8000; // how long the yard may take before the kept page is shown [ms]
const SENDING = 20000; // how long one record may take [ms]
const LONGEST = 400 * 24 * 3600 * 1000; // how old a record may be [ms]
const LATELY = 24 * 3600 * 1000; // how long it is told what has arrived [ms]

self.addEventListener("install", function (event) {
  const fresh = FILES.map((file) => new Request(file, { cache: "reload" }));
  event.waitUntil(
    caches
      .open(STATIC)
      .then((cache) => cache.addAll(fresh))
      .then(() => self.skipWaiting()),
  );
});

self.addEventListener("activate", function (event) {
  event.waitUntil(
    caches
      .keys()
      .then((names) => names.filter((name) => ![STATIC, PAGES].includes(name)))
      .then((old) => Promise.all(old.map((name) => caches.delete(name))))
      .then(() => self.clients.claim()),
  );
});

self.addEventListener("fetch", function (event) {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== self.location.origin) {
    return;
  }
  if (request.method === "GET" && url.pathname.startsWith("/static/")) {
    event.respondWith(file(request));
  } else if (request.mode === "navigate" && request.method === "GET") {
    event.respondWith(page(request, url));
  } else if (request.mode === "navigate" && request.method === "POST") {
    const form = /^\/record\/(words|asked\/(?:hold|inspect)|(?!lines)[a-z]+)$/.exec(url.pathname);
    // What another site's page sends is never kept: it goes on to the yard, which refuses it.
    if (form && request.referrer.startsWith(`${self.location.origin}/`)) {
      event.respondWith(record(event, form[1]));
    } else if (url.pathname.startsWith("/signout")) {
      event.respondWith(signOut(request));
    } else {
      event.respondWith(fetch(request).catch(() => away(url, "doubtful")));
    }
  }
});

self.addEventListener("message", function (event) {
  const wanted = event.data && event.data.do;
  if (wanted === "look") {
    event.waitUntil(flush().then(keep).catch(() => {}));
  } else if (wanted === "send") {
    event.waitUntil(sendAndKeep().catch(() => {}));
  }
});

self.addEventListener("sync", function (event) {
  event.waitUntil(
    sendAndKeep().then(async function () {
      if ((await waiting.all()).some((each) => !waiting.held(each))) {
        throw new Error("not all are sent: the browser tries again");
      }
    }),
  );
});

// Pages.

async function file(request) {
  const cache = await caches.open(STATIC);
  const kept = await cache.match(request);
  if (kept) {
    return kept;
  }
  try {
    return await fetch(request);
  } catch (error) {
    // A kept page may ask for the style of an earlier version.
    const other = await cache.match(request, { ignoreSearch: true });
    if (other) {
      return other;
    }
    throw error;
  }
}

// A proxy that can't reach the yard answers by itself, without what all our answers carry.
function isOurs(answer) {
  return answer.type === "opaqueredirect" || answer.headers.has("Content-Security-Policy");
}

async function page(request, url) {
  const kept = await caches.open(PAGES).then((pages) => pages.match(url.pathname)).catch(() => null);
  const asked = fetch(request).then(function (answer) {
    if (answer.status >= 502 && !isOurs(answer)) {
      throw new Error("the yard is out of reach");
    }
    return answer;
  });
  try {
    return await (kept ? within(PATIENCE, asked) : asked);
  } catch {
    return kept ?? away(url);
  }
}

// What is shown when neither the yard nor a kept page can be had. Something may have been on its
// way when the signal went: whether it was done is not known.
async function away(url, missing = "missing") {
  const asked = /^\/record\/asked\/(hold|inspect)$/.exec(url.pathname);
  if (asked && url.searchParams.get("stack")) {
    const words = [asked[1], url.searchParams.get("stack")];
    if (url.searchParams.get("until")) {
      words.push("until", url.searchParams.get("until"));
    }
    return Response.redirect(`/record/words?${new URLSearchParams({ words: words.join(" ") })}`, 303);
  }
  const pages = await caches.open(PAGES);
  if (await pages.match("/kept")) {
    return url.pathname === "/kept"
      ? pages.match("/kept")
      : Response.redirect(`/kept?missing=${missing}`, 303);
  }
  return told("The yard is out of reach, and nothing of it is kept on this phone.");
}

function told(words) {
  const text = `<!doctype html><html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1"><title>No signal</title>
<link rel="stylesheet" href="/static/style.css?${VERSION}"></head>
<body><main><h1>No signal</h1><p>${words}</p><p><a class="button" href="/">Try again</a></p></main></body></html>`;
  const policy = "default-src 'none'; style-src 'self'; frame-ancestors 'none'; base-uri 'none'";
  return new Response(text, {
    status: 503,
    headers: { "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": policy },
  });
}

let signedOut = 0;

// Take the pages to be kept, all of one moment.
async function keep() {
  const before = signedOut;
  const mark = (await waiting.fact("mark")) ?? "";
  const answer = await ask(`/kept/pages?mark=${mark}`);
  if (!answer) {
    return;
  }
  const { headers } = answer;
  const given = await answer.json();
  if (signedOut !== before) {
    return;
  }
  if (given.pages) {
    const carried = new Headers({ "Content-Type": "text/html; charset=utf-8" });
    for (const name of ["Content-Security-Policy", "X-Content-Type-Options", "Referrer-Policy",
      "Cross-Origin-Opener-Policy", "Cross-Origin-Resource-Policy", "X-Frame-Options"]) {
      carried.set(name, headers.get(name) ?? "");
    }
    const pages = await caches.open(PAGES);
    for (const [path, html] of Object.entries(given.pages)) {
      await pages.put(path, new Response(html, { headers: carried }));
    }
    for (const old of await pages.keys()) {
      if (!(new URL(old.url).pathname in given.pages)) {
        await pages.delete(old);
      }
    }
  }
  await waiting.know("yard", given.yard);
  await waiting.know("wrong", given.now - Date.now());
  await waiting.know("mark", given.mark);
  await waiting.know("kept", given.now);
}

async function signOut(request) {
  let answer;
  try {
    answer = await fetch(request);
  } catch {
    answer = told("What this phone had kept of the yard is gone. The yard itself is out of reach: "
      + "sign out once more when it isn't.");
  }
  signedOut += 1;
  await caches.delete(PAGES);
  for (const name of ["mark", "kept", "reach"]) {
    await waiting.know(name, undefined);
  }
  await waiting.forget((await waiting.sent()).map((each) => each.uuid));
  return answer;
}

// Records.

async function record(event, form) {
  const { request } = event;
  let given;
  let behind = false;
  try {
    given = await request.clone().formData();
    const yard = given.get("yard");
    behind = (await waiting.all()).some((each) => !waiting.held(each) && each.yard === yard);
  } catch {
    return fetch(request); // This browser keeps nothing: the record goes as it always did.
  }
  const kept = given.has("kept");
  let tried = false;
  if (!kept && !behind) {
    try {
      const answer = await within(PATIENCE, fetch(request));
      // What was refused since its token is too old, or the sign-in has run out, waits for both.
      const shut = answer.status === 403 || (answer.type === "opaqueredirect" && !(await open()));
      if (isOurs(answer) && !shut) {
        return answer;
      }
      tried = !shut;
    } catch {
      tried = true; // It may have reached the yard all the same: the uuid tells.
    }
  }
  if (given.has("change")) {
    const query = new URLSearchParams([...given].filter(([name]) => !OWN.includes(name)));
    return Response.redirect(`/record/${form}?${query}`, 303);
  }
  try {
    await put(form, given, tried);
  } catch {
    return told("This phone has no room to keep it: nothing was written down. Go back, and send it "
      + "when the yard is in reach.");
  }
  await announce();
  if (self.registration.sync) {
    self.registration.sync.register("queue").catch(() => {});
  }
  const sending = sendAndKeep();
  event.waitUntil(sending.catch(() => {}));
  await within(2000, sending).catch(() => {});
  return Response.redirect("/kept", 303);
}

const OWN = ["token", "uuid", "kept", "mend", "told", "yard", "yes", "change"];

async function put(form, given, tried) {
  const text = (name) => String(given.get(name) ?? "");
  const fields = [...given].filter(([name]) => !OWN.includes(name));
  const fresh = {
    form,
    fields: new URLSearchParams(fields.map(([name, value]) => [name, String(value)])).toString(),
    stacks: given.getAll("stack").map(String),
    told: text("told").slice(0, 300) || fields.map(([, value]) => value).join(" ").slice(0, 300),
    yes: given.has("yes") ? ["1"] : [],
    state: "",
    reasons: [],
    tried,
  };
  if (given.has("mend")) {
    const old = await waiting.get(text("mend"));
    if (old && !old.tried) {
      // A time that can't be, since the phone's clock was set meanwhile, is not kept.
      const age = Date.now() - old.made;
      const made = age < 0 || age > LONGEST ? Date.now() : old.made;
      await waiting.change(old.uuid, { ...fresh, made, yard: text("yard") || old.yard });
      return;
    }
  }
  const uuid = /^[0-9a-f-]{36}$/.test(text("uuid")) ? text("uuid") : self.crypto.randomUUID();
  const yard = text("yard") || (await waiting.fact("yard")) || "";
  await waiting.add({ ...fresh, uuid, made: Date.now(), yard });
}

async function sendAndKeep() {
  if (await flush()) {
    await keep();
  }
}

let flushing = null;

// Send what waits, one after the other, and say whether the yard was in reach to the end. Whoever
// asks meanwhile waits for the same.
function flush() {
  flushing ??= (self.navigator.locks ? self.navigator.locks.request("queue", send) : send()).finally(
    function () {
      flushing = null;
    },
  );
  return flushing;
}

async function send() {
  const queue = await waiting.all();
  if (!queue.some((each) => !waiting.held(each))) {
    return false;
  }
  let door = await open();
  const stuck = [];
  const written = (await waiting.sent()).map((each) => each.uuid);
  for (let number = 0; door && number < queue.length; number += 1) {
    const each = await waiting.get(queue[number].uuid);
    if (!each) {
      continue;
    }
    if (waiting.held(each) || each.yard !== door.yard || stuck.some((one) => waiting.touches(one, each))) {
      stuck.push(each);
      continue;
    }
    const more = number < queue.length - 1;
    const known = each.tried;
    await waiting.change(each.uuid, { tried: true });
    let answer = await post(each, door.token, written, more);
    if (answer === "token") {
      door = await open();
      answer = door ? await post(each, door.token, written, more) : null;
    }
    if (answer === "token") {
      await waiting.change(each.uuid, { tried: known });
    }
    if (!answer || answer === "token") {
      door = null;
      break;
    }
    if (answer.answer === "written" || answer.answer === "known") {
      await waiting.arrived(each, answer.words, Date.now());
      written.push(each.uuid);
    } else if (answer.answer === "later") {
      await waiting.know("reach", { is: "later", why: answer.words[0], at: Date.now() });
      await waiting.change(each.uuid, { tried: known });
      break;
    } else {
      const held = { state: answer.answer, reasons: answer.words, tried: false };
      stuck.push(await waiting.change(each.uuid, held) ?? each);
    }
    await announce();
  }
  const old = (await waiting.sent()).filter((each) => each.at < Date.now() - LATELY);
  await waiting.forget(old.map((each) => each.uuid));
  await announce();
  return door !== null;
}

// Ask for a fresh token: one of a kept page would be too old.
async function open() {
  const begun = Date.now();
  const answer = await ask("/kept/token");
  if (!answer) {
    return null;
  }
  const given = await answer.json();
  await waiting.know("wrong", Math.round(given.now - (begun + Date.now()) / 2));
  return given;
}

// Fetch something of the yard for who is signed in; null when that can't be had now.
async function ask(path) {
  let is = "out";
  try {
    const answer = await within(SENDING, fetch(path, { redirect: "manual", cache: "no-store" }));
    const json = (answer.headers.get("Content-Type") ?? "").startsWith("application/json");
    if (answer.ok && json && isOurs(answer)) {
      const before = await waiting.fact("reach");
      await waiting.know("reach", { is: "in", at: Date.now() });
      if (before?.is !== "in") {
        await announce();
      }
      return answer;
    }
    is = answer.type === "opaqueredirect" ? "signin" : "out";
  } catch {
    // Out of reach.
  }
  await waiting.know("reach", { is, at: Date.now() });
  await announce();
  return null;
}

// Send one record and return the yard's own answer to it; null when there was none.
async function post(each, token, written, more) {
  const body = new URLSearchParams({
    token,
    uuid: each.uuid,
    yard: each.yard,
    form: each.form,
    fields: each.fields,
    made: String(each.made),
  });
  for (const words of each.yes) {
    body.append("yes", words);
  }
  for (const uuid of written.slice(-50)) {
    body.append("own", uuid);
  }
  if (more) {
    body.append("more", "1");
  }
  body.append("sent", String(Date.now()));
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), SENDING);
  try {
    const answer = await fetch("/kept/record", {
      method: "POST",
      body,
      redirect: "manual",
      signal: stop.signal,
    });
    if (answer.type === "opaqueredirect" || answer.status === 403) {
      return "token";
    }
    if (isOurs(answer) && [400, 413].includes(answer.status)) {
      return { answer: "refused", words: ["The yard would not take it: it is too long."] };
    }
    const given = await answer.json();
    return given.uuid === each.uuid && isOurs(answer) ? given : null;
  } catch {
    await waiting.know("reach", { is: "out", at: Date.now() });
    return null;
  } finally {
    clearTimeout(timer);
  }
}

async function announce() {
  for (const client of await self.clients.matchAll()) {
    client.postMessage("changed");
  }
}

function within(time, work) {
  return new Promise(function (done, fail) {
    const timer = setTimeout(() => fail(new Error("too long")), time);
    work.then(done, fail).finally(() => clearTimeout(timer));
  });
}
