// The first page at the table: kept for when there is no signal, with what still waits to be sent.

import { outbox } from "./outbox.js";
import { keepPages, sayLasting, showSignal } from "./phone.js";

const signal = document.getElementById("signal");
outbox.listen("*", (news) => {
  if (news.kind === "state") showSignal(signal, news, outbox);
});
outbox.tell();
outbox.lasting.then(sayLasting);
const pages = [...document.querySelectorAll("#sheets nav a")].map((link) => link.pathname + link.search);
keepPages(pages.slice(0, 24), outbox);
