// Served in place of the service worker where it is switched off: takes itself
// and the copies away. Entries that were not sent yet stay.
addEventListener("install", () => skipWaiting());
addEventListener("activate", (event) => event.waitUntil(leave()));

async function leave() {
  for (const name of await caches.keys()) await caches.delete(name);
  await registration.unregister();
}
