// Charts load where a reader has come to; once the page is there the others follow one by one, so that paper has them all.

addEventListener("load", async () => {
  for (const chart of document.querySelectorAll(".chart img[loading=lazy]")) {
    chart.loading = "eager";
    await chart.decode().catch(() => {});
  }
});
