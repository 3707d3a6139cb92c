// Shows live how far a pack is; when it is done, the page is loaded again.

const box = document.getElementById("progress");

const look = async () => {
  const answer = await fetch(box.dataset.url, { headers: { accept: "application/json" } });
  if (!answer.ok) return;
  const told = await answer.json();
  if (!told.running) {
    location.reload();
    return;
  }
  const bar = box.querySelector("progress");
  bar.value = told.share;
  bar.textContent = `${told.share} %`;
  document.getElementById("what").textContent = told.what;
  setTimeout(look, 500);
};

if (box?.dataset.running === "yes") look();
