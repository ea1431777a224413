// Has the service worker keep this version of the app, so that it opens without a network, and hears of a newer one.
"use strict";

const offline = (() => {
  const container = navigator.serviceWorker;
  let newer, registration;

  const begin = async (told) => {
    // What has no manifest is no site: the app as one file is kept already.
    if (!document.querySelector("link[rel=manifest]")) return;
    if (!container) return told("not kept");
    registration = await container.register("service-worker.js", { updateViaCache: "none" });
    const look = () => {
      newer = registration.active && registration.waiting;
      if (newer) told("newer");
      else if (registration.active) told("kept");
      else if (registration.installing) told("being kept");
      else told("not kept");
    };
    const watch = () => registration.installing?.addEventListener("statechange", () => look());
    registration.addEventListener("updatefound", () => { watch(); look(); });
    watch();
    look();
  };

  return {
    // Asks the host for a newer version; whether there is one, undefined if the host cannot be reached.
    look: () => registration.update().then(
      ({ installing, waiting }) => Boolean(installing || waiting),
      () => undefined,
    ),

    // Tells how it stands, now and whenever that changes: "being kept", "kept", "newer" or "not kept".
    begin: (told) => begin(told).catch(() => told("not kept")),

    // Changes to the newer version by a reload, if no other tab has the app open; gives the number of tabs.
    take: () => new Promise((done) => {
      const { port1, port2 } = new MessageChannel();
      const reload = () => location.reload();
      container.addEventListener("controllerchange", reload);
      port1.onmessage = ({ data }) => {
        if (data > 1) container.removeEventListener("controllerchange", reload);
        done(data);
      };
      newer.postMessage("take over", [port2]);
    }),
  };
})();
