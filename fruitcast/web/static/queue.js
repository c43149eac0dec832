"use strict";
// What waits on this phone: records made out of reach, in the order in which they were made, and
// what the phone knows of the yard. Pages and the worker behind them share it.

const waiting = (function () {
  let opened = null;

  function base() {
    opened ??= new Promise(function (done, fail) {
      const asked = indexedDB.open("fruitcast", 1);
      asked.onupgradeneeded = function () {
        const made = asked.result;
        const queue = made.createObjectStore("queue", { keyPath: "number", autoIncrement: true });
        queue.createIndex("uuid", "uuid", { unique: true });
        made.createObjectStore("sent", { keyPath: "uuid" });
        made.createObjectStore("facts");
      };
      asked.onsuccess = function () {
        asked.result.onversionchange = function () {
          asked.result.close();
          opened = null;
        };
        done(asked.result);
      };
      asked.onerror = function () {
        opened = null;
        fail(asked.error);
      };
    });
    return opened;
  }

  // What `work` returns is there once the whole transaction is on the disk.
  async function within(store, mode, work) {
    const there = await base();
    return new Promise(function (done, fail) {
      const transaction = there.transaction(store, mode, { durability: "strict" });
      let found;
      transaction.oncomplete = () => done(found);
      transaction.onerror = transaction.onabort = () => fail(transaction.error);
      work(transaction.objectStore(store), (value) => (found = value), transaction);
    });
  }

  function ask(store, mode, request) {
    return within(store, mode, function (place, give) {
      const asked = request(place);
      asked.onsuccess = () => give(asked.result);
    });
  }

  return {
    all: () => ask("queue", "readonly", (queue) => queue.getAll()),
    get: (uuid) => ask("queue", "readonly", (queue) => queue.index("uuid").get(uuid)),

    // Add a record; one that is there under this uuid stays as it is.
    add: (record) =>
      within("queue", "readwrite", function (queue) {
        const asked = queue.index("uuid").getKey(record.uuid);
        asked.onsuccess = function () {
          if (asked.result === undefined) {
            queue.add(record);
          }
        };
      }),

    // Change a record that still waits, and return it as it then is; undefined when it is gone.
    change: (uuid, changes) =>
      within("queue", "readwrite", function (queue, give) {
        const asked = queue.index("uuid").get(uuid);
        asked.onsuccess = function () {
          if (asked.result) {
            const changed = { ...asked.result, ...changes };
            queue.put(changed);
            give(changed);
          }
        };
      }),

    drop: (uuid) =>
      within("queue", "readwrite", function (queue) {
        const asked = queue.index("uuid").getKey(uuid);
        asked.onsuccess = function () {
          if (asked.result !== undefined) {
            queue.delete(asked.result);
          }
        };
      }),

    // The yard has acknowledged a record: it leaves the queue and is among those sent, as one step.
    arrived: async function (record, words, at) {
      const there = await base();
      await new Promise(function (done, fail) {
        const step = there.transaction(["queue", "sent"], "readwrite", { durability: "strict" });
        step.oncomplete = done;
        step.onerror = step.onabort = () => fail(step.error);
        step.objectStore("queue").delete(record.number);
        const { uuid, made } = record;
        step.objectStore("sent").put({ uuid, made, at, words });
      });
    },
    sent: () => ask("sent", "readonly", (sent) => sent.getAll()),
    forget: (uuids) =>
      within("sent", "readwrite", function (sent) {
        for (const uuid of uuids) {
          sent.delete(uuid);
        }
      }),

    fact: (name) => ask("facts", "readonly", (facts) => facts.get(name)),
    know: (name, value) => ask("facts", "readwrite", (facts) => facts.put(value, name)),

    // Whether a record stays until somebody has looked at it.
    held: (record) => record.state === "asked" || record.state === "refused",

    // Whether one record may hang on another: they are of one stack, or one names the other's in
    // its words. Of lots it is the stack that counts.
    touches: function (one, other) {
      const plain = (text) => ` ${text.toLowerCase().replace(/[^\p{L}\p{N}]+/gu, " ").trim()} `;
      const names = (each) => each.stacks.map((name) => plain(name.split("/")[0]));
      const words = (each) => (each.form === "words" ? plain(each.told) : "");
      const [some, others] = [names(one), names(other)];
      if ([...one.stacks, ...other.stacks].includes("*")) {
        return some.length > 0 && others.length > 0;
      }
      return (
        some.some((name) => others.includes(name) || words(other).includes(name)) ||
        others.some((name) => words(one).includes(name))
      );
    },
  };
})();
