"use strict";
// The list of what waits on this phone: why, and what to do about it.

(function () {
  const told = document.getElementById("told");
  if (!told || !phone.works) {
    return;
  }
  const missing = document.getElementById(new URLSearchParams(location.search).get("missing"));
  if (missing) {
    missing.hidden = false;
  }

  function make(tag, words, kind) {
    const made = document.createElement(tag);
    made.textContent = words;
    if (kind) {
      made.className = kind;
    }
    return made;
  }

  function button(record, words, key, act) {
    const made = make("button", words, key === "yes" ? "" : "small second");
    made.dataset.key = `${record.uuid} ${key}`;
    made.setAttribute("aria-label", `${words}: ${record.told}`);
    made.addEventListener("click", act);
    return made;
  }

  async function again(record, changes) {
    await waiting.change(record.uuid, { state: "", reasons: [], ...changes });
    await show();
    phone.tell("send");
  }

  async function drop(record) {
    const sent = record.tried
      ? " It was on its way when the signal went: it may be in the yard already."
      : "";
    if (window.confirm(`Drop this for good? ${record.told}.${sent}`)) {
      await waiting.drop(record.uuid);
      await show();
    }
  }

  function item(record, behind) {
    const ways = make("div", "", "ways");
    const card = make("li", "", "card");
    card.append(make("p", record.told, "understood"));
    card.append(make("p", `Made ${phone.madeWords(record.made)}`, "quiet"));
    for (const reason of record.reasons) {
      card.append(make("p", reason, "fault"));
    }
    if (record.state === "asked") {
      card.append(
        button(record, "Yes, write it down", "yes", () =>
          again(record, { yes: [...record.yes, ...record.reasons] }),
        ),
      );
    } else if (record.state === "refused") {
      ways.append(button(record, "Send it again", "again", () => again(record, {})));
    } else if (phone.yard && record.yard !== phone.yard) {
      card.append(make("p", "Made for another yard: it waits until that one is open. Mend it to have it in this one.", "fault"));
    } else if (behind) {
      card.append(make("p", "Waits for one above, of the same stack.", "quiet"));
    } else {
      const way = record.tried ? "Sent, but no answer came back yet." : "Not sent yet.";
      card.append(make("p", way, "quiet"));
    }
    if (!record.tried) {
      const mend = make("a", "Mend it", "button small second");
      mend.href = `/record/${record.form}?${new URLSearchParams({
        ...(record.form.startsWith("asked/") ? { stack: record.stacks[0] ?? "" } : {}),
        mend: record.uuid,
      })}`;
      mend.dataset.key = `${record.uuid} mend`;
      mend.setAttribute("aria-label", `Mend it: ${record.told}`);
      ways.append(mend);
    }
    ways.append(button(record, "Drop it", "drop", () => drop(record)));
    card.append(ways);
    return card;
  }

  async function show() {
    await phone.clock;
    const queue = await waiting.all();
    const reach = (await waiting.fact("reach")) ?? {};
    const held = queue.filter(waiting.held).length;
    const lines = [];
    if (!queue.length) {
      lines.push("Nothing waits on this phone: all that was written down is in the yard.");
    } else {
      const one = queue.length === 1;
      lines.push(`${phone.records(queue.length)} on this phone ${one ? "is" : "are"} not in the yard yet.`);
      if (held) {
        const which = one ? "It wants" : held === 1 ? "One wants" : `${held} want`;
        lines.push(`${which} a word from you.`);
      }
    }
    const signIn = reach.is === "signin";
    if (signIn) {
      lines.push("The yard wants you to sign in again. Everything stays here until then.");
    } else if (queue.length && reach.is === "later") {
      lines.push(`The yard could not write just now: ${reach.why}`);
    } else if (queue.length > held && reach.is === "out") {
      lines.push("The yard is out of reach. They go out by themselves once it is in reach.");
    }
    if (told.textContent !== lines.join(" ")) {
      told.textContent = lines.join(" ");
    }
    document.getElementById("signin").hidden = !signIn;
    document.getElementById("send").hidden = signIn || queue.length === held;

    const focused = document.activeElement?.dataset?.key;
    const list = document.getElementById("queue");
    const stuck = [];
    list.replaceChildren(
      ...queue.map(function (record) {
        const behind = stuck.some((one) => waiting.touches(one, record));
        if (waiting.held(record) || behind) {
          stuck.push(record);
        }
        return item(record, behind);
      }),
    );
    document.getElementById("unsent").hidden = !queue.length;
    if (focused) {
      const same = [...list.querySelectorAll("[data-key]")].find((each) => each.dataset.key === focused);
      (same ?? document.getElementById("reach")).focus();
    }

    const sent = (await waiting.sent()).sort((one, other) => one.at - other.at || one.made - other.made);
    document.getElementById("sent").replaceChildren(
      ...sent.map((each) => make("li", `${each.words.join(" ")} Made ${phone.madeWords(each.made)}.`)),
    );
    document.getElementById("arrived").hidden = !sent.length;

    const safe = document.getElementById("safe");
    if (navigator.storage?.persist) {
      const kept = (await navigator.storage.persisted()) || (queue.length && (await navigator.storage.persist()));
      const words = kept
        ? "This browser has promised to keep what waits until it is sent."
        : "This browser may clear what waits when the phone runs short of room: open this page soon where the yard is in reach.";
      safe.textContent = queue.length ? words : "";
    }
  }

  document.getElementById("send").addEventListener("click", function () {
    told.textContent = "Sending…";
    phone.tell("send");
  });
  phone.onchange(show);
  show();
})();
