// Charts load where a reader has come to, so that the first view is light. Whoever goes on, or prints, gets the others too,
// one by one: paper has them all.

const SIGNS = ["scroll", "keydown", "beforeprint"];

async function bringAll() {
  for (const sign of SIGNS) removeEventListener(sign, bringAll);
  for (const chart of document.querySelectorAll(".chart img[loading=lazy]")) {
    chart.loading = "eager";
    await chart.decode().catch(() => {});
  }
}

for (const sign of SIGNS) addEventListener(sign, bringAll, { passive: true });
