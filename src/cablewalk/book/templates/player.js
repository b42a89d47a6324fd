"use strict";
(() => {
  const root = document.documentElement;
  const byId = (id) => document.getElementById(id);
  const film = JSON.parse(byId("film").textContent);
  const scenes = [...document.querySelectorAll("#beside > .scene")];
  const stage = byId("stage"), picture = byId("picture"), beside = byId("beside");
  const map = picture.querySelector("svg");
  const last = scenes.length - 1;
  const WAIT_MS = 3500;
  root.classList.add("js");

  /* ---- on a phone a row of a wide table is a list: each cell knows the name of its column ---- */
  for (const table of document.querySelectorAll(".scroll > table")) {
    const names = [...table.querySelectorAll("thead th")].map((th) => th.textContent.trim());
    for (const row of table.tBodies[0].rows) {
      [...row.cells].forEach((cell, n) => {
        // The words of a cell stay in one piece: a grid would set each of them apart.
        if (cell.colSpan > 1 || !names[n]) return;
        const inner = document.createElement("span");
        inner.append(...cell.childNodes);
        cell.append(inner);
        cell.dataset.h = names[n];
      });
    }
  }

  /* ---- the picture: what each piece wears, frame by frame ---- */
  const piecesOf = (svg) => [...svg.querySelectorAll("[data-n]")].map((group) => ({
    group,
    kind: group.classList[0],
    bold: group.classList.contains("bold") ? " bold" : "",
    title: group.querySelector("title"),
    texts: [...group.querySelectorAll("text")],
  }));
  const dress = (piece, number) => {
    const [looks, tells, ...lines] = film.wears[number];
    piece.group.setAttribute("class", piece.kind + looks.split(" ").map((l) => " l-" + l).join("") + piece.bold);
    piece.title.textContent = tells;
    piece.texts.forEach((text, n) => { text.textContent = lines[n] || " "; });
  };
  const worn = (frame) => {
    const now = new Array(pieces.length).fill(0);
    for (let n = 0; n <= frame; n += 1) {
      const row = film.frames[n];
      for (let k = 0; k < row.length; k += 2) now[row[k]] = row[k + 1];
    }
    return now;
  };
  const pieces = piecesOf(map);
  let shown = worn(0);
  let at = 0;

  /* ---- going from step to step ---- */
  const jump = byId("jump"), slide = byId("slide"), status = byId("status");
  const nameOf = (n) => (n === 0 || n === last ? "@" : "") + scenes[n].dataset.name;
  const find = (name) => {
    const step = scenes.findIndex((s, n) => n > 0 && n < last && s.dataset.name === name);
    if (step >= 0) return step;
    return name === "before" || name === "@before" ? 0 : name === "after" || name === "@after" ? last : -1;
  };
  const astray = byId("astray");
  let nowWords = "";
  const go = (frame, keepAddress) => {
    astray.hidden = true;
    const target = Math.max(0, Math.min(last, frame));
    const next = worn(target);
    next.forEach((number, n) => { if (number !== shown[n]) dress(pieces[n], number); });
    shown = next;
    scenes[at].classList.remove("on");
    at = target;
    scenes[at].classList.add("on");
    beside.scrollTop = 0;
    jump.value = slide.value = String(at);
    const title = scenes[at].querySelector("h3").textContent;
    const when = scenes[at].querySelector(".when .pet");
    const words = `${title}${when ? ", " + when.textContent : ""}`;
    nowWords = words;
    slide.setAttribute("aria-valuetext", words);
    byId("film-title").textContent = `Configuration: ${words}`;
    status.textContent = `${at} of ${last}. ${words}`;
    for (const id of ["b-first", "b-back"]) byId(id).setAttribute("aria-disabled", String(at === 0));
    for (const id of ["b-next", "b-last"]) byId(id).setAttribute("aria-disabled", String(at === last));
    document.querySelectorAll('.lane a[aria-current]').forEach((a) => a.removeAttribute("aria-current"));
    document.querySelectorAll('.lane a').forEach((a) => {
      if (decodeURIComponent(a.hash) === "#step=" + scenes[at].dataset.name) a.setAttribute("aria-current", "step");
    });
    if (!keepAddress) history.replaceState(null, "", "#step=" + encodeURIComponent(nameOf(at)));
  };
  const follow = (isLink) => {
    let hash = location.hash;
    try { hash = decodeURIComponent(hash); } catch { return false; }
    if (!hash.startsWith("#step=")) return false;
    const frame = find(hash.slice(6));
    if (frame < 0) {
      astray.textContent = `There is no step ${hash.slice(6)} in this book. Shown is: ${nowWords}.`;
      astray.hidden = false;
    } else go(frame, true);
    stage.scrollIntoView({ block: "start" });
    if (isLink) stage.focus({ preventScroll: true });
    return true;
  };
  window.addEventListener("hashchange", () => { pause(); follow(true); });

  /* ---- playing ---- */
  let timer = 0;
  const play = byId("b-play");
  const pause = () => {
    clearInterval(timer);
    timer = 0;
    play.textContent = "Play";
    play.setAttribute("aria-pressed", "false");
  };
  const toggle = () => {
    if (timer) return pause();
    if (at === last) go(0);
    play.textContent = "Pause";
    play.setAttribute("aria-pressed", "true");
    timer = setInterval(() => { go(at + 1); if (at === last) pause(); }, WAIT_MS);
    return undefined;
  };
  const move = (frame) => { pause(); go(frame); };
  play.addEventListener("click", toggle);
  byId("b-first").addEventListener("click", () => move(0));
  byId("b-back").addEventListener("click", () => move(at - 1));
  byId("b-next").addEventListener("click", () => move(at + 1));
  byId("b-last").addEventListener("click", () => move(last));
  jump.addEventListener("change", () => move(Number(jump.value)));
  slide.addEventListener("input", () => move(Number(slide.value)));

  /* ---- zoom and pan ---- */
  const whole = map.getAttribute("viewBox").split(" ").map(Number);
  let view = whole.slice();
  const look = (next) => {
    const width = Math.min(whole[2], Math.max(whole[2] / 12, next[2]));
    const height = width * whole[3] / whole[2];
    const x = Math.min(whole[0] + whole[2] - width, Math.max(whole[0], next[0]));
    const y = Math.min(whole[1] + whole[3] - height, Math.max(whole[1], next[1]));
    view = [x, y, width, height];
    map.setAttribute("viewBox", view.map((v) => v.toFixed(2)).join(" "));
    map.classList.toggle("near", width < whole[2] * 0.999);
  };
  const zoom = (factor, fx = 0.5, fy = 0.5) =>
    look([view[0] + view[2] * fx * (1 - factor), view[1] + view[3] * fy * (1 - factor), view[2] * factor, 0]);
  const pan = (dx, dy) => {
    // On a narrow screen the whole picture is wider than its frame: that moves too.
    picture.scrollLeft += dx * picture.clientWidth;
    look([view[0] + dx * view[2], view[1] + dy * view[3], view[2], 0]);
  };
  byId("b-in").addEventListener("click", () => zoom(0.7));
  byId("b-out").addEventListener("click", () => zoom(1 / 0.7));
  byId("b-fit").addEventListener("click", () => look(whole));
  picture.addEventListener("wheel", (event) => {
    if (!event.ctrlKey) return;
    event.preventDefault();
    const box = map.getBoundingClientRect();
    zoom(event.deltaY > 0 ? 1.15 : 1 / 1.15, (event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height);
  }, { passive: false });
  let held = null;
  map.addEventListener("pointerdown", (event) => {
    if (!map.classList.contains("near")) return;
    held = [event.clientX, event.clientY];
    map.setPointerCapture(event.pointerId);
  });
  map.addEventListener("pointermove", (event) => {
    if (!held) return;
    const box = map.getBoundingClientRect();
    pan((held[0] - event.clientX) / box.width, (held[1] - event.clientY) / box.height);
    held = [event.clientX, event.clientY];
  });
  for (const name of ["pointerup", "pointercancel"]) map.addEventListener(name, () => { held = null; });

  /* ---- showing it large ---- */
  const presents = byId("b-present");
  const present = (on) => {
    root.classList.toggle("present", on);
    presents.setAttribute("aria-pressed", String(on));
    if (on && root.requestFullscreen) root.requestFullscreen().catch(() => {});
    if (!on && document.fullscreenElement) document.exitFullscreen().catch(() => {});
  };
  presents.addEventListener("click", () => present(!root.classList.contains("present")));
  document.addEventListener("fullscreenchange", () => { if (!document.fullscreenElement) present(false); });

  /* ---- keys: where the player has the focus, or nothing has and the player fills the window ---- */
  const listens = (target) => {
    if (target.closest("input, select, textarea, summary")) return false;
    if (stage.contains(target)) return true;
    if (target !== document.body && target !== root) return false;
    const box = stage.getBoundingClientRect();
    return box.top < innerHeight / 2 && box.bottom > innerHeight / 2;
  };
  document.addEventListener("keydown", (event) => {
    if (event.altKey || event.ctrlKey || event.metaKey || !listens(event.target)) return;
    const acts = event.shiftKey && event.key.startsWith("Arrow")
      ? { ArrowLeft: () => pan(-0.15, 0), ArrowRight: () => pan(0.15, 0), ArrowUp: () => pan(0, -0.15), ArrowDown: () => pan(0, 0.15) }
      : {
        ArrowLeft: () => move(at - 1), ArrowRight: () => move(at + 1),
        Home: () => move(0), End: () => move(last),
        "+": () => zoom(0.7), "-": () => zoom(1 / 0.7), 0: () => look(whole),
      };
    // Space on a button presses that button.
    if (event.key === " " && !event.target.closest("button, a")) acts[" "] = toggle;
    if (event.key === "Escape" && root.classList.contains("present")) acts.Escape = () => present(false);
    const act = acts[event.key];
    if (!act) return;
    event.preventDefault();
    act();
  });

  /* ---- on paper: each chosen step with its own picture ---- */
  const printWhat = byId("print-what");
  let opened = [];
  const lay = () => {
    if (root.classList.contains("printing")) return;
    pause();
    root.classList.add("printing");
    root.classList.toggle("print-this", printWhat.value === "this");
    opened = [...document.querySelectorAll("details[data-print]:not([open])")];
    opened.forEach((each) => { each.open = true; });
    const chosen = (scene, n) => printWhat.value === "all" || (printWhat.value === "this" ? n === at : "matters" in scene.dataset);
    scenes.forEach((scene, n) => {
      if (!chosen(scene, n)) return;
      scene.classList.add("printed");
      const copy = map.cloneNode(true);
      copy.setAttribute("viewBox", whole.join(" "));
      copy.removeAttribute("aria-labelledby");
      copy.querySelectorAll("[id]").forEach((each) => each.removeAttribute("id"));
      const now = worn(n);
      piecesOf(copy).forEach((piece, k) => { if (now[k] !== shown[k]) dress(piece, now[k]); });
      scene.querySelector("header").after(copy);
    });
  };
  const clear = () => {
    root.classList.remove("printing", "print-this");
    opened.forEach((each) => { each.open = false; });
    scenes.forEach((scene) => {
      scene.classList.remove("printed");
      scene.querySelectorAll(":scope > svg").forEach((svg) => svg.remove());
    });
  };
  window.addEventListener("beforeprint", lay);
  window.addEventListener("afterprint", clear);
  byId("b-print").addEventListener("click", () => window.print());

  go(0, true);
  // The browser goes to the step's own words once more as it ends loading, past the buttons.
  if (follow(false)) window.addEventListener("load", () => requestAnimationFrame(() => stage.scrollIntoView({ block: "start" })));
})();
